"""`studbook search studs REF CORNER` and `studbook search carry-over FROM TO`."""

import re
from dataclasses import dataclass
from typing import Annotated, Any, Final, Literal

from cyclopts import App, Parameter
from msgspec import UNSET

from studbook.cli.endings import CommandFailedError
from studbook.cli.environment import open_book
from studbook.cli.options import Json, Ref
from studbook.cli.printing import print_answer
from studbook.cli.search_page import carry_over_page, stud_page
from studbook.wire.searches import CamberWanted, LikenessWanted, StudStock

search: Final = App(name="search", help="Search for the parts that come closest to what is wanted.")

_STUD: Final = re.compile(r"(upper|lower|either):([0-9]*\.?[0-9]+)(?:x([0-9]+))?")
_PAIR: Final = re.compile(r"([-+]?[0-9]*\.?[0-9]+):([-+]?[0-9]*\.?[0-9]+)")


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class AtHand:
    """What may be put in: options that both searches share."""

    stud: Annotated[
        list[str] | None,
        Parameter(negative="", help="In the trailer: upper:1.7, lower:1.85x2, either:1.5; may be repeated."),
    ] = None
    from_trailer: Annotated[bool, Parameter(negative="", help="Also studs of the book that are in the trailer.")] = (
        False
    )
    from_shelf: Annotated[
        bool, Parameter(negative="", help="Also studs of the book in the trailer or on the shelf.")
    ] = False
    shims: Annotated[float, Parameter(help="How far camber and caster adjusters may move, in.")] = 0.25
    spacers: Annotated[float, Parameter(help="How far the bump steer adjuster may move, in.")] = 0.25
    keep: Annotated[int, Parameter(help="How many of the best to show.")] = 6

    def terms(self) -> dict[str, Any]:
        """Spell it as members of a request."""
        return {
            "inventory": "anywhere" if self.from_shelf else "trailer" if self.from_trailer else "listed",
            "studs": [_stud(word) for word in self.stud or ()],
            "shims_within_in": self.shims,
            "spacers_within_in": self.spacers,
            "keep_count": self.keep,
        }


_PLAIN: Final = AtHand()


@search.command(name="studs")
def search_studs(
    ref: Ref,
    corner: Literal["lf", "rf"],
    /,
    *,
    camber: Annotated[
        list[str],
        Parameter(
            negative="",
            allow_leading_hyphen=True,
            help="Wanted, as TRAVEL:CAMBER, in from where the wheel stands and deg; may be repeated.",
        ),
    ],
    roll_center: Annotated[
        str | None, Parameter(allow_leading_hyphen=True, help="Window for its height, as LOW:HIGH, in.")
    ] = None,
    bump_steer: Annotated[float | None, Parameter(help="Most bump steer either way, deg per in.")] = None,
    caster: Annotated[float, Parameter(help="Caster stays this near to where it is, deg.")] = 0.5,
    at_hand: AtHand = _PLAIN,
    json: Json = False,
) -> None:
    """Tell which studs, shims, spacers and rod length at a corner come closest to a camber curve."""
    wanted = CamberWanted(
        corner=corner,
        camber_target=[_pair(word, "--camber") for word in camber],
        roll_center_in=UNSET if roll_center is None else _pair(roll_center, "--roll-center"),
        bump_steer_most_deg_per_in=UNSET if bump_steer is None else bump_steer,
        caster_within_deg=caster,
        **at_hand.terms(),
    )
    with open_book() as book:
        answer = book.search_studs(ref, wanted)
    print_answer(answer, stud_page, json=json)


@search.command(name="carry-over")
def search_carry_over(
    source: Annotated[str, Parameter(help="The car to be like: CAR/SHEET, or an id.")],
    ref: Annotated[str, Parameter(help="The car to change: CAR/SHEET, or an id.")],
    /,
    *,
    at_hand: AtHand = _PLAIN,
    json: Json = False,
) -> None:
    """Tell by which parts of its own a car reads at the front like another: outcomes are matched, not parts."""
    with open_book() as book:
        answer = book.search_carry_over(source, ref, LikenessWanted(**at_hand.terms()))
    print_answer(answer, carry_over_page, json=json)


def _stud(word: str) -> StudStock:
    form = _STUD.fullmatch(word)
    if form is None:
        raise CommandFailedError(f"--stud {word}: write upper:1.7, lower:1.85x2 or either:1.5")
    joint: Any = form[1]
    return StudStock(joint=joint, length_in=float(form[2]), count=int(form[3] or 1))


def _pair(word: str, option: str) -> tuple[float, float]:
    form = _PAIR.fullmatch(word)
    if form is None:
        raise CommandFailedError(f"{option} {word}: write two numbers with a colon between, such as -2:-1.5")
    return float(form[1]), float(form[2])
