"""What is said as a round is begun, waited for and ended, at the keyboard, from a pipe and of the page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from heatmap.grill.burner import Burner
from heatmap.grill.grill import Grill
from heatmap.words.phrases import joined
from heatmap.words.taking import marks_text

SCAN_IT = "Scan it with the phone, or open the address there. Enter goes on here, or a first tap:"
MARKS_UNKNOWN = "Then the marks stay unknown; knob NAME MARK tells them later."
MARKS_UNKNOWN_SO_FAR = "marks not known: knob NAME MARK"
IT_WILL_MOVE = "The grate will move: end the round (*) and let the change come, or shoot on."
COUNTED_DOWN = "Enter begins the round at once, * ends:"
ONLY_COUNTED = "Further lines of this kind are only counted."


def begun_sentence(number: int, session: str, *, may_go_on: bool) -> str:
    """Say which round begins; `may_go_on`, that there is one before it to go on with."""
    hint = " (gratemap take --continue goes on with the last one instead)" if may_go_on else ""
    return f"Round {number}, session {session}.{hint}"


def going_on_sentence(number: int, count: int) -> str:
    """Say which round is gone on with."""
    return f"Going on with round {number}: {count} readings so far."


def begun_on_page_sentence(number: int) -> str:
    """Say that a phone has begun a round."""
    return f"Round {number}, begun on the page."


def from_page_sentence(text: str) -> str:
    """Say what a phone was told."""
    return f"From the page: {text}"


def from_pipe_sentence(number: int, session: str, lid: str) -> str:
    """Say which round a pipe is read into."""
    return f"Round {number}, session {session}, lid {lid}: reading from the pipe."


def recheck_sentence(full: int, labels: Sequence[str]) -> str:
    """Say which positions a re-check asks for."""
    return f"Re-check on the shape of round {full}: {', '.join(labels)}; three will do."


def preheat_sentence(labels: Sequence[str]) -> str:
    """Say how to follow the preheat."""
    return f"Preheat: shoot {joined(labels)} in turn, half a minute apart; done (*) goes to the map at once."


def on_to_the_map_sentence(rise: str) -> str:
    """Say that the preheat is over; `rise` is how fast the grate still rises."""
    return f"{rise} On to the map."


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


def lid_taken_sentence(lid: str) -> str:
    """Say how the lid is taken to be where nobody said."""
    return f"Then the lid is taken as {lid}; lid open or lid closed corrects it."


def another_round_question(grill: Grill, changed: Mapping[str, float]) -> str:
    """Ask whether another round starts; `changed` are the marks that are advised."""
    with_marks = f", with the knobs turned as advised ({marks_text(grill, changed)})" if changed else ""
    turn = " t when they are turned, and the wait is counted down;" if changed else ""
    return f"\nAnother round{with_marks}?{turn} y starts it, Enter ends:"


def lost_sentence(why: str) -> str:
    """Say that a number is not on the disk."""
    return f"{why}. Note it on paper, mend that, and type it again."


def not_a_reading_sentence(line: str, why: str) -> str:
    """Say what came from the port instead of a reading."""
    return f"From the port, not a reading: {line[:40]!r}: {why}"


def rejected_sentence(count: int) -> str:
    """Say how many lines of the port were no readings."""
    return f"Lines from the port that were no readings: {count}."


def stopped_sentence(count: int, number: int, log: str) -> str:
    """Say, where a round is broken off, what is safe."""
    return f"\nStopped. {_readings(count)} of round {number} safe in {log}; gratemap take --continue goes on."


def pipe_over_sentence(count: int, log: str, refused: int) -> str:
    """Say what came of a pipe."""
    return f"{_readings(count)} kept in {log}, lines refused: {refused}."


def _readings(count: int) -> str:
    return f"{count} reading{'' if count == 1 else 's'}"


def no_map_sentence(why: str) -> str:
    """Say why a round ends without a map."""
    return f"No map yet: {why}"


def mute_sentence(program: str, why: str | None) -> str:
    """Say that a speaking program failed."""
    return f"{program} does not speak: {why}. Going on without."


def where_lines(cook: str, watch: str, host: str, *, local: bool) -> list[str]:
    """Say at which addresses the page is, and who reaches it."""
    reach = f"Phones on the network of {host} reach it. Plain HTTP: use a hotspot of your own (gratemap manual page)."
    if local:
        reach = "Only this machine reaches it. For a phone name this machine's address on its network: --host."
    return [f"The page, for the cook: {cook}", f"To watch only: {watch}", reach]


def page_closed_sentence(count: int, log: str) -> str:
    """Say, as the page ends, what is safe."""
    return f"The page is closed. {count} row{' is' if count == 1 else 's are'} safe in {log}."
