"""Who may see and change what: members, tokens, shares, protection, and the record of every change to them."""

import datetime as dt
from typing import Annotated, Any, Literal

from msgspec import UNSET, Meta

from studbook.wire.entries import PAGE_LENGTH, Answer, Request, Slug
from studbook.wire.units import Opt, within

Role = Literal["viewer", "crew", "chief", "node"]
Words = Annotated[
    str,
    # The last group is the end of the text: $ would let a line break pass.
    Meta(
        pattern=r"^[^\s\x00-\x1f\x7f]([^\x00-\x1f\x7f]*[^\s\x00-\x1f\x7f])?(?![\s\S])",
        max_length=80,
        description="one line of 1 to 80 characters, without space around it",
    ),
]
Days = Annotated[int, within("days", 1, 3650, "how long it opens the book")]
Until = Annotated[dt.datetime, Meta(tz=True, description="a timestamp with its offset, at most two years ahead")]


class Member(Answer):
    """A member of the team.

    Attributes:
        id: what entries carry as author; says nothing about the person.
        name: what the crew calls them; empty once it was erased.
        role: `viewer` reads, `crew` records, `chief` also decides who may; `node` is a laptop that exchanges.
        ended: whether they left; their tokens are dead then.
        erased: whether their name was erased.
    """

    id: str
    name: str
    role: Role
    ended: bool = False
    erased: bool = False


class Members(Answer):
    """All members, by id.

    Attributes:
        home: the peer where members are kept, when that is not here.
    """

    items: list[Member]
    home: Opt[str] = UNSET


class NewMember(Request):
    """Somebody who joins the team.

    Attributes:
        id: only for one whose entries carry it already, or for a laptop; else one is made.
    """

    name: Words
    role: Role = "crew"
    id: Opt[Slug] = UNSET


class MemberChange(Request):
    """What changes about a member; left-out members stay."""

    name: Opt[Words] = UNSET
    role: Opt[Role] = UNSET
    ended: Opt[bool] = UNSET


class Token(Answer):
    """What is known of a token; never the token.

    Attributes:
        id: the first 12 digits of its SHA-256.
        role: what it allows at most; a member who may less may no more with it.
        protected: a laptop's: may bring revisions on protected sheets.
        introduces: a laptop's: may bring entries by authors the team never had.
    """

    id: str
    member: str
    role: Role
    label: str
    made_at: dt.datetime
    expires_at: Opt[dt.datetime] = UNSET
    ended_at: Opt[dt.datetime] = UNSET
    protected: bool = False
    introduces: bool = False


class Tokens(Answer):
    """Tokens, the newest first: all of the team for a chief, else one's own."""

    items: list[Token]


class NewToken(Request):
    """A token to make.

    Attributes:
        label: what the member calls it.
        member: whose; the asker's own if none is given.
        role: what it allows at most; the member's if none is given.
        days: how long it opens the book; until it is ended if none is given.
        protected, introduces: as in `Token`.
    """

    label: Words
    member: Opt[Slug] = UNSET
    role: Opt[Role] = UNSET
    days: Opt[Days] = UNSET
    protected: bool = False
    introduces: bool = False


class TokenMade(Answer):
    """A new token, shown this once."""

    token: str
    about: Token

    def __repr__(self) -> str:
        return f"TokenMade(about={self.about!r})"


class Share(Answer):
    """What another team may read: one car, or one sheet of it, until a date.

    Attributes:
        label: for whom.
        made_by: member id.
        ended_at: when it was ended before its date.
    """

    id: str
    car: str
    label: str
    until: dt.datetime
    sheet: Opt[str] = UNSET
    made_by: Opt[str] = UNSET
    made_at: Opt[dt.datetime] = UNSET
    ended_at: Opt[dt.datetime] = UNSET


class Shares(Answer):
    """Shares, the newest first."""

    items: list[Share]


class NewShare(Request):
    """A share to make.

    Attributes:
        label: for whom.
        sheet: one sheet alone; the whole car if none is given.
    """

    car: Slug
    label: Words
    until: Until
    sheet: Opt[Slug] = UNSET


class ShareMade(Answer):
    """A new share with its token, shown this once."""

    token: str
    share: Share

    def __repr__(self) -> str:
        return f"ShareMade(share={self.share!r})"


class Me(Answer):
    """Who holds the token, and what it allows: `viewer`, `crew`, `chief`, `node`, or `share`.

    Attributes:
        id: the member's, or the share's.
        name: the member's, or for whom the share is.
        share: what of the book can be seen, and until when, where the token is a share's.
    """

    id: str
    name: str
    role: str
    share: Opt[Share] = UNSET


class Protection(Answer):
    """Whether only a chief may record on a sheet."""

    car: str
    sheet: str
    protected: bool


class AuditLine(Answer):
    """One change of access.

    Attributes:
        seq: its number, from 1 without gaps.
        actor: member id, or `owner` for a command run with the owner's rights.
        action: such as `token.make`.
        subject: a member, token, share or line.
        chain: SHA-256 of the line before's chain (32 zero bytes at first) and this line's canonical JSON with `action`,
            `actor`, `at` (ms UTC), `detail` and `subject`.
        detail: what else there is to say.
    """

    seq: int
    at: dt.datetime
    actor: str
    action: str
    subject: str
    chain: str
    detail: dict[str, Any] = {}


class AuditPage(Request):
    """Which page of the record of changes."""

    after: Annotated[int, Meta(ge=0, le=2**53 - 1, description="number of the last line known already")] = 0
    limit: Annotated[int, Meta(ge=1, le=500, description="most lines on the page")] = PAGE_LENGTH


class Audit(Answer):
    """A page of the record, oldest first.

    Attributes:
        next: number to ask after for the next page.
    """

    items: list[AuditLine]
    next: Opt[int] = UNSET
