"""Grills whose heat has no knob."""

from __future__ import annotations

import re
from dataclasses import replace

from perfect import draw_perfect

from heatmap.assessment import Assessment, assess
from heatmap.decisions.burner_advice import advise
from heatmap.decisions.decision import decide
from heatmap.words.burners import burner_lines


def coals(seen_round, celsius, **grate) -> Assessment:
    """Assess a grill of coals with this surface, a function of shares of width and depth, over mid-band."""
    rehearsal = draw_perfect(4, numbers="shown")
    described = replace(rehearsal.grill, burners=(), grate=replace(rehearsal.grill.grate, **grate))
    one = seen_round(rehearsal, rehearsal.start, knobs={})
    width, depth = described.grate.extent_mm
    readings = tuple(
        replace(reading, shown_c=described.target.middle_c + celsius(reading.x_mm / width, reading.y_mm / depth))
        for reading in one.readings
    )
    return assess(described, [replace(one, readings=readings)])


def said_of(assessment):
    decision = decide(assessment)
    return " ".join(burner_lines(assessment, decision, decision))


def test_says_where_to_move_the_coals(seen_round) -> None:
    assessment = coals(seen_round, lambda x, y: 90.0 * (0.5 - x))
    advice, told = advise(assessment), said_of(assessment)
    assert not advice.changes
    assert advice.changes == ()
    assert "Move heat from the" in told
    moved_from, moved_to = told.split("Move heat from the ")[1].split(":")[0].split(" towards the ")
    assert "left" in moved_from
    assert "right" in moved_to


def test_says_when_all_is_too_cold_or_too_hot(seen_round) -> None:
    assert "90 °F too cold" in said_of(coals(seen_round, lambda x, y: -50.0))
    assert "90 °F too hot" in said_of(coals(seen_round, lambda x, y: 50.0))


def test_an_even_grate_is_left_alone(seen_round) -> None:
    assessment = coals(seen_round, lambda x, y: 0.0)
    advice = advise(assessment)
    assert not re.search("Move heat|too cold|too hot|end for end", said_of(assessment))
    assert advice.expected == assessment.evenness


def test_a_panel_that_leans_is_turned(seen_round) -> None:
    grate = draw_perfect(4).grill.grate
    lengthwise = grate.rails == "front-to-back"
    span = grate.width_mm if lengthwise else grate.depth_mm

    def leaning(x: float, y: float) -> float:
        across, along = (x, y) if lengthwise else (y, x)
        return 80.0 * (along - 0.5) if across < 0.5 else 0.0

    told = said_of(coals(seen_round, leaning, seams_mm=(0.5 * span,)))
    assert "panel 1" in told
    assert "end for end" in told
