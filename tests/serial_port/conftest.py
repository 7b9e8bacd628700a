"""What the tests of the serial port share: a grill."""

import pytest

from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand


@pytest.fixture(scope="session")
def grill() -> Grill:
    return Grill(
        grate=Grate(width_mm=24 * 25.4, depth_mm=18 * 25.4),
        target=TargetBand(low_c=288.0, high_c=315.0),
    )
