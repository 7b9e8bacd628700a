"""A session with its log: what is asked for is done at one go, or not at all."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from heatmap.errors import LogError
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings import log as readings_log
from heatmap.readings.log import ReadingsLog
from heatmap.readings.typed import Shot, Undo
from heatmap.taking.session import Session
from heatmap.taking.sitting import Sitting
from heatmap.taking.walk import Walk, walk_order

GRILL = Grill(grate=Grate(width_mm=610.0, depth_mm=457.0), target=TargetBand(low_c=288.0, high_c=316.0))
NOON = datetime(2031, 6, 14, 12, 0, tzinfo=UTC)


@pytest.fixture
def sitting(tmp_path):
    with ReadingsLog(tmp_path / "readings.csv", GRILL, keyed=True) as log:
        session = Session(GRILL, Walk(walk_order(GRILL)), number=1, name="day")
        yield Sitting(session, log, lambda: NOON)


def c(fahrenheit):
    return (fahrenheit - 32.0) / 1.8


def shoot(sitting, position, fahrenheit, **how):
    key = how.pop("key", "")
    effects = sitting.session.hear_beside(Shot(shown_c=c(fahrenheit), position=position), NOON, **how)
    return sitting.carry_out(effects, key=key)


def writes(sitting, monkeypatch):
    """Count how often the disk is written to."""
    count, plain = [], readings_log.write_at

    def write(*given, **named):
        count.append(1)
        return plain(*given, **named)

    monkeypatch.setattr(readings_log, "write_at", write)
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
    sitting.carry_out(sitting.session.hear(Undo(), NOON))
    assert count == [1, 1]
    assert [round(one.shown_c * 1.8 + 32) for one in sitting.session.readings] == [580]


def test_what_cannot_be_written_is_as_if_it_was_not_said(sitting, monkeypatch):
    shoot(sitting, "B2", 580)

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(readings_log, "write_at", full)
        with pytest.raises(LogError):
            shoot(sitting, "A1", 562)
    assert sitting.session.asked == "A1"
    assert len(sitting.session.readings) == len(sitting.log.readings) == 1


def test_a_question_at_the_keyboard_stays_while_a_phone_shoots(sitting):
    shoot(sitting, "B2", 580)
    sitting.map.update(sitting.session)
    sitting.session.hear_line("A1 58", NOON)
    question = sitting.session.question
    assert question.startswith("58 at A1")
    shoot(sitting, "C4", 601)
    assert sitting.session.question == question
    sitting.carry_out(sitting.session.hear_line("585", NOON))
    assert [one.position for one in sitting.session.readings] == ["B2", "C4", "A1"]


def test_take_back_by_id_is_for_what_stands(sitting):
    shoot(sitting, "B2", 580)
    shoot(sitting, "A1", 562)
    sitting.carry_out(sitting.session.hear(Undo(id=1), NOON))
    assert [one.position for one in sitting.session.readings] == ["A1"]
    assert sitting.session.asked == "B2"
    with pytest.raises(Exception, match="there is no reading 1 to take back in round 1"):
        sitting.session.hear(Undo(id=1), NOON)
    later = NOON + timedelta(minutes=1)
    turned = sitting.session.hear_line("note a gust", later)
    sitting.carry_out(turned)
    came = sitting.carry_out(sitting.session.hear(Undo(id=4), NOON))
    assert came.told == ["Taken back: the note."]


def test_two_fixes_of_a_round_before_are_taken_back_one_after_the_other(sitting):
    shoot(sitting, "A1", 580)
    sitting.session = Session(GRILL, Walk(walk_order(GRILL)), number=2, name="day")
    sitting.look_back()
    told = []
    for line in ("fix A1 560", "fix A1 570", "-", "-"):
        told += sitting.carry_out(sitting.session.hear_line(line, NOON)).told
    assert told[2:] == ["A1 560 replaces 570 in round 1.", "A1 580 replaces 560 in round 1."]
    (one,) = sitting.session.earlier[0].readings
    assert one.shown_c == pytest.approx(c(580))
