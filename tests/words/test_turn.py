"""How a turn of knobs is told."""

from types import SimpleNamespace

import pytest

from heatmap.decisions.burner_advice import Change
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.words.decision import _turn

KNOB = {"points_mm": ((100.0, 25.0), (100.0, 430.0)), "low": 1.0, "high": 10.0, "step": 0.5}
GRILL = Grill(
    grate=Grate(width_mm=600.0, depth_mm=450.0),
    target=TargetBand(low_c=288.0, high_c=316.0),
    burners=(Burner(name="left", **KNOB), Burner(name="right", **KNOB)),
)


@pytest.mark.parametrize(
    ("back", "told"),
    [
        ((), "Turn left to 6.5 and right to 4; wait for 13 min, then shoot again."),
        (("left",), "Turn left to 6.5 and right to 4 (left part of the way back); wait for 13 min, then shoot again."),
    ],
)
def test_a_knob_that_goes_a_part_of_its_way_back_is_said_to(back: tuple[str, ...], told: str) -> None:
    changes = tuple(
        Change(burner=name, from_mark=5.0, to_mark=mark, back=name in back)
        for name, mark in (("left", 6.5), ("right", 4.0))
    )
    decision = SimpleNamespace(changes=changes, until=None, wait_min=13.0)
    assert _turn(SimpleNamespace(grill=GRILL), decision) == told
