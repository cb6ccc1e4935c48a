"""Shocks as fitted: the dyno's points as the engine's two curves, gas force taken out."""

import numpy as np

from studbook.wire.answers import Missing
from studbook_service.engine.curves import curve
from studbook_service.engine.dampers import ShockCurves, gas_force, shock
from studbook_service.engine.vectors import Array
from studbook_service.translate.document import Document

CURVE = "curve_in_per_s_lb"


def fitted_shock(page: Document, root: str, *, subject: str) -> ShockCurves | Missing:
    """Read a shock's curves.

    Args:
        page: the document; assumptions are noted in it.
        root: path of the shock, such as `setup.front.rf.shock`.
        subject: what the curves are for.

    Returns:
        The shock; or the curves it lacks, or why they are none: not single-valued, or a force of the wrong sign.
    """
    paths = [f"{root}.{way}.{CURVE}" for way in ("compression", "rebound")]
    points = [page.get(path) for path in paths]
    if None in points:
        return Missing(subject=subject, fields=[path for path in paths if page.get(path) is None])
    try:
        (speed, inward), (back_speed, outward) = (np.asarray(each, float).reshape(-1, 2).T for each in points)
        if np.all(outward <= 0):
            outward = -outward  # written with the shaft's direction as its sign
        out_of_curve = _gas_in_curve(page, root)
        inward, outward = inward - out_of_curve, outward + out_of_curve
        if not np.array_equal(speed, back_speed):
            speed, inward, outward = _shared(page, root, (speed, inward), (back_speed, outward))
        return shock(speed_in_per_s=speed, compression_lb=inward, rebound_lb=outward)
    except ValueError as error:
        return Missing(subject=subject, fields=paths, why=str(error))


def gas_push(page: Document, root: str) -> float | None:
    """Give the force with which a shock's gas pushes its shaft out, lb, or None where pressure or rod is not known."""
    pressure, rod = page.get(f"{root}.gas_psi"), page.get(f"{root}.rod_diameter_in")
    if pressure is None or rod is None:
        return None
    return float(gas_force(pressure_psi=pressure, rod_diameter_in=rod))


def _gas_in_curve(page: Document, root: str) -> float:
    """Say how much gas force the curve still holds: it helps rebound and resists compression."""
    held = page.get(f"{root}.gas_force_in_curve")
    if held is None:
        page.assume(f"{root}: gas force is taken to be out of the curve; {root}.gas_force_in_curve is not recorded")
    if not held:
        return 0.0
    push = gas_push(page, root)
    if push is None:
        page.assume(f"{root}: the curve still holds the gas force; gas_psi or rod_diameter_in is not recorded")
    return push or 0.0


def _shared(
    page: Document, root: str, inward: tuple[Array, Array], outward: tuple[Array, Array]
) -> tuple[Array, Array, Array]:
    """Put two curves read at different speeds on the speeds of both, where both were measured."""
    page.assume(f"{root}: compression and rebound were read at different speeds; they are told where both were")
    both = [curve(x=x, y=y, x_name="speed_in_per_s", y_name="force_lb") for x, y in (inward, outward)]
    speeds = np.union1d(inward[0], outward[0])
    low, high = (end(float(each[0][where]) for each in (inward, outward)) for end, where in ((max, 0), (min, -1)))
    speeds = speeds[(speeds >= low) & (speeds <= high)]
    return speeds, both[0](speeds), both[1](speeds)
