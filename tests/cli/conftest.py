"""Grill files for commands, and assessments made once for all of them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from remembered import remembering


@pytest.fixture(autouse=True, scope="module")
def _worked_out_once(coarse_cells: None) -> Iterator[None]:
    """Answer from memory what a command in this process asks for a second time: it is pure, and is tested elsewhere."""
    from heatmap.assessment import assess
    from heatmap.decisions import burner_advice, decision, next_spots, placement
    from heatmap.pictures import difference_map, expected_map, heat_map, picture_bytes
    from heatmap.sear import lesson, plan
    from heatmap.verdict import comparison

    pure = (
        *(assess, burner_advice.advise, decision.fit_after, next_spots.next_spots),
        *(placement.find_places, decision.decide, comparison.compare),
        *(plan.plan_sear, lesson.learn_from_test),
        *(difference_map, expected_map, heat_map, picture_bytes),
    )
    with remembering(pure), pytest.MonkeyPatch.context() as patch:
        patch.setitem(picture_bytes.__kwdefaults__, "dpi", 50.0)  # how fine a picture is, is asked of no command
        yield


GRILL = """\
[grate]
width = 24.0
depth = 18.0
[target]
low = 550.0
high = 600.0
"""
KNOBS = """
[[burner]]
name = "left"
from = [4.0, 1.0]
to = [4.0, 17.0]
[[burner]]
name = "right"
from = [20.0, 1.0]
to = [20.0, 17.0]
"""


@pytest.fixture
def plain_grill(tmp_path: Path) -> Path:
    """Write a grill without burners, 3 by 4 positions, to the folder of the test."""
    (tmp_path / "grill.toml").write_text(GRILL, encoding="utf-8")
    return tmp_path


@pytest.fixture
def knob_grill(tmp_path: Path) -> Path:
    """Write a grill with two burners to the folder of the test."""
    (tmp_path / "grill.toml").write_text(GRILL + KNOBS, encoding="utf-8")
    return tmp_path
