"""Where a car's weight is, and how sure that is."""

import numpy as np
from msgspec import UNSET

from studbook.wire.loads import CenterOfMass
from studbook_service.engine.cg import CgHeight, cg_from_scales, cg_height, tilt_angle
from studbook_service.engine.one_sided import WHEELS
from studbook_service.engine.vectors import Array
from studbook_service.translate.bars_and_stops import END
from studbook_service.translate.document import Document
from studbook_service.translate.states import rounded

SCALE_SIGMA_LB = 2.0
"""Standard error of one pad where none is recorded (common practice, no source)."""
TILT_SIGMA_DEG, LENGTH_SIGMA_IN = 0.1, 1 / 16
"""The same of an angle and of a length."""

WEIGHED = ("raised", "raised_level_lb", "ground_level_lb", "raised_tilted_lb")


def center_of_mass(page: Document, loads_lb: Array, at_in: Array) -> CenterOfMass:
    """Tell where the weight is over the ground from the scales, and how high from a weighing or the setup.

    Args:
        page: the document; assumptions are noted in it.
        loads_lb: on the scales, (4,).
        at_in: x and y of the patches, (2, 4).
    """
    found = cg_from_scales(loads_lb=loads_lb, x_in=at_in[0], y_in=at_in[1])
    scale = _scale_sigma(page)
    middle = np.array([found.x_in, found.y_in])[:, None]
    sigma = scale * np.sqrt(((at_in - middle) ** 2).sum(axis=1)) / loads_lb.sum()
    answer = CenterOfMass(
        behind_front_in=rounded(-found.x_in),
        behind_front_sigma_in=rounded(sigma[0]),
        left_of_datum_in=rounded(found.y_in),
        left_of_datum_sigma_in=rounded(sigma[1]),
        height_from="not known",
    )
    recorded, height = page.get("setup.cg.height_in"), weighed_height(page)
    if height is not None:
        answer.height_in, answer.height_sigma_in = rounded(height.height_in), rounded(height.sigma_in)
        answer.recorded_height_in = UNSET if recorded is None else recorded
        answer.height_from = (
            f"weighed with one axle raised; of its error scales {height.scale_sigma_in:.2f},"
            f" angle {height.tilt_sigma_in:.2f}, lengths {height.length_sigma_in:.2f} in"
        )
    elif recorded is not None:
        answer.height_in = recorded
        answer.height_from = (
            f"the setup, by {(page.get('setup.cg.known_by') or 'means not recorded').replace('_', ' ')}"
        )
        sigma_in = page.get("setup.cg.height_sigma_in")
        if sigma_in is None:
            page.assume("setup.cg.height_in is told without an uncertainty: setup.cg.height_sigma_in is not recorded")
        else:
            answer.height_sigma_in = sigma_in
    return answer


def wheel_radius(page: Document, name: str) -> float:
    """Give a tire's loaded radius as fitted, else as surveyed, NaN where neither is recorded."""
    for path in (f"setup.{END[name]}.{name}.tire.loaded_radius_in", f"survey.{END[name]}.{name}.loaded_radius_in"):
        value = page.get(path)
        if value is not None:
            return float(value)
    return np.nan


def weighed_height(page: Document) -> CgHeight | None:
    """Work out the height of the weight from a weighing with one axle raised, or None where it is not recorded whole.

    Args:
        page: the document; standard errors that are not recorded are noted in it.
    """
    root = "measured.raised_weighing"
    raised, raised_level, ground_level, tilted = (page.get(f"{root}.{leaf}") for leaf in WEIGHED)
    bases = [page.get(f"{kind}.wheelbase.{side}_in") for kind in ("measured", "survey") for side in ("left", "right")]
    known = [base for base in bases if base is not None][:2]
    if None in (raised, raised_level, ground_level, tilted) or not known:
        return None
    radii = {
        axle: float(np.mean([wheel_radius(page, name) for name in WHEELS if END[name] == axle]))
        for axle in ("front", "rear")
    }
    lengths = {
        "wheelbase_in": float(np.mean(known)),
        "raised_radius_in": radii[raised],
        "ground_radius_in": radii["rear" if raised == "front" else "front"],
    }
    tilt, rise = page.get(f"{root}.tilt_deg"), page.get(f"{root}.rise_in")
    if not np.all(np.isfinite(list(lengths.values()))) or (tilt is None and rise is None):
        return None
    if tilt is None:
        tilt = float(tilt_angle(rise_in=rise, **lengths))
    return cg_height(
        raised_level_lb=raised_level,
        ground_level_lb=ground_level,
        raised_tilted_lb=tilted,
        tilt_deg=tilt,
        scale_sigma_lb=_scale_sigma(page),
        tilt_sigma_deg=_or(page, f"{root}.tilt_sigma_deg", TILT_SIGMA_DEG),
        length_sigma_in=_or(page, f"{root}.length_sigma_in", LENGTH_SIGMA_IN),
        **lengths,
    )


def _scale_sigma(page: Document) -> float:
    return _or(page, "measured.raised_weighing.scale_sigma_lb", SCALE_SIGMA_LB)


def _or(page: Document, path: str, usual: float) -> float:
    """Give a standard error as recorded, else the usual one, which is then said."""
    value = page.get(path)
    if value is None:
        page.assume(f"{usual:g} is taken as {path.rpartition('.')[2]}, the standard error; it is not recorded")
    return usual if value is None else float(value)
