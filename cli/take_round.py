"""Run a session: the log, the screen, the keyboard and the port around :class:`heatmap.taking.session.Session`."""

from __future__ import annotations

import contextlib
import sys
import textwrap
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import typer

from cli import console
from cli.take import Plan
from cli.take_begin import begin, begin_next, last_marks, last_round, lid_from, marks_in_order, now, recheck_walk
from cli.take_inputs import Arrived, Inputs, Line, NoMoreLines, PortFailed, Stop, is_terminal, signals_into
from cli.take_screen import Screen
from heatmap.errors import InputError, LogError, ReadingError
from heatmap.grill.grill import Grill
from heatmap.grill.toml import load_grill
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import Reading, group_rounds
from heatmap.readings.typed import Noted, RowOfShots, Shot, Turned, Undo, parse_typed
from heatmap.taking.effects import Effect
from heatmap.taking.preheat import rise
from heatmap.taking.session import Session
from heatmap.taking.sitting import Audience, Sitting
from heatmap.taking.standing import Known
from heatmap.taking.walk import Walk, walk_order
from heatmap.units import Display
from heatmap.words.running import rise_sentence
from heatmap.words.taking import HELP, marks_text

if TYPE_CHECKING:
    from cli.page_server import PageServer
    from cli.take_port import PortReader
    from cli.take_speak import Speaker
    from heatmap.decisions.decision import Decision

Answer = TypeVar("Answer")

#: When nothing is typed for so long, what takes longer is looked into.
_IDLE_S = 0.25
#: Nothing below this, in the grill's units, is taken as a shot where something else was asked.
_NO_SHOT_BELOW = 99.0
#: Number of the signal for a terminal that has gone, also where a system has no such signal.
_HANG_UP = 1
#: So many lines from the port that are no readings are shown; the rest are counted.
_SHOWN_REJECTED = 5


def take(plan: Plan) -> None:
    """Take rounds until the cook has had enough."""
    grill = load_grill(plan.grill_file)
    walk_order(grill, plan.order)
    with ReadingsLog(plan.readings_file, grill, skip_bad=plan.skip_bad, keyed=plan.page) as log:
        console.talk(*log.warnings)
        if plan.source or (plan.port is None and not is_terminal()):
            from cli.take_pipe import take_from_pipe

            if plan.page:
                raise InputError("--page stands beside a keyboard; without one the page is served by: gratemap page")
            if plan.preheat:
                raise InputError("--preheat asks for shots in turn and answers; it needs a keyboard, not a pipe")
            take_from_pipe(plan, grill, log, begin(plan, grill, log.readings, now()))
            return
        inputs = Inputs()
        with ExitStack() as opened:
            opened.enter_context(signals_into(inputs))
            port = None
            if plan.port is not None:
                from cli.take_port import PortReader

                port = opened.enter_context(PortReader(plan, grill, inputs))
            taking = Taking(plan, grill, log, inputs, port)
            if plan.page:
                taking.sitting.look_back()
                taking.page = opened.enter_context(_page(plan, taking.sitting, inputs))
            inputs.type_from(sys.stdin)
            taking.run()


def _page(plan: Plan, sitting: Sitting, inputs: Inputs) -> PageServer:
    """Return the page of a sitting, and say where it is."""
    from cli.page_server import PageServer, listen, say_where
    from heatmap.page.page_file import open_page_file

    address = listen(plan.host, plan.page_port)
    kept = open_page_file(plan.readings_file)
    server = PageServer(address, plan, sitting, inputs.put, kept, beside=True)
    say_where(server, say_url=False)
    return server


