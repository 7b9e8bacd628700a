"""A session with its log: what is asked for is done at one go, or not at all."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from heatmap.errors import LogError, ReadingError
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings import log as readings_log
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import group_rounds
from heatmap.readings.typed import Shot, Undo
from heatmap.taking.session import Session
from heatmap.taking.sitting import Sitting
from heatmap.taking.walk import walk_order

GRILL = Grill(grate=Grate(width_mm=610.0, depth_mm=457.0), target=TargetBand(low_c=288.0, high_c=316.0))
NOON = datetime(2031, 6, 14, 12, 0, tzinfo=UTC)


@pytest.fixture
def sitting(tmp_path):
    with ReadingsLog(tmp_path / "readings.csv", GRILL, keyed=True) as log:
        session = Session(GRILL, walk_order(GRILL), number=1, name="day")
        yield Sitting(session, log, lambda: NOON)


def c(fahrenheit):
    return (fahrenheit - 32.0) / 1.8


def shoot(sitting, position, fahrenheit, **how):
    key = how.pop("key", "")
    return sitting.hear(Shot(shown_c=c(fahrenheit), position=position), NOON, key=key, **how)


def writes(sitting, monkeypatch):
    """Count how often the disk is written to."""
    count, plain = [], readings_log.append_to

    def write(*given, **named):
        count.append(1)
        return plain(*given, **named)

    monkeypatch.setattr(readings_log, "append_to", write)
    return count


def test_a_number_and_the_withdrawal_of_what_it_replaces_are_one_write(sitting, monkeypatch):
    shoot(sitting, "B2", 580)
    count = writes(sitting, monkeypatch)
    came = shoot(sitting, "B2", 630, replaces=True, key="k1")
    assert count == [1]
    assert [(one.id, one.void, one.note, one.key) for one in came.written] == [
        (2, None, "", "k1"),
        (3, 1, "replaced by 2", "k1"),
    ]
    assert came.told == ["B2 630 replaces 580; + keeps both."]
    sitting.hear(Undo())
    assert count == [1, 1]
    assert [round(one.shown_c * 1.8 + 32) for one in sitting.session.readings] == [580]


def test_what_cannot_be_written_is_as_if_it_was_not_said(sitting, monkeypatch):
    shoot(sitting, "B2", 580)

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(readings_log, "append_to", full)
        for line in ("562", "A 562 566", "knob", "-"):
            with pytest.raises((LogError, ReadingError)):
                sitting.hear(line)
        with pytest.raises(LogError):
            shoot(sitting, "A1", 562)
    assert sitting.session.asked == "A1"
    assert sitting.session.left[:3] == ["A1", "C4", "A4"]
    assert len(sitting.session.readings) == len(sitting.log.readings) == 1
    assert sitting.hear("562").told == ["Kept: A1 562."]


def test_a_question_at_the_keyboard_stays_while_a_phone_shoots(sitting):
    shoot(sitting, "B2", 580)
    sitting.map.update(sitting.session)
    sitting.hear("A1 58")
    question = sitting.session.question
    assert question.startswith("58 at A1")
    shoot(sitting, "C4", 601)
    assert sitting.session.question == question
    sitting.hear("585")
    assert [one.position for one in sitting.session.readings] == ["B2", "C4", "A1"]


def test_take_back_by_id_is_for_what_stands(sitting):
    shoot(sitting, "B2", 580)
    shoot(sitting, "A1", 562)
    sitting.hear(Undo(id=1))
    assert [one.position for one in sitting.session.readings] == ["A1"]
    assert sitting.session.asked == "B2"
    with pytest.raises(Exception, match="there is no reading 1 to take back in round 1"):
        sitting.hear(Undo(id=1))
    sitting.hear("note a gust")
    came = sitting.hear(Undo(id=4))
    assert came.told == ["Taken back: the note."]


def test_two_fixes_of_a_round_before_are_taken_back_one_after_the_other(sitting):
    shoot(sitting, "A1", 580)
    before = group_rounds(sitting.log.readings)
    sitting.go_on_with(Session(GRILL, walk_order(GRILL), number=2, name="day", earlier=before))
    told = []
    for line in ("fix A1 560", "fix A1 570", "-", "-"):
        told += sitting.hear(line).told
    assert told[2:] == ["A1 560 replaces 570 in round 1.", "A1 580 replaces 560 in round 1."]
    (one,) = sitting.session.earlier[0].readings
    assert one.shown_c == pytest.approx(c(580))


def test_numbers_that_replaced_one_another_are_taken_back_one_after_the_other(sitting):
    told = [sitting.hear(line).told for line in ("A1 580", "A1 640", "A1 700", "-", "-", "-")]
    assert told[3:] == [["A1 640 replaces 700."], ["A1 580 replaces 640."], ["Taken back: A1 580."]]
    assert sitting.session.readings == []


def test_a_row_that_withdraws_another_is_put_right_and_taken_back_like_any(sitting):
    shoot(sitting, "B2", 580)
    (first,) = sitting.session.readings
    second = sitting.log.append(replace(first, shown_c=c(590), void=1))  # as by hand
    sitting.go_on_with(Session(GRILL, walk_order(GRILL), number=1, name="day", readings=[second]))
    told = [sitting.hear(line).told for line in ("fix B2 575", "-", "-")]
    assert told == [["B2 575 replaces 590."], ["B2 590 replaces 575."], ["Taken back: B2 590."]]
