"""Run a session: the log, the screen, the keyboard and the port around :class:`heatmap.taking.session.Session`."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import heatmap.words.taking as said
from cli.console import is_terminal
from cli.take import Plan
from cli.take_asking import Asking
from cli.take_begin import begin_next, final_answer, now, recheck_walk
from cli.take_inputs import Arrived, Inputs, Line, NoMoreLines, PortReader, Stop, signals_into
from heatmap.errors import ReadingError
from heatmap.grill.grill import Grill
from heatmap.readings.log import ReadingsLog
from heatmap.readings.typed import Noted, Turned, Undo
from heatmap.taking.preheat import rise
from heatmap.taking.standing import Change, Effect, Known, Tell
from heatmap.taking.walk import Walk, walk_order
from heatmap.words.round import rise_sentence

if TYPE_CHECKING:
    from heatmap.decisions.decision import Decision

#: When nothing is typed for so long, what takes longer is looked into.
_IDLE_S = 0.25
#: Number of the signal for a terminal that has gone, also where a system has no such signal.
_HANG_UP = 1
#: So many lines from the port that are no readings are shown; the rest are counted.
_SHOWN_REJECTED = 5


def take_rounds(plan: Plan, grill: Grill, log: ReadingsLog) -> None:
    """Take rounds, typed or from the port, until the cook has had enough."""
    inputs = Inputs()
    with ExitStack() as opened:
        opened.enter_context(signals_into(inputs))
        port = None
        if plan.port is not None:
            port = opened.enter_context(PortReader(plan, grill, inputs))
        taking = Taking(plan, grill, log, inputs, port)
        if plan.page:
            from cli.page_server import PageServer, listen, say_where

            server = PageServer(listen(plan.host, plan.page_port), plan, taking.sitting, inputs.put)
            taking.page = opened.enter_context(server)
            say_where(taking.page, say_url=False)
        inputs.type_from(sys.stdin)
        taking.run()


class Taking(Asking):
    """The loop: hear, do, show."""

    def __init__(
        self, plan: Plan, grill: Grill, log: ReadingsLog, inputs: Inputs, port: PortReader | None = None
    ) -> None:
        """Prepare the first round."""
        super().__init__(plan, grill, log, inputs)
        self.port = port
        self.keyboard = True
        self.preheating = False
        self._walk_after = self.session.walk  # what a preheat without a shot goes on to
        self._at_terminal = is_terminal()
        self._rejected = 0  # lines from the port that were no readings

    def run(self) -> None:
        """Take round after round."""
        if self.page is not None and self._at_terminal:
            self.screen.ask(said.SCAN_IT)
            if self.is_a_shot(text := self.next_line(until_shot=True) or ""):
                self.inputs.put_back(Line(text))
        self._open_round()
        if self.plan.preheat:
            self._begin_preheat()
        while True:
            while not self._take_round():
                self._map_after_preheat()
            decision = self._finish()
            if self.plan.as_json or not self._another_round(decision):
                return

    # Beginning

    def _open_round(self) -> None:
        number, readings = self.session.number, self.session.readings
        self.sitting.look_back()
        if readings:
            self.screen.tell(said.going_on_sentence(number, len(readings)))
            self.screen.tell(self.session.marks_known())
        else:
            may_go_on = bool(self.session.earlier) and self.plan.number is None
            self.screen.tell(said.begun_sentence(number, self.session.name, may_go_on=may_go_on))
        self.tell_too_soon()
        self.ask_knobs()
        self.ask_lid()
        if self.plan.recheck:
            full = recheck_walk(self.session.earlier, self.session)
            self.screen.tell(said.recheck_sentence(full, self.session.walk.order))
        self.sitting.map.update(self.session)
        if self.page is not None:
            self.page.desk.kind = "recheck" if self.plan.recheck else "full"
        self._show_on_page()

    # Preheat

    def _begin_preheat(self) -> None:
        labels = walk_order(self.grill)[:2]
        self.preheating = True
        self._walk_after = self.session.walk
        self.session.note = "preheat"
        self.session.walk = Walk.over(labels)
        self.session.known = Known(calibrations={})
        self.screen.tell(said.preheat_sentence(labels))

    def _map_after_preheat(self) -> None:
        """Go on to a round of its own: the preheat shots are no part of the map. Without any it is this one."""
        self.preheating = False
        if self.session.readings:
            self._next_round(dict(self.session.knobs))
            return
        self.session.note, self.session.walk = "", self._walk_after
        self.sitting.map.update(self.session)

    def _next_round(self, marks: dict[str, float]) -> None:
        before = self.session
        if any(one.aim == "valley" for one in before.readings):
            self.plan = replace(self.plan, close_up=False)  # one round with pairs from close up is enough
        self.sitting.session = begin_next(self.plan, before, self.log.readings)
        self.session.knobs.update(marks)
        self._open_round()

    # The round

    def _take_round(self) -> bool:
        """Hear, do and show until the round is over; False when it was the preheat that is over."""
        self.screen.draw(self.session, self.sitting.map.running)
        self.speak(())
        while True:
            event = self.inputs.get(None)
            if isinstance(event, Stop):
                self.stop(event)
            if isinstance(event, NoMoreLines):
                self.keyboard = False
                self._stop_if_hung_up()
                over = self.port is None or is_terminal()
                self.preheating &= not over
            else:
                over = self._hear(event)
            # Without a keyboard nobody can say done: the round is over when every position has its reading.
            if over or (not self.keyboard and self.session.walk.passes > 0 and not self.session.near):
                return not self.preheating

    def _stop_if_hung_up(self) -> None:
        """The end of the keyboard may be the first sign that the terminal has gone; nobody could read an answer."""
        later = self.inputs.get(_IDLE_S) if self._at_terminal else None
        if isinstance(later, Stop):
            self.stop(later)
        if self._at_terminal and not is_terminal():
            self.stop(Stop(_HANG_UP))
        if later is not None:
            self.inputs.put_back(later)

    def _hear(self, event: Any) -> bool:
        """Do what was typed or came from the port, and show what came of it; True at the end of the round."""
        if self.is_of_page(event):
            return self._hear_page(event)
        self.screen.heard()
        try:
            if isinstance(event, Line):
                if self.port is not None:
                    self.port.next_place()
                effects = self.session.hear_line(event.text, now())
            else:
                effects = self._arrived(event)
        except ReadingError as error:
            self.screen.tell_now(str(error))
            self.screen.prompt(self.session)
            return False
        turned = self.session.turned
        over = self.do(effects)
        self._show_on_page()
        if over:
            return True
        if self.session.turned not in (None, turned):
            return self._after_turn()
        if self.session.doubts or not any(isinstance(one, Change | Tell) for one in effects):
            self.screen.prompt(self.session)
            return False
        return self._show()

    def _hear_page(self, event: Any) -> bool:
        """Answer what a phone sent, and show here what came of it; True where the preheat is over by it."""
        assert self.page is not None
        session, desk = self.session, self.page.desk
        self.screen.heard()
        if not desk.answer(event):
            return False
        self._show_on_page()
        for text in desk.came.told:
            self.screen.tell(said.from_page_sentence(text))
        self.speak([one for one in desk.came.written if one.shown_c is not None])
        if self.session is not session:
            self.preheating = False
            self._begun_on_page()
        return self._show()

    def _begun_on_page(self) -> None:
        self.screen.tell(said.begun_on_page_sentence(self.session.number))

    def _show_on_page(self) -> None:
        if self.page is not None:
            self.page.desk.changed()

    def _after_turn(self) -> bool:
        """Go on after knobs were turned: wait where the round has no shot yet; True where the cook ends it then."""
        if self.session.readings:
            self.screen.tell(said.IT_WILL_MOVE)
            return self._show()
        answer = self.count_down()
        if answer in ("*", "done"):
            return True
        if answer and answer.casefold() not in ("y", "yes"):
            self.inputs.put_back(Line(answer))
        self.tell_too_soon()
        return self._show()

    def _show(self) -> bool:
        """Map and draw; True when the preheat is over."""
        found = rise(self.session.readings, self.grill.gun)
        line = rise_sentence(found, self.grill, preheating=self.preheating)
        if self.preheating and found is not None and found.is_steady:
            self.screen.tell(said.on_to_the_map_sentence(line))
            return True
        if not self.preheating:
            self.show(self.sitting.update_map())
            self._show_on_page()
        running = None if self.preheating else self.sitting.map.running
        self.screen.draw(self.session, running, line)
        return False

    def _arrived(self, event: Any) -> list[Effect]:
        if isinstance(event, BaseException):
            raise event
        assert isinstance(event, Arrived)
        self.screen.tell(event.notice)
        for item in event.rejected:
            self._rejected += 1
            if self._rejected <= _SHOWN_REJECTED:
                self.screen.tell(said.not_a_reading_sentence(item.text, item.why))
            elif self._rejected == _SHOWN_REJECTED + 1:
                self.screen.tell(said.ONLY_COUNTED)
        return self.session.hear(event.shots, now()) if event.shots else []

    # The end

    def _finish(self) -> Decision | None:
        """Show the verdict."""
        if self._rejected:
            self.screen.tell(said.rejected_sentence(self._rejected))
        self.screen.tell(self.session.turns_not_written())
        return final_answer(self.session, self.log, as_json=self.plan.as_json)

    def _another_round(self, decision: Decision | None) -> bool:
        """Ask whether a new round starts, with the marks taken over and changed as advised."""
        if not (is_terminal() and self.keyboard) or self.screen.gone or not self.session.readings:
            return False
        over = self.session
        asked = decision.settings if decision is not None and decision.do == "turn" else {}
        marks = {**over.knobs, **asked}
        changed = {name: mark for name, mark in marks.items() if mark != over.knobs.get(name)}
        over.advised = changed
        answer = ""
        while self.session is over:
            if not answer:
                self.screen.ask(said.another_round_question(self.grill, changed))
                answer = (self.next_line() or "").strip()
            event = self.understood(answer)
            if not isinstance(event, Turned | Undo | Noted):
                break
            answer = ""
            try:
                self.do(over.hear(event, now()))
            except ReadingError as error:
                self.screen.tell(str(error))
                continue
            if isinstance(event, Turned):
                marks = dict(over.knobs)
                answer = self.count_down() or "y"
        if self.session is not over:
            self._begun_on_page()
            return True
        if self.is_a_shot(answer):
            self.inputs.put_back(Line(answer))
        elif answer.casefold() not in ("y", "yes"):
            return False
        self._next_round(marks)
        return True
