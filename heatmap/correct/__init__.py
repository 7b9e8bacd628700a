"""From what the gun said to what the rail is: setting, reflection, valley share and emissivity undone in
radiance."""

from heatmap.correct.calibration import Calibration, Disagreement, Pin, calibrate
from heatmap.correct.close_up import PAIRS, close_up_mm, tells_valley
from heatmap.correct.spot import Contribution, Spot, Step, Trail, correct_readings, trail
from heatmap.correct.telling import Telling, telling
from heatmap.correct.unknowns import GunView, Unknowns

__all__ = [
    "PAIRS",
    "Calibration",
    "Contribution",
    "Disagreement",
    "GunView",
    "Pin",
    "Spot",
    "Step",
    "Telling",
    "Trail",
    "Unknowns",
    "calibrate",
    "close_up_mm",
    "correct_readings",
    "telling",
    "tells_valley",
    "trail",
]
