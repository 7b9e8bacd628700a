"""What a session asks besides numbers: where the knobs stand, how the lid was, and a wait that is counted down."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any, TypeVar

import typer

import heatmap.words.taking as said
from cli import console
from cli.big_letters import show_large
from cli.console import is_terminal
from cli.take_begin import begin, last_marks, lid_from, marks_answered, now
from cli.take_inputs import OF_TAKE, Arrived, Inputs, Line, NoMoreLines, Stop
from cli.take_screen import Screen, Speaker, spoken
from heatmap.assessment import assess
from heatmap.errors import HeatmapError, LogError, ReadingError
from heatmap.grate_model.settling import minutes_of_change, usual_minutes
from heatmap.readings.reading import Reading, group_rounds
from heatmap.readings.typed import Done, Help, RowOfShots, Shot, Typed, parse_typed
from heatmap.taking.sitting import Outcome, Sitting
from heatmap.taking.standing import Change, Effect
from heatmap.words.taking import HELP, left_text, marks_text, number_text, too_soon_sentence, turned_sentence

if TYPE_CHECKING:
    from cli.page_server import PageServer
    from cli.take import Plan
    from heatmap.grill.grill import Grill
    from heatmap.readings.log import ReadingsLog
    from heatmap.taking.session import Session

Answer = TypeVar("Answer")

#: Nothing below this, in the grill's units, is taken as a shot where something else was asked.
NO_SHOT_BELOW = 99.0


class Asking:
    """A sitting with its screen and its inputs, and the page where there is one; what it tells and asks."""

    def __init__(self, plan: Plan, grill: Grill, log: ReadingsLog, inputs: Inputs) -> None:
        """Prepare the first round."""
        self.plan, self.grill, self.log, self.inputs = plan, grill, log, inputs
        self.screen = Screen(bell=plan.bell, port=plan.port is not None)
        self._speaker = None if plan.speak is None else Speaker(plan.speak, self.screen.tell)
        self.sitting = Sitting(begin(plan, grill, log.readings, now()), log, lambda: now())
        self.page: PageServer | None = None

    @property
    def session(self) -> Session:
        """The round being taken."""
        return self.sitting.session

    # What is told

    def do(self, effects: Sequence[Effect]) -> bool:
        """Do what the session asks for, and show what came of it; True when the round is over."""
        try:
            came = self.sitting.carry_out(effects)
        except LogError as error:
            is_lost = any(one.new for one in effects if isinstance(one, Change))
            self.screen.tell(said.lost_sentence(str(error)) if is_lost else str(error))
            self.screen.ring(2 * is_lost)
            return False
        self.show(came)
        if Help() in effects:
            self.screen.tell_now(HELP)
        return Done() in effects

    def show(self, came: Outcome) -> None:
        """Show what came of something, and have the numbers said that are on the disk."""
        for text in came.told:
            self.screen.tell(text)
        self.screen.ring(came.rings)
        if numbers := [one for one in came.written if one.shown_c is not None]:
            self.speak(numbers)

    def speak(self, kept: Sequence[Reading]) -> None:
        """Have the last number kept and the next position said."""
        if self._speaker is not None:
            last = f"{number_text(kept[-1].shown_c, self.grill.display)}. " if kept else ""
            self._speaker.say(f"{last}{spoken(self.session.asked)}")

    def stop(self, event: Stop) -> None:
        """End at once; every reading acknowledged is on the disk."""
        session = self.session
        self.screen.tell(said.stopped_sentence(len(session.readings), session.number, self.log.name))
        self.screen.tell(session.turns_not_written())
        raise typer.Exit(128 + event.number)

    # What is typed where something is asked

    def next_line(self, *, until_shot: bool = False, within_s: float | None = None) -> str | None:
        """Wait for a typed line; None says that the time is over.

        An empty line stands for the end of the keyboard, for a round begun on the page and, with `until_shot`, for a
        shot from the port or the page. What the port sends waits its turn.
        """
        later = []
        session = self.session
        try:
            while (event := self.inputs.get(within_s)) is not None:
                if isinstance(event, Stop):
                    self.stop(event)
                if isinstance(event, Line):
                    return event.text
                if self.is_of_page(event):
                    kept = self._answer_page(event)
                    if self.session is not session or (until_shot and kept):
                        return ""
                    continue
                later.append(event)
                shots = isinstance(event, Arrived) and bool(event.shots)
                if isinstance(event, NoMoreLines) or (until_shot and shots):
                    return ""
            return None
        finally:
            self.inputs.put_back(*later)

    def is_of_page(self, event: Any) -> bool:
        """Tell whether a phone sent it."""
        return not isinstance(event, OF_TAKE)

    def _answer_page(self, event: Any) -> bool:
        """Answer what a phone sent while something is asked here; True where a number of it was kept."""
        assert self.page is not None
        if self.page.desk.answer(event):
            self.page.desk.follow_up()
        return any(one.shown_c is not None for one in self.page.desk.came.written)

    def understood(self, text: str) -> Typed | None:
        """Return what a line says to a round; None for nothing."""
        with contextlib.suppress(ReadingError):
            return parse_typed(text, self.grill)
        return None

    def is_a_shot(self, text: str, above: float = NO_SHOT_BELOW) -> bool:
        """Tell whether a cook who was asked something has begun to shoot: with numbers above any answer."""
        event = self.understood(text)
        shots = event.shots if isinstance(event, RowOfShots) else (event,) if isinstance(event, Shot) else ()
        display = self.grill.display
        return bool(shots) and all(display.temperature(shot.shown_c) > above for shot in shots)

    def _answered(
        self, question: str, read: Callable[[str], Answer], *, above: float, until_shot: bool
    ) -> Answer | None:
        """Put a question until its answer can be read; None where the cook shoots, a number above any."""
        while True:
            self.screen.ask(question)
            text = self.next_line(until_shot=until_shot) or ""
            try:
                return read(text)
            except ReadingError as error:
                if self.is_a_shot(text, above):
                    self.inputs.put_back(Line(text))
                    return None
                self.screen.tell(str(error))

    # What is asked as a round begins

    def ask_knobs(self) -> None:
        """Ask once where the knobs stand; Enter keeps what is known of them."""
        unknown = [
            burner
            for burner in self.grill.burners
            if burner.control != "none" and burner.name not in self.session.knobs
        ]
        if not unknown or self.session.readings or not is_terminal():
            return
        last = last_marks(self.session.earlier)
        marks = self._answered(
            said.knobs_question(unknown, last),
            lambda text: marks_answered(text, self.grill, unknown, last),
            above=max(burner.high for burner in unknown),
            until_shot=False,
        )
        if marks is None:
            self.screen.tell(said.MARKS_UNKNOWN)
        self.session.knobs.update(marks or {})

    def ask_lid(self) -> None:
        """Ask once a session how the grate heated, where neither the command line nor an earlier round of it tells.

        The first shot, typed or from the port, is an answer as well: the lid is taken to be as it was last.
        """
        session, last = self.session, next(reversed(self.session.earlier), None)
        told = self.plan.lid is not None or any(one.session == session.name for one in self.session.earlier)
        if told or session.readings or not is_terminal():
            return
        lid = self._answered(
            said.lid_question(session.lid, last.number if last else None),
            lambda text: lid_from(text, session.lid),
            above=NO_SHOT_BELOW,
            until_shot=True,
        )
        if lid is None:
            self.screen.tell(said.lid_taken_sentence(session.lid))
        session.lid = lid or session.lid

    # Waiting

    def _wait_min(self) -> float:
        """Return the minutes a change takes on this grate, as its rounds tell; the usual without them."""
        rounds = [one for one in group_rounds(self.log.readings) if one.readings]
        if rounds:
            with contextlib.suppress(HeatmapError):
                return minutes_of_change(assess(self.grill, rounds).round_map.model)
        return usual_minutes(self.grill.burners)

    def _come_at(self) -> datetime | None:
        """Return when the change of the last turn of knobs has come; None where no shot has waited for one."""
        turned = self.session.turned
        if turned is None and self.session.earlier and not self.session.readings:
            turned = next(reversed(self.session.earlier[-1].turned_after), None)
        if turned is None or turned.taken_at is None:
            return None
        return turned.taken_at + timedelta(minutes=self._wait_min())

    def tell_too_soon(self) -> None:
        """Say by how much a round is begun before the change of its knobs has come."""
        until = None if self.session.readings else self._come_at()
        if until is not None:
            self.screen.tell(too_soon_sentence(until - now()))

    def count_down(self) -> str:
        """Count the wait after a turn of knobs down, in big letters; return what was typed meanwhile, "" at the end."""
        until, turned = self._come_at(), self.session.turned
        if until is None or turned is None or turned.taken_at is None or not is_terminal():
            return ""
        told = turned_sentence(marks_text(self.grill, turned.knobs), turned.taken_at, until)
        self.screen.tell(told)
        while (left := until - now()) > timedelta(0):
            show_large(told if self.screen.clears else "", left_text(left), said.COUNTED_DOWN)
            step_s = 1.0 if self.screen.clears else 60.0
            text = self.next_line(until_shot=True, within_s=min(step_s, left.total_seconds()))
            if text is not None:
                return text.strip() or "y"
        console.put("\a")  # asked for or not: somebody waits for it
        return ""
