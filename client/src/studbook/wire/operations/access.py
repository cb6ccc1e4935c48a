"""Access: members, tokens, shares, protection, and the record of every change to them."""

from typing import Final

from studbook.wire.access import (
    Audit,
    AuditPage,
    Me,
    Member,
    MemberChange,
    Members,
    NewMember,
    NewShare,
    NewToken,
    Protection,
    Share,
    ShareMade,
    Shares,
    Token,
    TokenMade,
    Tokens,
)
from studbook.wire.operations.row import DECIDING, EVERYBODY, MEMBERS, Operation, reading

_PROTECTION: Final = "/v1/cars/{car}/sheets/{sheet}/protection"
_DECIDED: Final = ("bad_reference", "not_found", "not_home")

READ_ME: Final = reading(
    "read_me",
    "/v1/me",
    roles=EVERYBODY,
    answer=Me,
    about="Say who holds the token; of a share, what it shows and until when",
)

LIST_MEMBERS: Final = reading(
    "list_members",
    "/v1/members",
    roles=DECIDING,
    answer=Members,
    about="List the team's members, those who left too, and the node where they are kept if it is another",
)

ADD_MEMBER: Final = Operation(
    name="add_member",
    method="POST",
    path="/v1/members",
    about="Add a member. Their id says nothing about them; one is made unless given",
    roles=DECIDING,
    answer=Member,
    body=NewMember,
    example={"name": "Robin", "role": "crew"},
    statuses=(201,),
    problems=("exists", "not_home"),
)

CHANGE_MEMBER: Final = Operation(
    name="change_member",
    method="PATCH",
    path="/v1/members/{member}",
    about="Change a member's name or role, or end their membership, and with it their tokens. A team keeps a chief",
    roles=DECIDING,
    answer=Member,
    body=MemberChange,
    example={"role": "chief"},
    problems=("not_found", "last_chief", "not_home", "erased"),
)

LIST_TOKENS: Final = reading(
    "list_tokens",
    "/v1/tokens",
    roles=MEMBERS,
    answer=Tokens,
    about="List tokens, the newest first: all of the team for a chief, else one's own",
)

MAKE_TOKEN: Final = Operation(
    name="make_token",
    method="POST",
    path="/v1/tokens",
    about="Make a token, shown this once. It allows the lesser of its role and its member's",
    roles=DECIDING,
    answer=TokenMade,
    body=NewToken,
    example={"label": "the laptop in the trailer", "days": 365},
    statuses=(201,),
    problems=("not_found", "not_home"),
)

END_TOKEN: Final = Operation(
    name="end_token",
    method="DELETE",
    path="/v1/tokens/{token}",
    about="End a token: one's own, or as a chief anybody's. It opens nothing a second later",
    roles=MEMBERS,
    answer=Token,
    problems=("not_found",),
)

LIST_SHARES: Final = reading(
    "list_shares",
    "/v1/shares",
    roles=DECIDING,
    answer=Shares,
    about="List what is shared with other teams, the newest first",
)

MAKE_SHARE: Final = Operation(
    name="make_share",
    method="POST",
    path="/v1/shares",
    about="Let another team read one car or one sheet until a date. The token is shown this once",
    roles=DECIDING,
    answer=ShareMade,
    body=NewShare,
    example={"car": "7", "sheet": "baseline", "label": "Lee's crew", "until": "2027-11-01T00:00:00Z"},
    statuses=(201,),
    problems=_DECIDED,
)

END_SHARE: Final = Operation(
    name="end_share",
    method="DELETE",
    path="/v1/shares/{share}",
    about="End a share before its date. It shows nothing a second later",
    roles=DECIDING,
    answer=Share,
    problems=("not_found", "not_home"),
)

PROTECT_SHEET: Final = Operation(
    name="protect_sheet",
    method="PUT",
    path=_PROTECTION,
    about="Let only a chief record on a sheet",
    roles=DECIDING,
    answer=Protection,
    problems=_DECIDED,
)

UNPROTECT_SHEET: Final = Operation(
    name="unprotect_sheet",
    method="DELETE",
    path=_PROTECTION,
    about="Let the crew record on a sheet again",
    roles=DECIDING,
    answer=Protection,
    problems=_DECIDED,
)

READ_AUDIT: Final = reading(
    "read_audit",
    "/v1/audit",
    roles=DECIDING,
    answer=Audit,
    query=AuditPage,
    about="Read a page of the record of every change of access, oldest first; each line is chained to the one before",
)
