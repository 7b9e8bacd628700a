"""What was left out is named: which kind of reading, where, and its number."""

from __future__ import annotations

import copy
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from heatmap.assessment import Assessment, assess
from heatmap.grate_model.response import Layout
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Aim, Reading, group_rounds
from heatmap.words.map import left_out_lines, level_lines, shape_sentence, share_sentence

GRILL = Grill(grate=Grate(width_mm=600.0, depth_mm=450.0), target=TargetBand(low_c=288.0, high_c=316.0), units="si")
START = datetime(2031, 5, 2, 11, 0, tzinfo=UTC)


def shot(number: int, label: str, shown_c: float, aim: Aim = "rail") -> Reading:
    x_mm, y_mm = GRILL.point_mm(label)
    return Reading(
        id=number,
        shown_c=shown_c,
        x_mm=x_mm,
        y_mm=y_mm,
        position=label,
        aim=aim,
        taken_at=START + timedelta(seconds=8 * number),
    )


def even_grate() -> list[Reading]:
    return [shot(number, label, 300.0 + number % 3) for number, label in enumerate(GRILL.labels, 1)]


def remedies(assessment: Assessment) -> list[str]:
    """As the report names them."""
    return [*level_lines(assessment), *left_out_lines(assessment)]


def remedies_of(readings: list[Reading]) -> list[str]:
    return remedies(assess(GRILL, group_rounds(readings)))


@pytest.mark.parametrize(
    ("aim", "named"), [("contact", "Contact reading"), ("valley", "Valley shot"), ("patch", "Patch shot")]
)
def test_a_pin_that_cannot_be_is_named_by_kind_place_and_number(aim: Aim, named: str) -> None:
    lines = remedies_of([*even_grate(), shot(40, "A4", 620.0 if aim != "valley" else 90.0, aim)])
    assert f"{named} at A4 (number 40) cannot be and was left out; take it again." in lines


def test_contact_readings_that_contradict_one_another_are_told_first_with_what_it_costs() -> None:
    one = [*even_grate(), shot(13, "B2", 318.0, "contact")]
    both = [*one, shot(14, "B2", 286.0, "contact")]
    line = remedies_of(both)[0]
    assert line.startswith("Contact readings disagree by 3")
    assert line.endswith("286 at B2, 318 at B2; take another.")
    assert not [line for line in remedies_of(one) if "disagree" in line]


def test_a_reading_left_out_is_told_in_a_whole_sentence() -> None:
    readings = even_grate()
    readings[5] = shot(6, readings[5].position, 30.0)
    (line,) = [line for line in remedies_of(readings) if line.startswith("Left out")]
    assert line.startswith(f"Left out {readings[5].position} (reading 6), ")
    (expected_c,) = re.findall(r", about (\d+) expected.$", line)
    assert 300 <= int(expected_c) <= 302, "what all others show"


def test_a_round_that_its_marks_do_not_fit_is_told() -> None:
    found = assess(GRILL, group_rounds(even_grate()))
    assert not [line for line in remedies(found) if "marks" in line]
    model = found.model
    doubted = copy.copy(model)
    doubted.states = replace(model.states, marks_known=np.array([False]))
    found = replace(found, model=doubted)
    assert "Round 1 does not fit its marks: was a knob written down wrong? It counts for little." in remedies(found)


def test_burners_that_seem_to_lie_otherwise_are_told_once() -> None:
    found = assess(GRILL, group_rounds(even_grate()))
    assert not [line for line in remedies(found) if "burner" in line]
    model = found.model
    mirrored = copy.copy(model)
    mirrored.posterior = copy.deepcopy(model.posterior)
    for part in mirrored.posterior.parts:
        part.prior.response.layout = Layout.LEFT_TO_RIGHT
    found = replace(found, model=mirrored)
    (line,) = [line for line in remedies(found) if "burner" in line]
    assert line == "Your burners seem to lie mirrored left to right: check [[burner]] in grill.toml."


def test_few_shots_with_no_full_round_before_them_are_called_a_rough_map_and_no_recheck() -> None:
    few = [shot(number, label, 300.0 + number) for number, label in enumerate(("A1", "A4", "B2", "C1", "C4"), 1)]
    sentence = shape_sentence(assess(GRILL, group_rounds(few)))
    assert sentence == "Only 5 positions were shot, with no full round to lean on: a rough map of its own."
    assert shape_sentence(assess(GRILL, group_rounds(even_grate()))) == ""


def test_the_share_in_band_lies_within_its_own_limits() -> None:
    assessment = assess(GRILL, group_rounds([shot(n, label, 302.0) for n, label in enumerate(GRILL.labels, 1)]))
    share, low = re.search(r"(\d+) % of the grate in band \((\d+)", share_sentence(assessment)).groups()  # type: ignore[union-attr]
    assert int(low) <= int(share)


def close_ups(labels: tuple[str, ...]) -> list[Reading]:
    found = []
    for at, label in enumerate(labels):
        found.append(replace(shot(60 + 2 * at, label, 304.0 + at % 4), distance_mm=100.0))
        found.append(replace(shot(61 + 2 * at, label, 309.0 + at % 3, "valley"), distance_mm=100.0))
    return found


@pytest.mark.parametrize(
    ("pairs", "said"),
    [
        (0, "Without a probe: close-up pairs from"),
        (2, "10 more positions from close up"),
        (12, ""),
    ],
)
def test_where_the_level_hides_all_shots_from_close_up_are_named_until_they_are_there(pairs: int, said: str) -> None:
    grill = replace(GRILL, target=replace(GRILL.target, numbers="rail"))
    readings = [*even_grate(), *close_ups(GRILL.labels[:pairs])]
    lines = [line for line in remedies(assess(grill, group_rounds(readings))) if "close" in line]
    assert (said in lines[0]) if said else not lines
    # In the gun's own numbers nothing hides, and nothing is asked for.
    assert not [line for line in remedies_of(readings) if "close" in line]
