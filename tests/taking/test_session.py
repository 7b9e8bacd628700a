"""A round being taken: every kind of line, what is asked to be done, and where the walk stands after it."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from heatmap.errors import ReadingError
from heatmap.grate_model.reference_pairs import corrected_rounds
from heatmap.grate_model.round_map import RoundMap
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import INSISTED, Reading, Round
from heatmap.readings.typed import OverRange, Shot
from heatmap.taking.doubt import DOUBTED
from heatmap.taking.session import Outcome, Session
from heatmap.units import c_from_f

AT = datetime(2031, 6, 14, 13, 5, tzinfo=UTC)
GRILL = Grill(
    grate=Grate(width_mm=610.0, depth_mm=457.0),
    target=TargetBand(low_c=288.0, high_c=316.0),
    burners=(Burner(name="left", points_mm=((100.0, 20.0), (100.0, 430.0))),),
)
ORDER = ("B2", "A1", "C4", "A4", "C1", "A2", "B3")
SHOWN_F = (580, 562, 601, 571, 590, 566, 588)


class Desk:
    """Stands in for disk and screen: writes and withdraws at once, and remembers what was told."""

    def __init__(self, session: Session) -> None:
        self.session, self.told, self.rung, self.ended, self.last_id = session, [], [], False, 0

    def line(self, text: str) -> str:
        """Type a line; return all that was told."""
        return self.carry_out(self.session.hear(text, AT))

    def carry_out(self, came: Outcome) -> str:
        rows = [row for change in came.changes for row in change.new]
        self.session.numbered({row.id: replace(row, id=self.last_id + at) for at, row in enumerate(rows, 1)})
        self.last_id += len(rows)
        self.rung += [came.rings] if came.rings else []
        self.ended |= came.over
        return "\n".join([*came.told, *(["HELP"] if came.help else [])])

    @property
    def kept(self) -> list[tuple[str, int]]:
        """Position and number, °F, of what stands."""
        return [(one.position, round(1.8 * one.shown_c + 32.0)) for one in self.session.readings]


@pytest.fixture
def desk() -> Desk:
    return Desk(Session(GRILL, ORDER, number=2, name="may"))


@pytest.fixture
def doubting(desk: Desk) -> Desk:
    """A round of seven good shots of which the map is known; B3 comes again next, so 58 can be doubted."""
    for shown in SHOWN_F:
        desk.line(str(shown))
    one = desk.session.round
    log = corrected_rounds(GRILL, (one,))
    desk.session.calibrations, desk.session.surface_known = log.calibrations(one), RoundMap.of(log, one).surface
    return desk


def test_numbers_go_along_the_walk_with_all_that_is_known(desk):
    desk.line("lid closed")
    desk.line("knob left 6.5")
    assert desk.line("580") == "Kept: B2 580."
    assert desk.session.asked == "A1"
    (one,) = desk.session.readings
    assert (one.round, one.session, one.taken_at, one.lid, dict(one.knobs)) == (2, "may", AT, "closed", {"left": 6.5})
    assert (one.x_mm, one.y_mm) == GRILL.point_mm("B2")


def test_a_lid_told_late_holds_for_the_whole_round_and_is_said_until_it_is_kept(desk):
    desk.line("580")
    told = desk.line("lid closed")
    assert "The lid was closed before the round; with the next shot" in told
    assert desk.session.turns_not_written().startswith("No shot came after lid closed: not written.")
    desk.line("562")
    assert desk.session.turns_not_written() == ""
    assert desk.session.round.lid == "closed"
    assert "stays closed" in desk.line("lid open")
    desk.line("601")
    assert [one.lid for one in desk.session.readings] == ["open", "closed", "closed"]


def test_a_named_position_leaves_the_one_asked_for(desk):
    desk.line("C4 601")
    assert desk.kept == [("C4", 601)]
    assert desk.session.asked == "B2"


def test_a_row_is_kept_skipped_and_left_open_as_called(desk):
    told = desk.line("A 562 - 570")
    assert desk.kept == [("A1", 562), ("A3", 570)]
    assert "Skipped: A2." in told
    assert "Still to shoot in row A: A4." in told


def test_undo_gives_the_position_back(desk):
    with pytest.raises(ReadingError, match=r"There is nothing to take back in this round\."):
        desk.line("undo")
    desk.line("580")
    desk.line("562")
    assert desk.line("-") == "Taken back: A1 562."
    assert desk.kept == [("B2", 580)]
    assert desk.session.asked == "A1"


def test_a_position_typed_again_replaces_what_it_contradicts(desk):
    desk.line("A1 630")
    assert desk.line("A1 575") == "A1 575 replaces 630; + keeps both."
    assert desk.kept == [("A1", 575)]
    assert desk.line("A1 578") == "Kept: A1 578."
    assert desk.kept == [("A1", 575), ("A1", 578)], "so little apart it is a repeat"
    assert desk.line("contact A1 640").startswith("Kept: contact A1 640")
    assert desk.line("contact A1 600").startswith("Kept: contact A1 600"), "probes that disagree widen the answer"
    assert desk.line("A1 640 from 4").startswith("Kept: A1 640 from 4 in")
    assert len(desk.kept) == 5, "another aim and another distance are other shots"


def test_plus_keeps_both_and_is_a_skip_otherwise(desk):
    desk.line("A1 630")
    desk.line("A1 575")
    assert desk.line("+") == "Kept: A1 630."
    assert desk.kept == [("A1", 575), ("A1", 630)]
    assert desk.line("+") == "B2 is left out for now."


def test_plus_is_a_skip_as_soon_as_anything_else_was_said(desk):
    """A gun that shows no number asks to shoot again or skip; nothing was kept, and yet + is no longer of A1."""
    desk.line("A1 630")
    desk.line("A1 575")
    assert "or skip" in desk.line("B2 OL")
    assert desk.line("+") == "B2 is left out for now."
    assert desk.kept == [("A1", 575)]


def test_minus_takes_back_a_replacement_and_the_number_before_stands_again(desk):
    desk.line("A1 630")
    desk.line("A1 575")
    assert desk.line("-") == "A1 630 replaces 575."
    assert desk.kept == [("A1", 630)]
    desk.line("A1 575")
    assert desk.line("A1 -") == "A1 630 replaces 575."


def test_minus_takes_back_the_last_thing_typed_whatever_it_was(desk):
    for line in ("580", "knob left 6", "knob left 7", "contact A1 610", "lid closed", "oiled", "+"):
        desk.line(line)
    session = desk.session
    assert desk.line("-") == "Taken back: + at A1."
    assert session.asked == "A1"
    desk.line("-")
    assert session.surface == "dry"
    desk.line("-")
    assert session.lid == "open"
    assert "contact A1 610" in desk.line("-")
    assert desk.line("-") == "Taken back: left 7. Now: lid open, rails dry, left 6."
    assert session.knobs == {"left": 6.0}
    desk.line("-")
    assert session.knobs == {}
    assert desk.line("-") == "Taken back: B2 580."
    with pytest.raises(ReadingError, match=r"There is nothing to take back in this round\."):
        desk.line("-")


def test_minus_takes_back_a_note_and_a_number_put_right_in_an_earlier_round(desk):
    before = Reading(id=70, shown_c=300.0, x_mm=0.0, y_mm=0.0, position="C1", round=1, session="may")
    desk.session.earlier = (Round(number=1, session="may", readings=(before,)),)
    for line in ("580", "note a little wind", "fix C1 575"):
        desk.line(line)
    with pytest.raises(ReadingError, match=r"There is nothing to take back at C1 in this round\."):
        desk.line("C1 -")
    assert desk.line("-") == "C1 572 replaces 575 in round 1."
    assert desk.line("-") == "Taken back: the note."
    assert desk.kept == [("B2", 580)]
    assert desk.line("-") == "Taken back: B2 580."


def test_a_turn_is_to_the_marks_that_were_named_or_advised(desk):
    with pytest.raises(ReadingError, match="no turn is advised now; .* like turned left 10"):
        desk.line("turned")
    assert desk.session.knobs == {}
    desk.session.advised = {"left": 7.0}
    desk.line("t")
    assert desk.session.knobs == {"left": 7.0}
    desk.line("turned left 6")
    assert dict(desk.session.turned.knobs) == {"left": 6.0}


def test_a_position_and_minus_takes_back_the_last_shot_there(desk):
    for line in ("B2 580", "A1 562", "A1 560", "contact A1 590", "C4 601"):
        desk.line(line)
    assert "contact A1 590" in desk.line("A1 -")
    assert "A1 560" in desk.line("rail A1 -")
    assert desk.kept == [("B2", 580), ("A1", 562), ("C4", 601)]
    with pytest.raises(ReadingError, match=r"There is nothing to take back at A4 in this round\."):
        desk.line("A4 undo")
    desk.line("-")
    assert desk.kept == [("B2", 580), ("A1", 562)], "what is gone already is not taken back again"


def test_fix_puts_right_a_number_of_this_round_or_an_earlier_one(desk):
    before = Reading(id=70, shown_c=300.0, x_mm=0.0, y_mm=0.0, position="C1", round=1, session="may")
    desk.session.earlier = (Round(number=1, session="may", readings=(before,)),)
    desk.line("A1 630")
    came = desk.session.hear("fix c1 575", AT)
    (change,) = came.changes
    assert (change.old, change.why) == ((before,), "fixed")
    assert (change.new[0].round, change.new[0].taken_at) == (1, None)
    assert desk.carry_out(came) == "C1 575 replaces 572 in round 1."
    assert desk.line("fix A1 575") == "A1 575 replaces 630."
    assert desk.kept == [("A1", 575)]
    for line, words in (
        ("fix B3 575", "there is no reading at B3 to fix"),
        ("fix A1 575 round 1", "there is no reading at A1 in round 1 to fix"),
        ("fix contact A1 575", "there is no contact reading at A1 to fix"),
        ("fix 575", "type fix, a position and its right number, like fix A1 575"),
        ("fix A1 575 round " + "9" * 5000, "type fix, a position and its right number, like fix A1 575"),
        ("fix", "type fix, a position and its right number, like fix A1 575"),
        ("fix Z9 575", "is not on this grate"),
    ):
        with pytest.raises(ReadingError, match=words):
            desk.line(line)


def test_plus_at_a_question_leaves_out_the_position_asked_about(doubting):
    """Also where the number was from close up, so that the walk asks for another."""
    doubting.line("A2 58 from 4")
    assert doubting.session.asked == "A2"
    assert doubting.line("+") == "58 at A2 was not kept.\nA2 is left out for now."


def test_in_a_pipe_a_position_typed_again_is_one_more_shot(desk):
    for shown in (630, 575):
        shot = Shot(position="A1", shown_c=float(c_from_f(shown)))
        assert desk.carry_out(desk.session.hear_beside(shot, AT)) == f"Kept: A1 {shown}."
    assert desk.kept == [("A1", 630), ("A1", 575)]


def test_undo_of_a_repeat_does_not_ask_for_what_still_stands(desk):
    desk.line("580")
    desk.line("B2 584")
    desk.line("undo")
    assert desk.kept == [("B2", 580)]
    assert desk.session.asked == "A1"


def test_a_skipped_position_comes_first_in_the_next_pass(desk):
    assert desk.line("+") == "B2 is left out for now."
    for shown in SHOWN_F[1:]:
        desk.line(str(shown))
    assert desk.session.passes == 1
    assert desk.session.asked == "B2"


def test_a_contact_reading_wants_the_gun_beside_it(desk):
    assert "Now the gun on the rail at B2, to pair with it." in desk.line("contact B2 610")
    assert desk.session.asked == "B2", "the probe does not take the gun's place in the walk"
    desk.line("580")
    assert "to pair" not in desk.line("contact B2 611")
    assert "Taken back: contact B2 611." in desk.line("undo")


@pytest.mark.parametrize(("word", "side"), [("OL", "above"), ("LO", "below"), (".", "outside")])
def test_what_the_gun_cannot_show_is_no_reading_and_asked_for_again(desk, word, side):
    told = desk.carry_out(desk.session.hear(OverRange(word=word), AT))
    assert told == f"B2: {side} what the gun can show; not kept. Shoot B2 again, or skip."
    assert desk.rung == [2]
    assert desk.kept == []


def test_a_knob_turned_in_the_middle_says_what_that_means(desk):
    desk.line("knob left 5")
    desk.line("580")
    assert "a new round tells more" in desk.line("knob left 7")
    assert "a new round" not in desk.line("knob left 7"), "nothing was turned"
    desk.line("562")
    assert [dict(one.knobs)["left"] for one in desk.session.readings] == [5.0, 7.0]


def test_help_surface_and_the_end(desk):
    assert desk.line("/") == "HELP"
    assert desk.line("oiled") == "From here on the rails are oiled."
    desk.line("580")
    assert desk.session.readings[0].surface == "oiled"
    desk.line("*")
    assert desk.ended


def test_shots_from_close_up_leave_the_walk_and_pair_with_each_other(desk):
    desk.line("580")
    asked = desk.session.asked
    assert "rail at B2 from 4 in, to pair" in desk.line("valley B2 612 from 4")
    assert desk.line("B2 604 from 4") == "Kept: B2 604 from 4 in."
    assert "to pair" not in desk.line("valley B2 610 from 4")
    assert desk.line("valley B2 610").endswith("From so far it tells little: the spot takes in rail and valley alike.")
    desk.line("undo")
    assert desk.session.asked == asked
    # A shot from close up at the position asked for does not stand for the one asked for.
    desk.line(f"{asked} 604 from 4")
    assert desk.session.asked == asked
    assert [one.distance_mm for one in desk.session.readings] == [None, *[pytest.approx(101.6)] * 4]
    desk.line("undo")
    assert desk.session.asked == asked


@pytest.fixture
def near() -> Desk:
    return Desk(Session(GRILL, ORDER, number=2, name="may", close_up_mm=101.6))


def asked(desk: Desk) -> str:
    return f"{desk.session.asked} {desk.session.how}".strip()


def test_close_up_asks_for_two_more_at_every_position(near):
    told = []
    for shown in ("580", "604", "612", "562"):
        told.append(asked(near))
        near.line(shown)
    assert told == ["B2", "B2 from 4 in, on the rail", "B2 from 4 in, between two rails", "A1"]
    assert [(one.position, one.aim, one.distance_mm) for one in near.session.readings] == [
        ("B2", "rail", None),
        ("B2", "rail", 101.6),
        ("B2", "valley", 101.6),
        ("A1", "rail", None),
    ]


def test_close_up_can_be_taken_back_left_out_and_named(near):
    near.line("580")
    near.line("604")
    near.line("undo")
    assert asked(near) == "B2 from 4 in, on the rail"
    assert near.line("skip") == "B2 from 4 in, on the rail is left out."
    assert asked(near) == "A1"
    near.line("562")
    near.line("undo")
    assert asked(near) == "A1"
    near.line("A1 562")
    near.line("contact 571")
    assert near.session.readings[-1].position == "A1"
    near.line("valley A1 570 from 4")
    assert asked(near) == "A1 from 4 in, on the rail"
    near.line("566")
    assert asked(near) == "C4"
    near.line("undo")
    assert asked(near) == "A1 from 4 in, on the rail"


def test_close_up_after_a_row_asks_for_all_of_it(near):
    near.line("A 562 566")
    told = []
    for _ in range(4):
        told.append(asked(near))
        near.line("570")
    assert [one[:2] for one in told] == ["A1", "A1", "A2", "A2"]
    assert asked(near) == "B2"


def test_close_up_a_number_the_port_brings_goes_where_it_is_asked_for(near):
    for shown in (580.0, 604.0, 612.0, 562.0):
        near.carry_out(near.session.hear((Shot(shown_c=c_from_f(shown)),), AT))
    assert [one.aim for one in near.session.readings] == ["rail", "rail", "valley", "rail"]


def test_a_number_that_cannot_be_is_asked_about_and_not_kept(doubting):
    before = doubting.kept
    assert doubting.line("B3 58") == ""
    assert doubting.kept == before
    assert doubting.session.question.startswith("58 at B3, where about 58")
    assert "again, keep" in doubting.session.question


@pytest.mark.parametrize("word", ["keep", "K", "yes", "58", "B3 59"])
def test_in_doubt_insisting_keeps_it_with_a_note(doubting, word):
    doubting.line("B3 58")
    doubting.line(word)
    last = doubting.session.readings[-1]
    assert last.position == "B3"
    assert last.note.startswith(INSISTED)
    assert doubting.session.question == ""


def test_in_doubt_another_number_replaces_it(doubting):
    doubting.line("B3 58")
    assert "Kept: B3 586." in doubting.line("586")
    assert doubting.kept[-1] == ("B3", 586)
    assert 58 not in [shown for _, shown in doubting.kept]


def test_in_doubt_a_second_wrong_number_is_asked_about_in_turn(doubting):
    doubting.line("B3 58")
    doubting.line("930")
    assert doubting.session.question.startswith("930 at B3")
    assert doubting.kept == list(zip(ORDER, SHOWN_F, strict=True))


def test_in_doubt_without_a_number_that_would_fit_there_are_two_ways(doubting):
    doubting.line("B3 58")
    doubting.session.doubts[0] = replace(doubting.session.doubts[0], meant_c=None)
    assert doubting.session.question.endswith(" is expected: again, or keep?")


@pytest.mark.parametrize(("word", "asked"), [("again", "B3"), ("n", "B3"), ("undo", "B3"), ("skip", "B2")])
def test_in_doubt_it_can_be_dropped(doubting, word, asked):
    doubting.line("B3 58")
    assert "58 at B3 was not kept." in doubting.line(word)
    assert doubting.session.asked == asked
    assert doubting.kept == list(zip(ORDER, SHOWN_F, strict=True))


def test_in_doubt_going_on_elsewhere_drops_it_and_keeps_the_new_one(doubting):
    doubting.line("B3 58")
    told = doubting.line("C4 600")
    assert "58 at B3 was not kept." in told
    assert "Kept: C4 600." in told
    assert doubting.session.asked == "B3", "it is still to be shot again"


def test_in_a_row_only_the_doubtful_one_waits(doubting):
    doubting.line("A 560 58 565 572")
    assert [one.reading.position for one in doubting.session.doubts] == ["A2"]
    assert doubting.kept[-3:] == [("A1", 560), ("A3", 565), ("A4", 572)]


def from_port(shown):
    return (Shot(shown_c=float(c_from_f(shown)), position="A2"),)


def test_from_the_port_a_doubtful_number_is_kept_in_doubt_and_shot_once_more(doubting):
    session = doubting.session
    told = doubting.carry_out(session.hear(from_port(58), AT))
    assert "A2 58 is kept but doubted" in told
    assert "Shoot A2 again." in told
    assert session.asked == "A2"
    assert session.readings[-1].note.startswith(DOUBTED)
    doubting.carry_out(session.hear(from_port(60), AT + timedelta(seconds=5)))
    assert session.readings[-1].note == f"{INSISTED}: shown twice"


def test_from_the_port_it_is_not_asked_for_without_end(doubting):
    session = doubting.session
    for shown in (58, 930):
        doubting.carry_out(session.hear(from_port(shown), AT))
    assert session.asked != "A2"
    assert [one.note.startswith(DOUBTED) for one in session.readings[-2:]] == [True, True]


def test_what_came_at_one_go_is_one_write(doubting):
    items = [Shot(shown_c=float(c_from_f(575 + index))) for index in range(20)]
    items.insert(3, OverRange(word="OL"))
    came = doubting.session.hear(tuple(items), AT)
    assert [len(one.new) for one in came.changes] == [1] * 20
    told = doubting.carry_out(came)
    assert "20 readings kept, the last: " in told
    assert "above what the gun can show" in told


def test_a_reading_the_others_speak_against_is_asked_for_once(doubting):
    odd = doubting.session.readings[2]
    expected_c = float(c_from_f(571.0))
    told = doubting.carry_out(doubting.session.suspects_found([(odd, expected_c)]))
    assert told == "C4 601 does not fit the others: about 571 °F is expected. Shoot C4 again."
    assert doubting.session.asked == "C4"
    assert doubting.session.suspects_found([(odd, expected_c)]) == Outcome()


def test_a_round_can_be_gone_on_with(desk):
    x_mm, y_mm = GRILL.point_mm("B2")
    stands = Reading(id=1, shown_c=300.0, x_mm=x_mm, y_mm=y_mm, position="B2", round=2, session="may")
    session = Session(GRILL, ORDER, number=2, name="may", readings=[stands], shots=Counter(["B2"]))
    assert session.asked == "A1"
    assert session.round == Round(number=2, session="may", readings=(stands,))
