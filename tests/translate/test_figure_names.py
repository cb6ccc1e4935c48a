"""Figures copied by name from the engine to an answer: both sides have each name. No tool follows a string."""

import ast
import pkgutil
from collections.abc import Iterator
from importlib import import_module
from inspect import getsource
from types import ModuleType

import msgspec
import pytest

from studbook.wire.answers import FrontState, TravelCurve
from studbook.wire.joints import WheelForces
from studbook_service import engine, translate
from studbook_service.engine.wheel import WheelAlignment
from studbook_service.translate.states import CURVE

Copied = tuple[type[msgspec.Struct], tuple[str, ...]]


def modules(package: ModuleType) -> list[ModuleType]:
    return [import_module(f"{package.__name__}.{each.name}") for each in pkgutil.iter_modules(package.__path__)]


def copied(module: ModuleType) -> Iterator[Copied]:
    """Each `Struct(..., **figures(source, names, ...))` of a module: the Struct, and the names."""
    for call in ast.walk(ast.parse(getsource(module))):
        if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Name)):
            continue
        for given in (each.value for each in call.keywords if each.arg is None):
            if isinstance(given, ast.Call) and isinstance(given.func, ast.Name) and given.func.id == "figures":
                names = eval(compile(ast.Expression(given.args[1]), module.__name__, "eval"), vars(module))  # noqa: S307 - our constants
                yield vars(module)[call.func.id], tuple(names)


COPIED = [pytest.param(*each, id=each[0].__name__) for module in modules(translate) for each in copied(module)]
COMPUTED = {
    name
    for module in modules(engine)
    for kind in vars(module).values()
    if isinstance(kind, type) and kind.__module__ == module.__name__
    for name in (*dir(kind), *getattr(kind, "__dataclass_fields__", ()))
}
"""What anything of the engine has by name."""


def test_all_of_them_are_found() -> None:
    uses = sum(getsource(module).count("**figures(") for module in modules(translate))
    assert uses == len(COPIED) > 10


@pytest.mark.parametrize(("answer", "names"), COPIED)
def test_the_answer_has_the_field_and_the_engine_the_figure(
    answer: type[msgspec.Struct], names: tuple[str, ...]
) -> None:
    assert set(names) <= set(answer.__struct_fields__)
    assert set(names) <= COMPUTED.union(WheelForces.__struct_fields__)  # forces are given, and copied


def test_a_wheels_columns_are_figures_of_a_wheel() -> None:
    assert set(CURVE) <= set(TravelCurve.__struct_fields__)
    assert {*CURVE, "kingpin_deg"} <= set(FrontState.__struct_fields__)
    assert {*CURVE, "kingpin_deg"} <= set(WheelAlignment.__dataclass_fields__)
