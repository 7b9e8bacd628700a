"""From what the gun said to what the rail is: setting, reflection, valley share and emissivity undone in
radiance."""

from heatmap.correct.calibration import Calibration, calibrate, close_up_mm, tells_valley
from heatmap.correct.evidence import ReferencePair
from heatmap.correct.spot import Spot, Step, Telling, correct_readings, trail

__all__ = [
    "Calibration",
    "ReferencePair",
    "Spot",
    "Step",
    "Telling",
    "calibrate",
    "close_up_mm",
    "correct_readings",
    "tells_valley",
    "trail",
]
