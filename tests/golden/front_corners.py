"""The invented front corners as the engine's corners."""

import json
from functools import cache
from pathlib import Path
from typing import Any

from studbook_service.engine.corner import Body, FrontLinkage, corner_from_survey, mount

HERE = Path(__file__).parent
FRONT_CORNERS: dict[str, Any] = json.loads((HERE / "front_corners.json").read_text())
CORNER_TABLES: dict[str, Any] = json.loads((HERE / "corner_tables.json").read_text())


@cache
def corner(name: str, body: Body | None = None) -> FrontLinkage:
    """A corner by name, such as "dirt rf"; `body` moves its spring's lower end to another body."""
    given = FRONT_CORNERS["corners"][name]
    spring = given["spring"]
    return corner_from_survey(
        side=given["side"],
        **given["points_in"],
        camber_deg=given["camber_deg"],
        toe_deg=given["toe_deg"],
        loaded_radius_in=given["loaded_radius_in"],
        spring=mount(chassis=spring["chassis"], moving=spring["moving"], body=body or spring["body"]),
    )
