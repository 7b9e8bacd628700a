"""What is said of rounds from their beginning to their end: what is asked, what was kept, what was taken back."""

import math
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from heatmap.grill.burner import Burner
from heatmap.grill.grill import Grill
from heatmap.readings.reading import Aim, Reading
from heatmap.readings.typed import OverRange
from heatmap.readings.written import BELOW_RANGE
from heatmap.taking.doubt import Doubt
from heatmap.units import Display
from heatmap.words.phrases import joined

#: What can be typed; no line is wider than a narrow terminal, and all of it is on one screen.
HELP = """\
585         the number the gun shows, where asked
B3 585      for another position
B 585 - 600 a whole row from the left; - skips one
- or undo   take back the last thing typed; A1 -: at A1
B3 575      again: replaces it (+ then keeps both)
fix A1 575  put a number right, of an earlier round too
+ or skip   leave this position out for now
. or HI     the gun shows no number
* or done   the round is over
contact 610 a surface probe on the rail (contact B3 610)
patch 590   the gun on the reference patch
B3 604 from 4         close up; valley B3 612 from 4
turned, t   knobs turned as advised: counts the wait
turned left 6.5       or to these marks
knob left 6.5         from the next shot on
note TEXT   anything worth keeping
oiled, dry  the rails; lid closed, lid open: before it
In doubt: again, keep, or the right number."""

#: More readings kept at one go are only counted.
_MOST_NAMED = 12
NOTHING_TO_TAKE_BACK = "There is nothing to take back{at} in this round."
MARKS_KNOWN = "Knobs as far as is known: {marks}. Turned since? Tell it before the next shot: knob NAME MARK."
NOT_WRITTEN = "No shot came after {told}: not written. With --continue, tell it again."
RAILS_FROM_HERE = "From here on the rails are {surface}."
NOTED = "Noted: {note}"
LID_STAYS = (
    "The lid stays closed: this round's readings say that the lid was closed, and what is kept is not changed. "
    "Take them back (-), or begin a new round with lid open."
)


def number_text(celsius: float | None, display: Display) -> str:
    """Return a temperature as the cook typed it."""
    return "" if celsius is None else f"{round(display.temperature(celsius), 1):g}"


def marks_text(grill: Grill, marks: Mapping[str, float]) -> str:
    """Return marks by burner: "left 6.5, right MED"."""
    return ", ".join(f"{name} {grill.burner(name).mark_text(mark)}" for name, mark in marks.items())


def close_up_text(near_mm: float, aim: Aim, display: Display) -> str:
    """Say from where and at what a shot from close up is asked for."""
    what = "on the rail" if aim == "rail" else "between two rails"
    return f"from {display.length_text(near_mm)}, {what}"


def doubt_question(one: Doubt, grill: Grill) -> str:
    """Ask about a number that is not believed."""
    display = grill.display
    ways = "again, or keep" if one.meant_c is None else f"again, keep, or {number_text(one.meant_c, display)}"
    here = f"{number_text(one.reading.shown_c, display)} at {one.reading.position}"
    if one.expected_shown_c is None:
        band = display.range_text(grill.target.low_c, grill.target.high_c)
        air = display.temperature(grill.surroundings.air_c)
        return f"{here}? Your band is {band}, the air {air:.0f}: the right number, {ways}?"
    return f"{here}, where about {display.temperature(one.expected_shown_c):.0f} is expected: {ways}?"


def lid_sentence(lid: str, *, not_written: bool) -> str:
    """Say how the lid was."""
    for_all = "; with the next shot that is kept, for all of it" if not_written else ""
    return f"The lid was {lid} before the round{for_all}."


def knob_sentence(burner: str, mark: str, *, moves: bool) -> str:
    """Say where a knob stands from now on; `moves`, that it was turned amid a round."""
    hint = " The grate will move; a new round tells more." if moves else ""
    return f"{burner} is at {mark} from the next shot on.{hint}"


def taken_back_sentence(what: str, stands: str) -> str:
    """Say that a reading or a word was taken back, and how things stand now where that is not plain."""
    return f"Taken back: {what}. {stands}".rstrip()


def stands_sentence(lid: str, surface: str, marks: str) -> str:
    """Say how things stand that are not readings."""
    return f"Now: lid {lid}, rails {surface}{', ' * bool(marks)}{marks}."


