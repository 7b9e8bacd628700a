"""What the tests of the files share: a grill, and the slow mark."""

import pytest

from heatmap.grill import Burner, Grate, Grill, TargetBand


def pytest_configure(config: pytest.Config) -> None:
    config.addinivalue_line("markers", "slow: minutes long; run with -m slow")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if "slow" in config.getoption("-m"):
        return
    for item in items:
        if item.get_closest_marker("slow"):
            item.add_marker(pytest.mark.skip(reason="minutes long; run with -m slow"))


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
