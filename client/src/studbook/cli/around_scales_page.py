"""A scale session, a car that came back, and the scales after the race, on pages for the crew."""

from typing import Final

from msgspec import UNSET

from studbook.cli.environment import bold
from studbook.cli.front import page_end
from studbook.cli.number_format import change, fixed
from studbook.cli.printing import bullets, table, wrapped
from studbook.cli.weights import WHEELS, weights_table
from studbook.wire.around_scales import Finding, RaceAnswer, ReturnedAnswer, SessionWeights

DIGITS: Final = {"lb": 1, "percent": 2, "deg": 2, "in": 3}


def session_page(name: str, weights: SessionWeights) -> list[str]:
    """Lay a session out: the average, and how far its readings lie apart."""
    page = weights_table(f"AVERAGE OF {weights.count}, session {name}", {"": weights.average})
    spread = ", ".join(f"{wheel.upper()} {getattr(weights.spread, f'{wheel}_lb'):g}" for wheel in WHEELS)
    page += [f"  readings apart: {spread} lb, cross {weights.cross_spread_percent:.2f} %"]
    return page + bullets("NOT SETTLED", weights.unsettled) + bullets("Taken for granted", weights.assumptions)


def returned_page(answer: ReturnedAnswer) -> list[str]:
    """Lay a check out: what is beyond tolerance first and in words, then every reading."""
    page = [bold(line) for sentence in answer.headline for line in wrapped(sentence, indent="  ", first="")]
    page += ["", f"against {answer.revision[:12]}, {answer.chosen}"]
    if answer.findings:
        header = ["", "reading", "should", "off", "may", ""]
        page += ["", *table(header, map(_row, answer.findings), right=frozenset({1, 2, 3, 4}))]
    page += bullets("Recorded since, and told in what the scales should read", answer.since)
    page += bullets("Not judged", answer.left_out)
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)


def _row(found: Finding) -> list[str]:
    digits, unit = DIGITS[found.unit], "%" if found.unit == "percent" else found.unit
    off = "-" if found.difference is UNSET else change(found.difference, digits)
    may = "-" if found.tolerance is UNSET else f"{found.tolerance:.4g} {unit}"
    return [
        found.what,
        fixed(found.read, digits),
        fixed(found.expected, digits),
        off,
        may,
        "LOOK" if found.beyond else "",
    ]


def race_page(answer: RaceAnswer) -> list[str]:
    """Lay a prediction out: the limits in words, then the weights, then what was reckoned with."""
    page = [bold(line) for sentence in answer.headline for line in wrapped(sentence, indent="  ", first="")]
    page += ["", f"by {answer.source}"]
    if answer.scaled is not UNSET and answer.after is not UNSET:
        page += ["", *weights_table("SCALES", {"now": answer.scaled, "after the race": answer.after})]
    else:
        page += ["", f"total after the race {answer.total_lb:,.0f} lb"]
    page += bullets("In between", answer.moved)
    return page + page_end(answer.missing, answer.assumptions, answer.cautions)