class Taking(Audience):
    """The loop: hear, do, show."""

    def __init__(
        self, plan: Plan, grill: Grill, log: ReadingsLog, inputs: Inputs, port: PortReader | None = None
    ) -> None:
        """Prepare the first round."""
        self.plan, self.grill, self.log, self.inputs, self.port = plan, grill, log, inputs, port
        self.screen = Screen(bell=plan.bell)
        self._speaker: Speaker | None = None
        if plan.speak is not None:
            from cli.take_speak import Speaker

            self._speaker = Speaker(plan.speak, self.screen.tell)
        self.sitting = Sitting(begin(plan, grill, log.readings, now()), log, lambda: now())
        self.keyboard = True
        self.preheating = False
        self._at_terminal = is_terminal()
        self._early: Line | None = None
        self.page: PageServer | None = None
        self._begun_on_page = False

    @property
    def session(self) -> Session:
        """The round being taken."""
        return self.sitting.session

    def run(self) -> None:
        """Take round after round."""
        if self.page is not None and self._at_terminal:
            self.screen.ask("Scan it with the phone, or open the address there. Enter goes on here, or a first tap:")
            text = self._next_line(until_shot=True) or ""
            self._early = Line(text) if self._is_a_shot(text, _NO_SHOT_BELOW) else None
        self._open_round()
        if self.plan.preheat:
            self._begin_preheat(walk_order(self.grill)[:2], note="preheat")
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
            self.screen.tell(f"Going on with round {number}: {len(readings)} readings so far.")
            self.screen.tell(self.session.marks_known())
        else:
            more = self.sitting.earlier and self.plan.number is None
            hint = " (gratemap take --continue goes on with the last one instead)" if more else ""
            self.screen.tell(f"Round {number}, session {self.session.name}.{hint}")
        self.screen.tell(self._too_soon())
        self._ask_knobs()
        self._ask_lid()
        if self.plan.recheck:
            labels, full = recheck_walk(self.grill, self.sitting.earlier, self.session)
            self.screen.tell(f"Re-check on the shape of round {full}: {', '.join(labels)}; three will do.")
        self.sitting.map.update(self.session)
        if self.page is not None:
            self.page.desk.kind = "recheck" if self.plan.recheck else "full"
        self._show_on_page()

    def _ask_knobs(self) -> None:
        """Ask once where the knobs stand; Enter keeps what is known of them."""
        unknown = [
            burner
            for burner in self.grill.burners
            if burner.control != "none" and burner.name not in self.session.knobs
        ]
        if not unknown or self.session.readings or not is_terminal():
            return
        last = last_marks(self.sitting.earlier)
        names = ", ".join(
            f"{burner.name} ({burner.mark_text(last[burner.name])})" if burner.name in last else burner.name
            for burner in unknown
        )
        keep = "Enter for those in brackets" if last else "Enter if you do not know"
        marks = self._answered(
            f"Where do the knobs stand?  {names}\nA mark for each, in this order; {keep}:",
            lambda text: marks_in_order(text, unknown, last),
            above=max(burner.high for burner in unknown),
        )
        if marks is None:
            self.screen.tell("Then the marks stay unknown; knob NAME MARK tells them later.")
        self.session.knobs.update(marks or {})

    def _ask_lid(self) -> None:
        """Ask once a session how the grate heated, where neither the command line nor an earlier round of it tells.

        The first shot, typed or from the port, is an answer as well: the lid is taken to be as it was last.
        """
        session, last = self.session, last_round(self.sitting.earlier)
        told = self.plan.lid is not None or any(one.session == session.name for one in self.sitting.earlier)
        if told or session.readings or self._early is not None or not is_terminal():
            return
        as_last = f", as in round {last.number}" if last else ""
        lid = self._answered(
            f"Until you shot, was the lid 1 open or 2 closed?  Enter for {session.lid}{as_last}:",
            lambda text: lid_from(text, session.lid),
            above=_NO_SHOT_BELOW,
            until_shot=True,
        )
        if lid is None:
            self.screen.tell(f"Then the lid is taken as {session.lid}; lid open or lid closed corrects it.")
        session.lid = lid or session.lid

    def _answered(
        self, question: str, read: Callable[[str], Answer], *, above: float, until_shot: bool = False
    ) -> Answer | None:
        """Put a question until its answer can be read; None where the cook shoots, a number above any."""
        while True:
            self.screen.ask(question)
            text = self._next_line(until_shot=until_shot) or ""
            try:
                return read(text)
            except ReadingError as error:
                if self._is_a_shot(text, above):
                    self._early = Line(text)
                    return None
                self.screen.tell(str(error))

    def _is_a_shot(self, text: str, above: float) -> bool:
        """Tell whether a cook who was asked something has begun to shoot: with numbers above any answer."""
        try:
            event = parse_typed(text, self.grill)
        except ReadingError:
            return False
        shots = event.shots if isinstance(event, RowOfShots) else (event,) if isinstance(event, Shot) else ()
        display = Display(self.grill.units)
        return bool(shots) and all(display.temperature(shot.shown_c) > above for shot in shots)

    def _next_line(self, *, until_shot: bool = False, within_s: float | None = None) -> str | None:
        """Wait for a typed line; the end of the keyboard is an empty one, and None says that the time is over.

        What the port sends waits its turn; with `until_shot` something from the port or the page counts as an empty
        line.
        """
        later = []
        try:
            while (event := self.inputs.get(within_s)) is not None:
                if isinstance(event, Stop):
                    self._stop(event)
                if isinstance(event, Line):
                    return event.text
                if self._is_of_page(event):
                    kept = self._answer_page(event)
                    if self._begun_on_page or (until_shot and kept):
                        return ""
                    continue
                later.append(event)
                if isinstance(event, NoMoreLines) or (until_shot and self._brings_shots(event)):
                    return ""
            return None
        finally:
            for event in later:
                self.inputs.put(event)

    def _brings_shots(self, event: Any) -> bool:
        return isinstance(event, Arrived) and bool(event.shots.items)

    # Waiting

    def _wait_min(self) -> float:
        """Return the minutes a change takes on this grate, as its rounds tell; the usual without them."""
        from heatmap.assessment import assess
        from heatmap.errors import HeatmapError
        from heatmap.grate_model.settling import USUAL_MIN, VENTS_MIN, minutes_of_change

        rounds = [one for one in group_rounds(self.log.readings) if one.readings]
        if rounds:
            with contextlib.suppress(HeatmapError):
                return minutes_of_change(assess(self.grill, rounds).round_map.model)
        return VENTS_MIN if any(burner.control == "vents" for burner in self.grill.burners) else USUAL_MIN

    def _come_at(self) -> datetime | None:
        """Return when the change of the last turn of knobs has come; None where no shot has waited for one."""
        turned = self.session.turned
        if turned is None and self.sitting.earlier and not self.session.readings:
            turned = next(iter(reversed(self.sitting.earlier[-1].turned_after)), None)
        if turned is None or turned.taken_at is None:
            return None
        return turned.taken_at + timedelta(minutes=self._wait_min())

    def _too_soon(self) -> str:
        """Say by how much a round is begun before the change of its knobs has come."""
        from heatmap.words.clock import too_soon_sentence

        until = None if self.session.readings else self._come_at()
        return "" if until is None else too_soon_sentence(until - now())

    def _count_down(self) -> str:
        """Count the wait after a turn of knobs down, in big letters; return what was typed meanwhile, "" at the end."""
        from heatmap.words.clock import left_text, turned_sentence

        until, turned = self._come_at(), self.session.turned
        if until is None or turned is None or turned.taken_at is None or not is_terminal():
            return ""
        told = textwrap.wrap(turned_sentence(marks_text(self.grill, turned.knobs), turned.taken_at, until), 59)
        self.screen.tell(" ".join(told))
        while (left := until - now()) > timedelta(0):
            self.screen.count_down(left_text(left), told, "Enter begins the round at once, * ends:")
            step_s = 1.0 if self.screen.clears else 60.0
            text = self._next_line(until_shot=True, within_s=min(step_s, left.total_seconds()))
            if text is not None:
                return text.strip() or "y"
        self.screen.sound()
        return ""

    # Preheat

    def _begin_preheat(self, labels: Sequence[str], note: str = "") -> None:
        self.preheating = True
        self.session.note = note
        self.session.walk = Walk.over(labels)
        self.session.known = Known(calibrations={})
        pair = " and ".join(labels)
        self.screen.tell(f"Preheat: shoot {pair} in turn, half a minute apart; done (*) goes to the map at once.")

    def _map_after_preheat(self) -> None:
        """Go on to a round of its own: the preheat shots are no part of the map."""
        self.preheating = False
        if not self.session.readings:
            self.session.note = ""
            self.session.walk = Walk.over(walk_order(self.grill, self.plan.order))
            return
        self._next_round(dict(self.session.knobs))

    def _next_round(self, marks: dict[str, float]) -> None:
        before = self.session
        if any(one.aim == "valley" for one in before.readings):
            self.plan = replace(self.plan, close_up=False)  # one round with pairs from close up is enough
        self.sitting.session = begin_next(self.plan, before, self.log.readings, after=before.number)
        self.session.knobs.update(marks)
        self._open_round()

    def _watch_rise(self) -> tuple[str, bool]:
        """Return what to say of the rise, and whether the preheat is over."""
        found = rise(self.session.readings, self.grill.gun)
        labels = sorted({one.position for one in self.session.readings if one.aim == "rail"})
        if not self.preheating and found and found.is_rising and len(labels) == len(found.positions) == 2:
            self._begin_preheat(labels)
        line = rise_sentence(found, self.grill, preheating=self.preheating)
        return line, self.preheating and found is not None and found.is_steady

    # The round

    def _take_round(self) -> bool:
        """Hear, do and show until the round is over; False when it was the preheat that is over."""
        self.screen.draw(self.session, self.sitting.map.running, port=self.port is not None)
        self._speak(())
        early, self._early = self._early, None
        if early is not None:
            self._hear(early)
        while True:
            event = self.inputs.get(None)
            if isinstance(event, Stop):
                self._stop(event)
            elif isinstance(event, NoMoreLines):
                self.keyboard = False
                self._stop_if_hung_up()
                if self.port is None or is_terminal():
                    self.preheating = False
                    return True
            elif self._hear(event) or self._all_came_by_themselves():
                return not self.preheating

    def _stop_if_hung_up(self) -> None:
        """The end of the keyboard may be the first sign that the terminal has gone; nobody could read an answer."""
        later = self.inputs.get(_IDLE_S) if self._at_terminal else None
        if isinstance(later, Stop):
            self._stop(later)
        if self._at_terminal and not is_terminal():
            self._stop(Stop(_HANG_UP))
        if later is not None:
            self.inputs.put(later)

    def _all_came_by_themselves(self) -> bool:
        """Without a keyboard nobody can say done: the round is over when every position has its reading."""
        return not self.keyboard and self.session.walk.passes > 0 and not self.session.near

    def _hear(self, event: Any) -> bool:
        """Do what was typed or came from the port, and show what came of it; True at the end of the round."""
        if self._is_of_page(event):
            return self._hear_page(event)
        before = self._state()
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
        over = self.sitting.carry_out(effects, self)
        self._show_on_page()
        if over:
            return True
        if self.session.turned not in (None, turned):
            return self._after_turn()
        if before == self._state() or self.session.doubts:
            self.screen.prompt(self.session)
            return False
        return self._show()

    # The page beside it

    def _is_of_page(self, event: Any) -> bool:
        if self.page is None:
            return False
        from heatmap.page.desk import Asked

        return isinstance(event, Asked)

    def _answer_page(self, event: Any) -> bool:
        """Answer what a phone sent while something is asked here; True where a number of it was kept."""
        assert self.page is not None
        session, desk = self.session, self.page.desk
        if desk.answer(event):
            desk.follow_up()
        self._begun_on_page |= self.session is not session
        return any(one.shown_c is not None for one in desk.written)

    def _hear_page(self, event: Any) -> bool:
        """Answer what a phone sent, and show here what came of it; True where the preheat is over by it."""
        assert self.page is not None
        session, desk = self.session, self.page.desk
        self.screen.heard()
        if not desk.answer(event):
            return False
        self._show_on_page()
        for text in desk.told:
            self.screen.tell(f"From the page: {text}")
        self._speak([one for one in desk.written if one.shown_c is not None])
        if self.session is not session:
            self.preheating = False
            self.screen.tell(f"Round {self.session.number}, begun on the page.")
        return self._show()

    def _show_on_page(self) -> None:
        if self.page is not None:
            self.page.desk.changed()

    def _after_turn(self) -> bool:
        """Go on after knobs were turned: wait where the round has no shot yet; True where the cook ends it then."""
        if self.session.readings:
            self.screen.tell("The grate will move: end the round (*) and let the change come, or shoot on.")
            return self._show()
        answer = self._count_down()
        if answer in ("*", "done"):
            return True
        if answer and answer.casefold() not in ("y", "yes"):
            self.inputs.put(Line(answer))
        self.screen.tell(self._too_soon())
        return self._show()

    def _state(self) -> tuple[object, ...]:
        session = self.session
        last = session.readings[-1].id if session.readings else 0
        return len(session.readings), last, session.asked, session.how, session.question, session.surface, session.lid

    def _show(self) -> bool:
        """Map and draw; True when the preheat is over."""
        line, steady = self._watch_rise()
        if steady:
            self.screen.tell(f"{line} On to the map.")
            return True
        if not self.preheating:
            self.sitting.update_map(self)
            self._show_on_page()
        running = None if self.preheating else self.sitting.map.running
        self.screen.draw(self.session, running, line, port=self.port is not None)
        return False

    def _arrived(self, event: Any) -> list[Effect]:
        if isinstance(event, PortFailed):
            raise event.error
        assert isinstance(event, Arrived)
        self._tell_rejected(event)
        return self.session.hear(event.shots, now()) if event.shots.items else []

    def _tell_rejected(self, event: Arrived) -> None:
        if event.notice:
            self.screen.tell(event.notice)
        assert self.port is not None
        before = self.port.rejected - len(event.rejected)
        for item in event.rejected[: max(0, _SHOWN_REJECTED - before)]:
            self.screen.tell(f"From the port, not a reading: {item.text[:40]!r}: {item.why}")
        if event.rejected and before < _SHOWN_REJECTED <= before + len(event.rejected):
            self.screen.tell("Further lines of this kind are only counted.")

    def tell(self, text: str) -> None:
        """Show a line."""
        self.screen.tell(text)

    def ring(self, times: int) -> None:
        """Sound the bell."""
        self.screen.ring(times)

    def show_help(self) -> None:
        """Show what can be typed."""
        self.screen.tell_now(HELP)

    def kept(self, readings: Sequence[Reading]) -> None:
        """Have the numbers that are on the disk said."""
        if any(one.shown_c is not None for one in readings):
            self._speak([one for one in readings if one.shown_c is not None])

    def lost(self, error: LogError, readings: Sequence[Reading]) -> None:
        """Say that nothing was written."""
        self.screen.tell(f"{error}. Note it on paper, mend that, and type it again." if readings else str(error))
        if readings:
            self.screen.ring(2)

    def _speak(self, kept: Sequence[Reading]) -> None:
        """Have the last number kept and the next position said."""
        if self._speaker is not None:
            from cli.take_speak import spoken

            last = f"{self.session.number_text(kept[-1].shown_c)}. " if kept else ""
            self._speaker.say(f"{last}{spoken(self.session.asked)}")

    # The end

    def _stop(self, event: Stop) -> None:
        """End at once; every reading acknowledged is on the disk."""
        count = len(self.session.readings)
        safe = f"{count} reading{'' if count == 1 else 's'} of round {self.session.number} safe in {self.log.name}"
        self.screen.tell(f"\nStopped. {safe}; gratemap take --continue goes on.")
        self.screen.tell(self.session.turns_not_written())
        raise typer.Exit(128 + event.number)

    def _finish(self) -> Decision | None:
        """Show the verdict."""
        from cli.take_answer import final_answer

        if self.port is not None and self.port.rejected:
            self.screen.tell(f"Lines from the port that were no readings: {self.port.rejected}.")
        self.screen.tell(self.session.turns_not_written())
        return final_answer(
            self.grill, group_rounds(self.log.readings), self.session, Path(self.log.name), self.plan.as_json
        )

    def _turn_or_undo(self, text: str) -> Turned | Undo | Noted | None:
        """Return what of a line is heard between two rounds."""
        try:
            event = parse_typed(text, self.grill)
        except ReadingError:
            return None
        return event if isinstance(event, Turned | Undo | Noted) else None

    def _another_round(self, decision: Decision | None) -> bool:
        """Ask whether a new round starts, with the marks taken over and changed as advised."""
        if not (is_terminal() and self.keyboard) or self.screen.gone or not self.session.readings:
            return False
        asked = decision.settings if decision is not None and decision.do == "turn" else {}
        marks = {**self.session.knobs, **asked}
        changed = {name: mark for name, mark in marks.items() if mark != self.session.knobs.get(name)}
        with_marks = f", with the knobs turned as advised ({marks_text(self.grill, changed)})" if changed else ""
        turn = " t when they are turned, and the wait is counted down;" if changed else ""
        self.session.advised = changed
        while True:
            self.screen.ask(f"\nAnother round{with_marks}?{turn} y starts it, Enter ends:")
            answer = (self._next_line() or "").strip()
            if self._begun_on_page:
                break
            if (event := self._turn_or_undo(answer)) is None:
                break
            try:
                self.sitting.carry_out(self.session.hear(event, now()), self)
            except ReadingError as error:
                self.screen.tell(str(error))
                continue
            if isinstance(event, Turned):
                answer, marks = self._count_down() or "y", dict(self.session.knobs)
                if self._turn_or_undo(answer) is None:
                    break
                self.inputs.put(Line(answer))
        if self._begun_on_page:
            self._begun_on_page = False
            self.screen.tell(f"Round {self.session.number}, begun on the page.")
            return True
        if self._is_a_shot(answer, _NO_SHOT_BELOW):
            answer, self._early = "y", Line(answer)
        if answer.casefold() not in ("y", "yes"):
            return False
        self._next_round(marks)
        return True
