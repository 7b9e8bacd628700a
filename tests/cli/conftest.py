"""Grill files for commands, and assessments made once for all of them."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from heatmap.assessment import Assessment


@pytest.fixture(autouse=True, scope="session")
def _assessed_once() -> Iterator[None]:
    """Answer from memory where a command in this process asks for an assessment that was made before: it is pure."""
    import heatmap.assessment as room

    made: dict[str, Assessment] = {}
    plain = room.assess

    @functools.wraps(plain)
    def assess(*given: object, **named: object) -> Assessment:
        question = repr((given, named))
        if question not in made:
            made[question] = plain(*given, **named)  # type: ignore[arg-type]
        return made[question]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(room, "assess", assess)
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
