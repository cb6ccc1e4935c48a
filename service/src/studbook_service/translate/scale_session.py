"""A session on the scales: the average of its readings, and whether the car had settled.

A session of one reading is refused: it may be anything. One whose readings lie too far apart is kept and flagged, and
its average goes into no sheet.
"""

from collections.abc import Sequence

import numpy as np

from studbook.wire.around_scales import SessionWeights
from studbook.wire.shop import Tolerances
from studbook_service.engine.car import percentages
from studbook_service.engine.one_sided import WHEELS
from studbook_service.translate.rescaling import weights, wheel_pounds
from studbook_service.translate.states import rounded
from studbook_service.translate.tolerances import tolerances, whose_tolerances
from studbook_service.translate.words import CORNER


def session_weights(readings_lb: Sequence[Sequence[float]], own: Tolerances) -> SessionWeights:
    """Average the readings of a session.

    Args:
        readings_lb: LF, RF, LR, RR of each, at least one.
        own: the team's tolerances over the defaults.

    Example:
        >>> session_weights([[590, 503, 718, 629], [592, 501, 716, 631]], Tolerances()).average.lf_lb
        591.0
    """
    read = np.array(readings_lb, float)
    tolerance_lb = tolerances(own)["spread"]
    spread, crosses = np.ptp(read, axis=0), percentages(read.T).cross_percent
    return SessionWeights(
        count=len(read),
        average=weights(read.mean(axis=0)),
        spread=wheel_pounds(spread),
        cross_spread_percent=rounded(np.ptp(crosses)),
        tolerance_lb=tolerance_lb,
        unsettled=[
            f"{CORNER[name]} readings {each:g} lb apart, {tolerance_lb:g} are settled: roll it, bounce it, read again"
            for name, each in zip(WHEELS, spread, strict=True)
            if each > tolerance_lb + 1e-6
        ],
        assumptions=[whose_tolerances(own)],
    )
