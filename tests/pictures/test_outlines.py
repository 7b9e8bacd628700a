"""Places found become outlines: of single places the ones as good as the best, of turns the fresh ones."""

from __future__ import annotations

from heatmap.decisions.placement import Footprint, Place, Placement, Wanted
from heatmap.pictures import outlines_of


def place(x_mm: float, turn: int | None = None, *, fresh: bool = True) -> Place:
    return Place(
        x_mm=x_mm,
        y_mm=100.0,
        headings=(2.0, 10.0),
        mean_c=300.0,
        mean_std_c=4.0,
        std_within_c=3.0,
        rms_from_target_c=5.0,
        chance_in_band=0.9,
        chance_fits=0.9,
        rail_c=300.0,
        rail_own_std_c=4.0,
        turn=turn,
        fresh=fresh,
    )


def test_equally_good_places_are_numbered():
    wanted = Wanted(footprint=Footprint(length_mm=180.0, width_mm=120.0, shape="rectangle"))
    found = outlines_of(Placement(wanted=wanted, places=(place(100.0), place(200.0), place(300.0)), equally_good=2))
    assert [(one.x_mm, one.label) for one in found] == [(100.0, "1"), (200.0, "2")]
    assert (found[0].length_mm, found[0].width_mm, found[0].shape) == (180.0, 120.0, "rectangle")
    assert found[0].headings == (2.0, 10.0)


def test_turns_on_used_rails_are_not_drawn_twice():
    wanted = Wanted(footprint=Footprint(length_mm=180.0, width_mm=120.0), turns=3)
    places = (place(100.0, 1), place(300.0, 2), place(100.0, 3, fresh=False))
    found = outlines_of(Placement(wanted=wanted, places=places))
    assert [(one.x_mm, one.label) for one in found] == [(100.0, "1"), (300.0, "2")]
