"""A sitting at the keyboard: rounds are taken, typed or from the port, and what else is needed is asked."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from functools import partial
from signal import Signals
from typing import TYPE_CHECKING, Any, TypeVar

import typer

import heatmap
import heatmap.words.taking as said
from cli import console
from cli.console import is_terminal
from cli.take import Plan
from cli.take_begin import Lid, begin, begin_next, final_answer, last_marks, lid_from, marks_answered, now, recheck_walk
from cli.take_inputs import Arrived, Inputs, NoMoreLines, port_into, signals_into
from cli.take_screen import Screen, Speaker
from heatmap.errors import HeatmapError, LogError, ReadingError
from heatmap.grate_model.settling import usual_minutes
from heatmap.page.entries import Entry
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import group_rounds
from heatmap.readings.typed import Again, Done, Fix, Help, Noted, RowOfShots, Shot, Turned, Typed, Undo, parse_typed
from heatmap.serial_port import Rejected
from heatmap.taking.preheat import rise
from heatmap.taking.session import Event, Outcome, Session
from heatmap.taking.sitting import Sitting
from heatmap.taking.walk import walk_order
from heatmap.words.round import rise_sentence

if TYPE_CHECKING:
    from heatmap.page.desk import Desk

Answer = TypeVar("Answer")

#: Nothing below this, in the grill's units, is taken as a shot where something else was asked.
NO_SHOT_BELOW = 99.0

#: What begins the next round where that is asked.
_YES = ("y", "yes")
#: When nothing is typed for so long, what takes longer is looked into.
_IDLE_S = 0.25
#: Number of the signal for a terminal that has gone, also where a system has no such signal.
_HANG_UP = 1
#: The note of what is shot while the grate heats up.
_PREHEAT = "preheat"
#: So many lines from the port that are no readings are shown; the rest are counted.
_SHOWN_REJECTED = 5


def take_rounds(plan: Plan, log: ReadingsLog) -> None:
    """Take rounds, typed or from the port, until the cook has had enough."""
    inputs = Inputs()
    with contextlib.ExitStack() as opened:
        opened.enter_context(signals_into(inputs))
        port = None if plan.port is None else opened.enter_context(port_into(plan, log.grill, inputs))
        taking = Taking(plan, log, inputs, port)
        if plan.page:
            from cli.page import PageServer, listen, say_where

            server = PageServer(listen(plan.host, plan.page_port), plan, taking.sitting, inputs.put)
            taking.desk = opened.enter_context(server).desk
            say_where(server, say_url=False)
        inputs.type_from(sys.stdin)
        taking.run()


class Taking:
    """The loop: hear, do, show; what it tells and asks; and the page where there is one."""

    def __init__(self, plan: Plan, log: ReadingsLog, inputs: Inputs, port: Callable[[], None] | None = None) -> None:
        """Prepare the first round; `port` is to be called when the gun of the port points at another place."""
        self.plan, self.grill, self.log, self.inputs, self.port = plan, log.grill, log, inputs, port
        self.screen = Screen(port=plan.port is not None)
        self._speaker = None if plan.speak is None else Speaker(plan.speak, self.screen.tell)
        self.sitting = Sitting(begin(plan, log.grill, log.readings, now()), log, lambda: now())
        self.desk: Desk | None = None  # of the page, where there is one
        self.keyboard = True
        self._at_terminal = is_terminal()
        self._rejected = 0  # lines from the port that were no readings

    @property
    def session(self) -> Session:
        """The round being taken."""
        return self.sitting.session

    @property
    def preheating(self) -> bool:
        """Whether it is watched how the grate heats up; no map is made of that."""
        return self.session.note == _PREHEAT

    def run(self) -> None:
        """Take round after round."""
        if self.desk is not None and self._at_terminal:
            self._answered(lambda: said.SCAN_IT, str)
        self._open_round()
        if self.plan.preheat:
            labels = walk_order(self.grill)[:2]
            self.session.note, self.session.order, self.session.calibrations = _PREHEAT, labels, {}
            self.screen.tell(said.preheat_sentence(labels))
        while True:
            while not self._take_round():
                self._next_round({})  # the preheat shots are no part of the map
            if self._rejected:
                self.screen.tell(said.REJECTED.format(count=self._rejected))
            self.screen.tell(self.session.turns_not_written())
            decision = final_answer(self.session, self.log, as_json=self.plan.as_json)
            if self.plan.as_json or not self._another_round(decision):
                return

    # Beginning

    def _open_round(self) -> None:
        number, readings = self.session.number, self.session.readings
        if readings:
            self.screen.tell(said.GOING_ON.format(round=number, count=len(readings)))
            self.screen.tell(self.session.marks_known())
        else:
            may_go_on = bool(self.session.earlier) and self.plan.number is None
            self.screen.tell(said.begun_sentence(number, self.session.name, may_go_on=may_go_on))
            self.tell_too_soon()
            if is_terminal():
                self.ask_knobs()
                self.ask_lid()
        if self.plan.recheck:
            self.screen.tell(recheck_walk(self.session))
        self.sitting.map.update(self.session)
        self.show(Outcome())

    def _next_round(self, changed: Mapping[str, float]) -> None:
        before = self.session
        if any(one.aim == "valley" for one in before.readings):
            self.plan = replace(self.plan, close_up=False)  # one round with pairs from close up is enough
        self.sitting.go_on_with(begin_next(self.plan, self.sitting))
        self.session.knobs.update(changed)
        self._open_round()

    # The round

    def _take_round(self) -> bool:
        """Hear, do and show until the round is over; False when it was the preheat that is over."""
        self.screen.draw(self.session, self.sitting.map.running)
        self.speak()
        over = False
        while not over:
            event = self._next_event()
            if isinstance(event, NoMoreLines):
                self.keyboard = False
                # It may be the first sign that the terminal has gone; nobody could read an answer.
                later = self._next_event(_IDLE_S) if self._at_terminal else None
                if self._at_terminal and not is_terminal():
                    self.stop(_HANG_UP)
                if later is not None:
                    self.inputs.put_back(later)
                if self.port is None or is_terminal():
                    return True  # in the preheat too: nobody is there to go on to the map
            else:
                over = self._hear(event)
            # Without a keyboard nobody can say done: the round is over when every position has its reading.
            over = over or (not self.keyboard and self.session.passes > 0 and not self.session.ahead)
        return not self.preheating

    def _hear(self, event: Any) -> bool:
        """Do what was typed or came from the port, and show what came of it; True at the end of the round."""
        if isinstance(event, Entry):
            if page_came := self._answer_page(event):
                for text in page_came.told:
                    self.screen.tell(said.FROM_PAGE.format(told=text))
                self.speak(page_came.written)
                self._show()
            return False
        turned = self.session.turned
        try:
            came = self.do(self._said(event))
        except ReadingError as error:
            self.screen.tell_now(str(error))
            came = Outcome()
        if came.over:
            return True
        if self.session.turned not in (None, turned):
            if self.session.readings:
                self.screen.tell(said.IT_WILL_MOVE)
            else:
                self.count_down()
                self.tell_too_soon()
        elif self.session.doubts or not (came.written or came.told):
            self.screen.prompt(self.session)
            return False
        self._show()
        return False

    def _answer_page(self, entry: Entry) -> Outcome | None:
        """Answer what a phone sent; None where nothing came of it."""
        assert self.desk is not None
        session, came = self.session, self.desk.came if self.desk.answer(entry) else None
        if self.session is not session:
            self.screen.tell(said.BEGUN_ON_PAGE.format(round=self.session.number))
        return came

    def _show(self) -> None:
        """Map and draw; the preheat is done once the grate is steady."""
        found = rise(self.session.readings, self.grill.gun)
        line = rise_sentence(found, self.grill, preheating=self.preheating)
        if self.preheating and found is not None and found.is_steady:
            self.screen.tell(said.ON_TO_THE_MAP.format(rise=line))
            self.inputs.put_back("done")
            return
        if not self.preheating:
            self.show(self.sitting.update_map())
        self.screen.draw(self.session, self.sitting.map.running, line)

    def _said(self, event: Any) -> str | Event:
        """Return a typed line, or the shots that came from the port; what else came is told."""
        if isinstance(event, str):
            if self.port is not None:
                self.port()
            return event
        if isinstance(event, BaseException):
            raise event
        assert isinstance(event, Arrived)
        self.screen.tell(event.notice)
        for item in event.items:
            if isinstance(item, Rejected):
                self._rejected += 1
                if self._rejected <= _SHOWN_REJECTED + 1:
                    text = said.NOT_A_READING.format(line=item.text[:40], why=item.why)
                    self.screen.tell(text if self._rejected <= _SHOWN_REJECTED else said.ONLY_COUNTED)
        return tuple(item for item in event.items if not isinstance(item, Rejected)) or Again()

    # The end

    def _another_round(self, decision: heatmap.Decision | None) -> bool:
        """Ask whether a new round starts, with the marks taken over and changed as advised."""
        if not (is_terminal() and self.keyboard) or not self.session.readings:
            return False
        over = self.session
        asked = decision.settings if decision is not None and decision.do == "turn" else {}
        over.advised = {name: mark for name, mark in asked.items() if mark != over.knobs.get(name)}
        changed = dict(over.advised)

        def read(text: str) -> bool | None:
            """Tell whether a round is to start; None to be asked again."""
            if text.casefold() in ("", "n", "no", *_YES):
                return text.casefold() in _YES
            event = self.understood(text)
            if isinstance(event, Done):
                return False
            if not isinstance(event, Turned | Undo | Noted | Fix):
                raise ReadingError(said.HELP if isinstance(event, Help) else said.NOT_UNDERSTOOD)
            self.do(event)
            if not isinstance(event, Turned):
                return None
            changed.clear()
            return self.count_down() or None

        question = partial(said.another_round_question, self.grill, changed)
        starts = self._answered(question, read, until_shot=False) is not False  # a shot starts it as well
        if starts and self.session is over:
            self._next_round(changed)
        return starts or self.session is not over

    # What is told

    def do(self, what: str | Event) -> Outcome:
        """Have something heard and written, and show what came of it."""
        try:
            came = self.sitting.hear(what)
        except LogError as error:
            came = Outcome(told=[said.LOST.format(why=error)], rings=2)
        self.show(came)
        if came.help:
            self.screen.tell_now(said.HELP)
        return came

    def show(self, came: Outcome) -> None:
        """Show what came of something, and have the numbers said that are on the disk."""
        for text in came.told:
            self.screen.tell(text)
        if self.plan.bell:
            console.put("\a" * came.rings)
        if any(one.shown_c is not None for one in came.written):
            self.speak(came.written)
        if self.desk is not None:
            self.desk.changed()

    def speak(self, written: Sequence[heatmap.Reading] = ()) -> None:
        """Have the last number that was kept and the next position said."""
        if self._speaker is not None:
            numbers = [said.number_text(one.shown_c, self.grill.display) for one in written if one.shown_c is not None]
            last = f"{numbers[-1]}. " if numbers else ""
            self._speaker.say(f"{last}{self.session.asked[0]} {self.session.asked[1:]}")

    def stop(self, signal_number: int) -> None:
        """End at once; every reading acknowledged is on the disk."""
        session = self.session
        self.screen.tell(said.stopped_sentence(len(session.readings), session.number, self.log.name))
        self.screen.tell(session.turns_not_written())
        raise typer.Exit(128 + signal_number)

    def _next_event(self, within_s: float | None = None) -> Any:
        """Wait for what happens next, None when the time is over; a signal ends the session."""
        event = self.inputs.get(within_s)
        if isinstance(event, Signals):
            self.stop(event)
        return event

    # What is typed where something is asked

    def next_line(self, *, until_shot: bool = False, within_s: float | None = None) -> str | None:
        """Wait for a typed line; None says that the time is over.

        An empty line stands for the end of the keyboard, for a round begun on the page and, with `until_shot`, for a
        shot from the port or the page. What the port sends waits its turn.
        """
        later = []
        session = self.session
        try:
            while (event := self._next_event(within_s)) is not None:
                if isinstance(event, str):
                    return event
                if isinstance(event, Entry):
                    if came := self._answer_page(event):
                        self.show(self.sitting.update_map())
                    kept = came is not None and any(one.shown_c is not None for one in came.written)
                    if self.session is not session or (until_shot and kept):
                        return ""
                    continue
                later.append(event)
                shots = isinstance(event, Arrived) and not all(isinstance(one, Rejected) for one in event.items)
                if isinstance(event, NoMoreLines) or (until_shot and shots):
                    return ""
            return None
        finally:
            self.inputs.put_back(*later)

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
        self,
        question: Callable[[], str],
        read: Callable[[str], Answer | None],
        *,
        above: float = NO_SHOT_BELOW,
        until_shot: bool = True,
    ) -> Answer | None:
        """Put a question until its answer can be read, and is not None; None where the cook shoots, above any."""
        answer = None
        while answer is None:
            console.put_question(question())
            text = (self.next_line(until_shot=until_shot) or "").strip()
            if self.is_a_shot(text, above):
                self.inputs.put_back(text)
                return None
            try:
                answer = read(text)
            except ReadingError as error:
                self.screen.tell(str(error))
        return answer

    # What is asked as a round begins

    def ask_knobs(self) -> None:
        """Ask once where the knobs stand; Enter keeps what is known of them."""
        unknown = [burner for burner in self.grill.settable if burner.name not in self.session.knobs]
        if not unknown:
            return
        last = last_marks(self.session.earlier)
        marks = self._answered(
            partial(said.knobs_question, unknown, last),
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
        session, earlier = self.session, self.session.earlier
        if self.plan.lid or session.readings or any(one.session == session.name for one in earlier):
            return
        question = partial(said.lid_question, session.lid, earlier[-1].number if earlier else None)
        lid: Lid | None = self._answered(question, lambda text: lid_from(text, session.lid))
        if lid is None:
            self.screen.tell(said.LID_TAKEN.format(lid=session.lid))
        session.lid = lid or session.lid
        self.plan = replace(self.plan, lid=session.lid)  # asked once

    # Waiting

    def _come_at(self) -> datetime | None:
        """Return when the change of the last turn of knobs has come; None where no shot has waited for one.

        It takes as long as the rounds tell of this grate, as long as is usual without them.
        """
        turned = self.session.turned
        if turned is None and self.session.earlier:
            turned = next(reversed(self.session.earlier[-1].turned_after), None)
        if turned is None or turned.taken_at is None:
            return None
        minutes = usual_minutes(self.grill.burners)
        with contextlib.suppress(HeatmapError):
            minutes = heatmap.assess(self.grill, group_rounds(self.log.readings)).model.minutes_of_change
        return turned.taken_at + timedelta(minutes=minutes)

    def tell_too_soon(self) -> None:
        """Say by how much a round is begun before the change of its knobs has come."""
        if (until := self._come_at()) is not None:
            self.screen.tell(said.too_soon_sentence(until - now()))

    def count_down(self) -> bool:
        """Count the wait after a turn of knobs down, in big letters; False where what is heard next cuts it short."""
        until, turned = self._come_at(), self.session.turned
        if until is None or turned is None or turned.taken_at is None or not is_terminal():
            return True
        told = turned_told = said.turned_sentence(said.marks_text(self.grill, turned.knobs), turned.taken_at, until)
        self.screen.tell(told)
        while (left := until - now()) > timedelta(0):
            console.show_large(told if self.screen.clears else "", said.left_text(left), said.COUNTED_DOWN)
            step_s = min(1.0 if self.screen.clears else 60.0, left.total_seconds())
            text = self.next_line(until_shot=True, within_s=step_s)
            if text is None:
                continue
            if text.strip().casefold() in ("", *_YES):
                return True
            if self.is_a_shot(text) or isinstance(self.understood(text), Done | Turned | Undo | Noted):
                self.inputs.put_back(text)
                return False
            self.screen.tell(said.NOT_UNDERSTOOD)
            told = f"{turned_told}\n{said.NOT_UNDERSTOOD}"
        console.put("\a")  # asked for or not: somebody waits for it
        return True
