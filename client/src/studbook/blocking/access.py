"""Who may, through the blocking client: members, tokens, shares, protection, and the record of changes to them."""

import datetime as dt
from collections.abc import Iterator

from studbook.blocking.transport import Transport
from studbook.core import granting, operations
from studbook.core.references import sheet_name
from studbook.wire.access import AuditLine, Me, Member, Members, Protection, Role, Share, ShareMade, Token, TokenMade


class Access(Transport):
    """Who may see and change what; most of it is a chief's, at the book's home."""

    def me(self) -> Me:
        """Tell who holds the token and what it allows; for a share, what is shared and until when."""
        return self._do(operations.me())

    def members(self) -> Members:
        """List the team's members, and the peer where they are kept if that is not this one."""
        return self._do(operations.members())

    def add_member(self, name: str, *, role: Role = "crew", id: str | None = None) -> Member:  # noqa: A002 - the book's own word
        """Add a member.

        Args:
            name: what the crew calls them.
            role: `viewer`, `crew`, `chief`, or `node` for a laptop.
            id: only for one whose entries carry it already, or for a laptop; else one is made.

        Raises:
            ExistsError: there is a member by that id.
            NotHomeError: members are kept at another node.
        """
        return self._do(operations.add_member(granting.new_member(name, role=role, id=id)))

    def change_member(
        self,
        id: str,  # noqa: A002 - the book's own word
        *,
        name: str | None = None,
        role: Role | None = None,
        ended: bool | None = None,
    ) -> Member:
        """Change what is given about a member; the rest stays.

        Args:
            id: the member.
            name: what the crew calls them from now on.
            role: what they may from now on; it holds for the tokens they have.
            ended: they left; their tokens end with it.

        Raises:
            LastChiefError: the team would be left without a chief.
        """
        return self._do(operations.change_member(id, granting.member_change(name=name, role=role, ended=ended)))

    def tokens(self) -> list[Token]:
        """List the team's tokens, the newest first; without being chief, one's own."""
        return self._do(operations.tokens()).items

    def make_token(
        self,
        member: str | None = None,
        *,
        label: str,
        role: Role | None = None,
        days: int | None = None,
        protected: bool = False,
        introduces: bool = False,
    ) -> TokenMade:
        """Make a token. It is shown this once; a lost answer loses it.

        Args:
            member: whose; the asker's own if not given.
            label: what it is called in lists.
            role: what it allows at most; the member's role if not given.
            days: how long it opens the book; until it is ended if not given.
            protected: a laptop's: it may bring revisions on protected sheets.
            introduces: a laptop's: it may bring entries by authors the team never had.
        """
        asked = granting.new_token(
            member, label=label, role=role, days=days, protected=protected, introduces=introduces
        )
        return self._do(operations.make_token(asked))

    def end_token(self, id: str) -> Token:  # noqa: A002 - the book's own word
        """End a token by its id, the first 12 digits of its SHA-256."""
        return self._do(operations.end_token(id))

    def shares(self) -> list[Share]:
        """List what is shared with other teams, the newest first."""
        return self._do(operations.shares()).items

    def make_share(self, shared: str, *, label: str, until: dt.datetime) -> ShareMade:
        """Let another team read one car or sheet. The token is shown this once; a lost answer loses it.

        Args:
            shared: `CAR`, with its sheets, or `CAR/SHEET`.
            label: for whom.
            until: when it ends, with an offset; at most two years ahead.
        """
        return self._do(operations.make_share(granting.new_share(shared, label=label, until=until)))

    def end_share(self, id: str) -> Share:  # noqa: A002 - the book's own word
        """End a share before its date."""
        return self._do(operations.end_share(id))

    def protect(self, sheet: str) -> Protection:
        """Let only a chief record on a sheet (`CAR/SHEET`)."""
        return self._do(operations.protect(sheet_name(sheet)))

    def unprotect(self, sheet: str) -> Protection:
        """Let the crew record on a sheet (`CAR/SHEET`) again."""
        return self._do(operations.unprotect(sheet_name(sheet)))

    def audit(self, *, after: int = 0, page: int = 200) -> Iterator[AuditLine]:
        """Walk the record of changes to who may what, oldest first; pages are fetched as the walk goes on.

        Args:
            after: number of the last line known already.
            page: lines asked for at a time, 1 to 500.
        """
        while True:
            found = self._do(operations.audit(after=after, limit=page))
            yield from found.items
            if not found.next:
                return
            after = found.next
