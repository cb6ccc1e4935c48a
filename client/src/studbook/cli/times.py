"""`studbook times`: what each kind of job takes, and the team's own figures over it."""

from studbook.cli.environment import open_book
from studbook.cli.options import Json, Note, Remove
from studbook.cli.printing import bullets, print_answer, table
from studbook.cli.rules import put
from studbook.wire.work import JobTable


def times(*changes: str, remove: Remove = None, note: Note = "", json: Json = False) -> None:
    """Show what each kind of job takes, or set the team's own minutes, people and prices over the defaults.

    Changes: upper_stud.time_min=18 upper_stud.people=2 gear.price_usd=12; back to the default: --remove gear.price_usd
    """
    if changes or remove:
        words, gone = ([f"jobs.{each}" for each in paths] for paths in (changes, remove or ()))
        put("shop_times", "times", words, remove=gone, note=note, json=json)
        return
    with open_book() as book:
        found = book.jobs()
    print_answer(found, _page, json=json)


def _page(found: JobTable) -> list[str]:
    rows = [
        (
            each.kind,
            each.title,
            f"{each.time_min:g}",
            str(each.people),
            f"{each.price_usd:g}" if each.price_usd else "",
            "own" if each.own else "",
            {"pits": "", "between_days": "between days", "shop": "shop"}[each.when],
        )
        for each in found.items
    ]
    page = table(("kind", "job", "min", "crew", "usd", "", ""), rows, right=frozenset({2, 3, 4}))
    return page + bullets("Assumptions", [found.about])
