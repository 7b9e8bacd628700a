"""From what the gun said to what the rail is: setting, reflection, valley share and emissivity undone in
radiance."""

from heatmap.correct.calibration import Calibration, State, calibrate, close_up_mm, tells_valley
from heatmap.correct.evidence import ReferencePair
from heatmap.correct.spot import Spot, Step, Telling, Trail, correct_readings

__all__ = [
    "Calibration",
    "ReferencePair",
    "Spot",
    "State",
    "Step",
    "Telling",
    "Trail",
    "calibrate",
    "close_up_mm",
    "correct_readings",
    "tells_valley",
]
