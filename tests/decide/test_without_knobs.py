"""Grills whose heat has no knob."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from heatmap.decide.burner_advice import advise
from heatmap.synthetic import draw_grill


def coals(seen_round, celsius, **grate):
    """A grill of coals with this surface."""
    rehearsal = draw_grill(4, noise=False)
    described = replace(rehearsal.grill, burners=(), grate=replace(rehearsal.grill.grate, **grate))
    state = seen_round(rehearsal, rehearsal.start, settings={})
    x, y = (state.points_mm / np.array(described.grate.extent_mm)).T
    return described, replace(state, compared_c=described.target.middle_c + celsius(x, y))


def test_says_where_to_move_the_coals(seen_round) -> None:
    advice = advise(*_listed(coals(seen_round, lambda x, y: 90.0 * (0.5 - x))))
    assert not advice.worth_it
    assert advice.changes == ()
    assert "Move heat from the" in advice.why
    moved_from, moved_to = advice.why.split("Move heat from the ")[1].split(":")[0].split(" towards the ")
    assert "left" in moved_from
    assert "right" in moved_to


def test_says_when_all_is_too_cold_or_too_hot(seen_round) -> None:
    cold = advise(*_listed(coals(seen_round, lambda x, y: -50.0 + 0.0 * x)))
    hot = advise(*_listed(coals(seen_round, lambda x, y: 50.0 + 0.0 * x)))
    assert "90 °F too cold" in cold.why
    assert "90 °F too hot" in hot.why


def test_an_even_grate_is_left_alone(seen_round) -> None:
    advice = advise(*_listed(coals(seen_round, lambda x, y: 0.0 * x)))
    assert "leave the heat alone" in advice.why
    assert advice.now == advice.expected


def test_a_panel_that_leans_is_turned(seen_round) -> None:
    described, state = coals(seen_round, lambda x, y: 0.0 * x)
    width = described.grate.width_mm
    rails, along = described.grate.rails, 1 if described.grate.rails == "front-to-back" else 0
    span = width if rails == "front-to-back" else described.grate.depth_mm
    described = replace(described, grate=replace(described.grate, seams_mm=(0.5 * span,)))
    unit = state.points_mm / np.array(described.grate.extent_mm)
    state = replace(
        state,
        compared_c=described.target.middle_c + np.where(unit[:, 1 - along] < 0.5, 80.0, 0.0) * (unit[:, along] - 0.5),
    )
    advice = advise(described, [state])
    assert "Panel 1" in advice.why
    assert "turn it end for end" in advice.why


def _listed(pair):
    return pair[0], [pair[1]]
