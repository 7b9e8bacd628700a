"""What the tests of the files share: a grill."""

import pytest

from heatmap.grill.grill import Burner, Grate, Grill, TargetBand


@pytest.fixture(scope="session")
def grill() -> Grill:
    return Grill(
        grate=Grate(width_mm=24 * 25.4, depth_mm=18 * 25.4),
        target=TargetBand(low_c=288.0, high_c=315.0),
        burners=(
            Burner(name="left", points_mm=((100.0, 25.0), (100.0, 430.0))),
            Burner(name="back left", points_mm=((300.0, 25.0), (300.0, 430.0)), marks=("LO", "MED", "HI")),
        ),
    )