def left_out_sentence(what: str, *, for_now: bool) -> str:
    """Say that a shot is left out."""
    return f"{what} is left out{' for now' if for_now else ''}."


def row_sentences(skipped: Sequence[str], left_open: Sequence[str]) -> list[str]:
    """Say what a row of numbers left out."""
    told = [f"Skipped: {', '.join(skipped)}."] if skipped else []
    return told + ([f"Still to shoot in row {left_open[0][0]}: {', '.join(left_open)}."] if left_open else [])


def over_range_sentence(event: OverRange, label: str) -> str:
    """Say that a number was none."""
    side = "below" if event.word in BELOW_RANGE else "outside" if event.word in (".", "----") else "above"
    return f"{label}: {side} what the gun can show; not kept. Shoot {label} again, or skip."


def not_kept_sentence(reading: Reading, display: Display) -> str:
    """Say that a doubtful number was not kept."""
    return f"{number_text(reading.shown_c, display)} at {reading.position} was not kept."


def expected_text(expected_c: float, display: Display) -> str:
    """Say in the note of a doubtful number what was expected."""
    return f"about {display.temperature(expected_c):.0f} {display.degrees} was expected"


def named(reading: Reading, usual_mm: float | None, display: Display) -> str:
    """Return a reading by position and number, by its aim unless at a rail, and from where unless as far as usual."""
    aim = "" if reading.aim == "rail" else f"{reading.aim} "
    return f"{aim}{reading.position} {number_text(reading.shown_c, display)}{away_text(reading, usual_mm, display)}"


def away_text(reading: Reading, usual_mm: float | None, display: Display) -> str:
    """Say from where a shot was taken that was not taken from as far as the others."""
    return "" if reading.distance_mm in (None, usual_mm) else f" from {display.length_text(reading.distance_mm)}"


def kept_sentence(names: Sequence[str]) -> str:
    """Say which readings were kept."""
    if len(names) > _MOST_NAMED:
        return f"{len(names)} readings kept, the last: {names[-1]}."
    return f"Kept: {', '.join(names)}."


def kept_beside_sentence(reading: Reading, name: str, away: str, *, pair: bool, tells_little: bool) -> str:
    """Say that a reading that is not of the gun on the rail was kept, and, where it has no pair, what is to be one."""
    to_pair = not pair and reading.aim != "patch"
    more = f" Now the gun on the rail at {reading.position}{away}, to pair with it." if to_pair else ""
    if tells_little:
        more = " From so far it tells little: the spot takes in rail and valley alike."
    return f"Kept: {name}.{more}"


def doubted_sentence(name: str, note: str, again: str) -> str:
    """Say that a number was kept but is doubted, and which position to shoot again."""
    return f"{name} is kept but doubted: {note}.{f' Shoot {again} again.' if again else ''}"


def replaced_sentence(
    reading: Reading, old: Sequence[Reading], display: Display, *, elsewhere: bool, both: bool
) -> str:
    """Say which number stands now for which; `elsewhere`, in another round; `both`, that + keeps both."""
    was = " and ".join(number_text(one.shown_c, display) for one in old)
    where = f" in round {reading.round}" if elsewhere else ""
    keeps = "; + keeps both" if both else ""
    return f"{reading.position} {number_text(reading.shown_c, display)} replaces {was}{where}{keeps}."


def suspect_sentence(reading: Reading, name: str, expected_shown_c: float, display: Display) -> str:
    """Say that a reading kept before does not fit the others."""
    expected = display.temperature_text(expected_shown_c)
    return f"{name} does not fit the others: about {expected} is expected. Shoot {reading.position} again."


SCAN_IT = "Scan it with the phone, or open the address there. Enter goes on here, or a first tap:"
MARKS_UNKNOWN = "Then the marks stay unknown; knob NAME MARK tells them later."
MARKS_UNKNOWN_SO_FAR = "marks not known: knob NAME MARK"
IT_WILL_MOVE = "The grate will move: end the round (*) and let the change come, or shoot on."
NOT_UNDERSTOOD = "That is no answer here."
COUNTED_DOWN = "Enter begins the round at once, * ends:"
ONLY_COUNTED = "Further lines of this kind are only counted."
GOING_ON = "Going on with round {round}: {count} readings so far."
BEGUN_ON_PAGE = "Round {round}, begun on the page."
FROM_PAGE = "From the page: {told}"
FROM_PIPE = "Round {round}, session {session}, lid {lid}: reading from the pipe."
RECHECK = "Re-check on the shape of round {full}: {labels}; three will do."
ON_TO_THE_MAP = "{rise} On to the map."
LID_TAKEN = "Then the lid is taken as {lid}; lid open or lid closed corrects it."
NOT_A_READING = "From the port, not a reading: {line!r}: {why}"
LOST = "{why}. Note it on paper, mend that, and type it again."
REJECTED = "Lines from the port that were no readings: {count}."
NO_MAP = "No map yet: {why}"
MUTE = "{program} does not speak: {why}. Going on without."


