"""`studbook weigh CAR LF,RF,LR,RR ...`: one session on the scales."""

from typing import Annotated

from cyclopts import Parameter

from studbook.blocking import Studbook
from studbook.cli import recording
from studbook.cli.environment import open_book
from studbook.cli.exit_codes import REFUSED, CommandFailedError, print_error
from studbook.cli.options import Json
from studbook.cli.parsing import parse_corner_weights
from studbook.cli.printing import bullets, print_json
from studbook.cli.push import report
from studbook.cli.weights import WHEELS, weights_table
from studbook.core.references import sheet_name
from studbook.history.leaves import dotted, leaves
from studbook.wire.around_scales import SessionWeights
from studbook.wire.entries import Pushed
from studbook.wire.records import Record, typed


def weigh(
    car: str,
    /,
    *words: str,
    into: Annotated[str | None, Parameter(help="Put the average into this sheet: its name, or CAR/SHEET.")] = None,
    of: Annotated[str | None, Parameter(help="The setup on the scales: CAR/SHEET or an id.")] = None,
    settled: Annotated[str, Parameter(help="How it was settled before each reading.")] = "",
    json: Json = False,
) -> None:
    """Record a scale session of two or more settled readings, and show average and spread.

    Words: readings LF,RF,LR,RR in order, and on what basis: driver_aboard=true fuel_gal=15 bar_hooked=false
    """
    readings = [parse_corner_weights(word) for word in words if "=" not in word]
    fields = recording.build_document("scale_session", [word for word in words if "=" in word])
    sheet = None if into is None else str(sheet_name(into if "/" in into else f"{car}/{into}"))
    with open_book() as book:
        session = book.weigh(
            car, readings, revision=of or sheet, basis=fields.get("basis"), settled=settled or fields.get("settled", "")
        )
        weights = book.session_weights(session.name)
        pushed = None
        if sheet is not None and not weights.unsettled:
            pushed = _put(book, sheet, session, weights)
    if json:
        print_json(weights)
    else:
        print(*session_page(session.name, weights), sep="\n")
        if pushed is not None:
            report(pushed, json=False)
    if sheet is not None and pushed is None:
        raise CommandFailedError(f"not settled: nothing was put into {sheet}", code=REFUSED)


def _put(book: Studbook, sheet: str, session: Record, weights: SessionWeights) -> Pushed:
    """Put the average into a sheet, with its basis where that is known."""
    recorded = typed(session)
    edits = {f"measured.scales.{name}_lb": getattr(weights.average, f"{name}_lb") for name in WHEELS}
    edits["measured.scales.at"] = recorded.at
    basis = (session.document or {}).get("basis") or {}
    edits |= {dotted(("measured", "basis", *path)): value for path, value in leaves(basis).items()}
    if not basis:
        print_error("the basis in the sheet stays as it was: say driver_aboard=, fuel_gal= and so on if it was another")
    return book.edit(sheet, edits, note=f"Scaled: average of {weights.count} readings, session {session.name}")


def session_page(name: str, weights: SessionWeights) -> list[str]:
    """Lay a session out: the average, and how far its readings lie apart."""
    page = weights_table(f"AVERAGE OF {weights.count}, session {name}", {"": weights.average})
    spread = ", ".join(f"{wheel.upper()} {getattr(weights.spread, f'{wheel}_lb'):g}" for wheel in WHEELS)
    page += [f"  readings apart: {spread} lb, cross {weights.cross_spread_percent:.2f} %"]
    return page + bullets("NOT SETTLED", weights.unsettled) + bullets("Assumptions", weights.assumptions)
