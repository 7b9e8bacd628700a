"""From what the gun said to what the rail is: setting, reflection, valley share and emissivity undone in
radiance."""

from heatmap.correct.calibration import Calibration, Disagreement, Pin, calibrate
from heatmap.correct.spot import Contribution, Spot, Step, Trail, correct_readings, trail
from heatmap.correct.telling import Telling, telling
from heatmap.correct.unknowns import GunView, Unknowns

__all__ = [
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
    "correct_readings",
    "telling",
    "trail",
]