def begun_sentence(number: int, session: str, *, may_go_on: bool) -> str:
    """Say which round begins; `may_go_on`, that there is one before it to go on with."""
    hint = " (gratemap take --continue goes on with the last one instead)" if may_go_on else ""
    return f"Round {number}, session {session}.{hint}"


def preheat_sentence(labels: Sequence[str]) -> str:
    """Say how to follow the preheat."""
    return f"Preheat: shoot {joined(labels)} in turn, half a minute apart; done (*) goes to the map at once."


def knobs_question(burners: Sequence[Burner], last: Mapping[str, float]) -> str:
    """Ask where the knobs stand; in brackets where each stood last."""
    names = ", ".join(
        f"{one.name} ({one.mark_text(last[one.name])})" if one.name in last else one.name for one in burners
    )
    keep = "Enter for those in brackets" if last else "Enter if you do not know"
    return f"Where do the knobs stand?  {names}\nA mark for each, in this order; {keep}:"


def lid_question(lid: str, last_round: int | None) -> str:
    """Ask how the grate heated; `lid` is as in the last round, where there is one."""
    as_last = "" if last_round is None else f", as in round {last_round}"
    return f"Until you shot, was the lid 1 open or 2 closed?  Enter for {lid}{as_last}:"


def another_round_question(grill: Grill, changed: Mapping[str, float]) -> str:
    """Ask whether another round starts; `changed` are the marks that are advised."""
    with_marks = f", with the knobs turned as advised ({marks_text(grill, changed)})" if changed else ""
    turn = " t when they are turned, and the wait is counted down;" if changed else ""
    return f"\nAnother round{with_marks}?{turn} y starts it, Enter ends:"


def stopped_sentence(count: int, number: int, log: str) -> str:
    """Say, where a round is broken off, what is safe."""
    return f"\nStopped. {_readings(count)} of round {number} safe in {log}; gratemap take --continue goes on."


def pipe_over_sentence(count: int, log: str, refused: int) -> str:
    """Say what came of a pipe."""
    return f"{_readings(count)} kept in {log}, lines refused: {refused}."


def _readings(count: int) -> str:
    return f"{count} reading{'' if count == 1 else 's'}"


def where_lines(cook: str, watch: str, host: str, *, local: bool) -> list[str]:
    """Say at which addresses the page is, and who reaches it."""
    reach = f"Phones on the network of {host} reach it. Plain HTTP: use a hotspot of your own (gratemap manual page)."
    if local:
        reach = "Only this machine reaches it. For a phone name this machine's address on its network: --host."
    return [f"The page, for the cook: {cook}", f"To watch only: {watch}", reach]


def page_closed_sentence(count: int, log: str) -> str:
    """Say, as the page ends, what is safe."""
    return f"The page is closed. {count} row{' is' if count == 1 else 's are'} safe in {log}."


def clock_text(moment: datetime) -> str:
    """Return a time of day here: 14:37."""
    return f"{moment.astimezone():%H:%M}"


def left_text(left: timedelta) -> str:
    """Return a time left as a clock counts it down: 12:05."""
    seconds = max(0, math.ceil(left.total_seconds()))
    return f"{seconds // 60}:{seconds % 60:02d}"


def turned_sentence(marks: str, at: datetime, until: datetime) -> str:
    """Say what was turned, and until when its change comes."""
    what = f": {marks}" if marks else ""
    return f"Turned at {clock_text(at)}{what}. The change has come by {clock_text(until)}."


def too_soon_sentence(left: timedelta) -> str:
    """Say that a round is begun before a change has come; nothing when it has."""
    minutes = left.total_seconds() / 60.0
    if minutes <= 0.5:
        return ""
    return f"{minutes:.0f} min too soon: this round counts the turn only as far as its change has come."
