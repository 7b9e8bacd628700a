"""What the tests of the files share: a grill."""

import time
from collections.abc import Callable, Iterator

import pytest

from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand


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


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Puts this computer into a time zone, named as POSIX does."""
    if not hasattr(time, "tzset"):
        pytest.skip("the zone of the process cannot be changed here")

    def put(name: str) -> None:
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield put
    monkeypatch.undo()
    time.tzset()
