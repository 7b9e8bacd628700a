"""What the tests of the files share: a grill."""

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from heatmap.grill import Burner, Grate, Grill, TargetBand


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
def ordinary_account() -> Iterator[Path]:
    """Be an account that may not do everything; return a folder that it can reach but that is not its own."""
    if not hasattr(os, "geteuid"):
        pytest.skip("there are no such accounts here")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        before = os.geteuid()
        if before == 0:
            os.seteuid(65534)
        try:
            yield folder
        finally:
            os.seteuid(before)
