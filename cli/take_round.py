"""Run a session: the log, the screen and the keyboard around :class:`heatmap.session.Session`."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from cli import console
from cli.exit_codes import ExitCode
from cli.take_inputs import Inputs, Line, NoMoreLines, Stop, is_terminal, signals_into
from cli.take_screen import HELP, Screen
from heatmap.errors import HeatmapError, LogError, MapError, ReadingError
from heatmap.files.grill_toml import load_grill
from heatmap.files.readings_log import ReadingsLog
from heatmap.grill import Grill, inside_value
from heatmap.readings import Reading, Round, group_rounds
from heatmap.session import Effect, End, FromPort, Ring, Session, ShowHelp, Tell, Withdraw, Write
from heatmap.walk import Walk, walk_order
from heatmap.written import mark_from_text

if TYPE_CHECKING:
    from heatmap.assess import Assessment
    from heatmap.running import Background, RunningMap

#: When nothing is typed for so long, what takes longer is looked into.
_IDLE_S = 0.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What the command line asked for."""

    grill_file: Path
    readings_file: Path
    order: str
    knobs: tuple[str, ...]
    distance: float | None
    number: int | None
    go_on: bool
    session: str | None
    bell: bool
    as_json: bool
    skip_bad: bool
    from_pipe: bool


def take(plan: Plan) -> None:
    """Take rounds until the cook has had enough."""
    grill = load_grill(plan.grill_file)
    walk_order(grill, plan.order)
    with ReadingsLog(plan.readings_file, grill, skip_bad=plan.skip_bad) as log:
        for warning in log.warnings:
            console.talk(warning)
        if plan.from_pipe or not is_terminal():
            from cli.take_pipe import take_from_pipe

            take_from_pipe(plan, grill, log, begin(plan, grill, log.readings, now()))
            return
        inputs = Inputs()
        with signals_into(inputs):
            inputs.type_from(sys.stdin)
            Taking(plan, grill, log, inputs).run()


def now() -> datetime:
    """Return the time, UTC."""
    return datetime.now(UTC)


def begin(plan: Plan, grill: Grill, readings: Sequence[Reading], at: datetime, *, after: int | None = None) -> Session:
    """Begin a session: which round, which name, which marks, and what of the walk is left."""
    rounds = group_rounds(readings)
    number = _round_number(plan, readings, after)
    mine = next((one for one in rounds if one.number == number), None)
    walk = Walk.over(walk_order(grill, plan.order), () if mine is None else _shot(mine))
    distance_mm = None if plan.distance is None else inside_value(plan.distance, "length", grill.units)
    return Session(
        grill,
        walk,
        number=number,
        name=plan.session or (mine.session if mine else _session_name(readings, at)),
        readings=mine.readings if mine else (),
        knobs={**(mine.settings if mine else {}), **knobs_from(plan.knobs, grill)},
        distance_mm=distance_mm,
        surface=mine.surface if mine else "dry",
        lid=mine.lid if mine else "open",
    )


def _shot(one: Round) -> set[str]:
    return {reading.position for reading in one.readings if reading.aim == "rail"}


def _round_number(plan: Plan, readings: Sequence[Reading], after: int | None) -> int:
    last = max((reading.round for reading in readings), default=0)
    if after is not None:
        return max(last, after) + 1
    if plan.number is not None:
        if plan.number < 1:
            raise ReadingError(f"--round is {plan.number}; rounds are numbered from 1")
        return plan.number
    return max(last, 1) if plan.go_on else last + 1


def _session_name(readings: Sequence[Reading], at: datetime) -> str:
    """Return the newest session of the same day, else the date."""
    today = at.astimezone().date()
    newest = max(readings, key=lambda one: (one.round, one.id), default=None)
    if newest is not None and newest.taken_at is not None and newest.taken_at.astimezone().date() == today:
        return newest.session
    return today.isoformat()


def knobs_from(texts: Sequence[str], grill: Grill) -> dict[str, float]:
    """Read NAME=MARK, any number of times."""
    marks = {}
    for text in texts:
        name, equals, mark = text.partition("=")
        if not equals:
            raise ReadingError(f'--knob is "{text}"; write it like --knob left=6.5')
        burner = grill.burner(name.strip())
        marks[burner.name] = mark_from_text(mark.strip(), burner)
    return marks


class Taking:
    """The loop: hear, do, show."""

    def __init__(self, plan: Plan, grill: Grill, log: ReadingsLog, inputs: Inputs) -> None:
        """Prepare the first round."""
        self.plan, self.grill, self.log, self.inputs = plan, grill, log, inputs
        self.screen = Screen(bell=plan.bell)
        self.session = begin(plan, grill, log.readings, now())
        self.earlier: tuple[Round, ...] = ()
        self.background: Background | None = None
        self.running: RunningMap | None = None
        self._looked_at = -1

    def run(self) -> None:
        """Take round after round."""
        self._open_round()
        while True:
            self._ask_knobs()
            self._take_round()
            assessment = self._finish()
            if self.plan.as_json or not self._another_round(assessment):
                return

    # Beginning

    def _open_round(self) -> None:
        number = self.session.number
        self.earlier = tuple(one for one in group_rounds(self.log.readings) if one.number != number)
        self.background, self.running, self._looked_at = None, None, -1
        if self.session.readings:
            self.screen.tell(f"Going on with round {number}: {len(self.session.readings)} readings so far.")
        else:
            more = ""
            if self.earlier and not self.plan.number:
                more = " (gratemap take --continue goes on with the last one instead)"
            self.screen.tell(f"Round {number}, session {self.session.name}.{more}")
        self._learn()

    def _ask_knobs(self) -> None:
        """Ask once where the knobs stand; Enter keeps what is known of them."""
        settable = [burner for burner in self.grill.burners if burner.control != "none"]
        unknown = [burner for burner in settable if burner.name not in self.session.knobs]
        if not unknown or self.session.readings:
            return
        last = dict(self.earlier[-1].settings) if self.earlier else {}
        names = ", ".join(
            f"{burner.name} ({burner.mark_text(last[burner.name])})" if burner.name in last else burner.name
            for burner in unknown
        )
        keep = "Enter for the marks in brackets" if last else "Enter if you do not know"
        while True:
            self.screen.ask(f"Where do the knobs stand? {names}\nOne mark for each, in this order; {keep}:")
            text = self._next_line()
            if not text.strip():
                marks = {burner.name: last[burner.name] for burner in unknown if burner.name in last}
            else:
                try:
                    marks = _marks(text, unknown)
                except ReadingError as error:
                    self.screen.tell(str(error))
                    continue
            self.session.knobs.update(marks)
            return

    def _next_line(self) -> str:
        """Wait for a typed line; the end of the keyboard is an empty one."""
        while True:
            event = self.inputs.get()
            if isinstance(event, Stop):
                self._stop(event)
            if isinstance(event, Line):
                return event.text
            if isinstance(event, NoMoreLines):
                self.inputs.put(event)
                return ""

    # The round

    def _take_round(self) -> None:
        self.screen.draw(self.session, self.running)
        while True:
            event = self.inputs.get(None if self._looked_at == len(self.session.readings) else _IDLE_S)
            if event is None:
                self._look_behind()
                continue
            if isinstance(event, Stop):
                self._stop(event)
            if isinstance(event, NoMoreLines):
                return
            if self._hear(event):
                return

    def _hear(self, event: Any) -> bool:
        """Do what was typed or came from the port, and show what came of it; True at the end of the round."""
        before = len(self.session.readings), self.session.asked, self.session.question
        try:
            if isinstance(event, Line):
                effects = self.session.hear_line(event.text, now())
            else:
                assert isinstance(event, FromPort)
                effects = self.session.hear(event, now())
        except ReadingError as error:
            self.screen.tell(str(error))
            self.screen.prompt(self.session)
            return False
        if self._carry_out(effects):
            return True
        if before == (len(self.session.readings), self.session.asked, self.session.question):
            self.screen.prompt(self.session)
        elif self.session.doubts:
            self.screen.prompt(self.session)
        else:
            self._map()
            self.screen.draw(self.session, self.running)
        return False

    def _carry_out(self, effects: Sequence[Effect]) -> bool:
        """Carry effects out one after the other; True when the round is over."""
        over = False
        for effect in effects:
            match effect:
                case Write():
                    over |= self._write(effect)
                case Withdraw():
                    self._withdraw(effect)
                case Tell():
                    self.screen.tell(effect.text)
                case Ring():
                    self.screen.ring(effect.times)
                case ShowHelp():
                    self.screen.tell(HELP)
                case End():
                    over = True
        return over

    def _write(self, effect: Write) -> bool:
        try:
            written = self.log.append_all(effect.readings)
        except LogError as error:
            self.screen.tell(f"{error}. Note it on paper, mend that, and type it again.")
            self.screen.ring(2)
            return False
        return self._carry_out(self.session.written(written))

    def _withdraw(self, effect: Withdraw) -> None:
        try:
            self.log.withdraw(effect.reading.id, "undo", taken_at=now())
        except LogError as error:
            self.screen.tell(str(error))
            return
        self._carry_out(self.session.withdrawn(effect.reading))

    # The map

    def _learn(self) -> None:
        """Learn what is known of the gun; again whenever something was taken that teaches it."""
        from heatmap.running import Background
        from heatmap.session import Known

        if not self.session.readings:
            return
        states = {reading.surface for reading in self.session.readings}
        pins = sum(reading.aim != "rail" for reading in self.session.readings)
        if self.background is None or states - set(self.background.calibrations) or pins != self._pins:
            from heatmap.assess import calibrations_for

            calibrations = calibrations_for(self.grill, (*self.earlier, self.session.round), self.session.round)
            suspects = self.background.suspects if self.background else {}
            self.background = Background(calibrations=calibrations, suspects=suspects)
        self._pins = pins
        self.session.known = Known(
            calibrations=self.background.calibrations,
            round_map=self.running.round_map if self.running else None,
        )

    def _map(self) -> None:
        from heatmap.running import running_map

        self._learn()
        self.running = running_map(self.grill, self.session.round, self.background) if self.background else None
        self._learn()

    def _look_behind(self) -> None:
        """While the cook aims: weigh all readings against one another, and say when one does not fit."""
        from heatmap.running import FEWEST, look_behind

        self._looked_at = len(self.session.readings)
        if len(self.session.readings) < FEWEST or self.session.doubts:
            return
        one = self.session.round
        found = look_behind(self.grill, (*self.earlier, one), one)
        known = self.background.suspects if self.background else {}
        self.background = found
        if dict(found.suspects) == dict(known):
            return
        for reading in one.readings:
            if reading.id in found.suspects and reading.id not in known:
                self._carry_out(self.session.suspect_found(reading, found.suspects[reading.id]))
        self._map()
        self.screen.draw(self.session, self.running)

    # The end

    def _stop(self, event: Stop) -> None:
        """End at once; every reading acknowledged is on the disk."""
        count = len(self.session.readings)
        safe = f"{count} reading{'' if count == 1 else 's'} of round {self.session.number} safe in {self.log.name}"
        self.screen.tell(f"\nStopped. {safe}; gratemap take --continue goes on.")
        raise typer.Exit(128 + event.number)

    def _finish(self) -> Assessment | None:
        """Show the verdict."""
        from cli.take_answer import final_answer

        return final_answer(self.grill, (*self.earlier, self.session.round), self.session, self.plan.as_json)

    def _another_round(self, assessment: Assessment | None) -> bool:
        """Ask whether a new round starts, with the marks taken over and changed as advised."""
        from cli.take_answer import advised_marks

        if not is_terminal() or self.screen.gone:
            return False
        marks = advised_marks(assessment, self.session.knobs)
        changed = [
            f"{name} {self.grill.burner(name).mark_text(mark)}"
            for name, mark in marks.items()
            if mark != self.session.knobs.get(name)
        ]
        with_marks = f", knobs turned as advised ({', '.join(changed)})" if changed else ""
        self.screen.ask(f"Another round{with_marks}? y starts it, Enter ends:")
        if self._next_line().strip().casefold() not in ("y", "yes"):
            return False
        number = self.session.number
        self.session = begin(self.plan, self.grill, self.log.readings, now(), after=number)
        self.session.knobs.update(marks)
        self._open_round()
        return True


def _marks(text: str, burners: Sequence[Any]) -> dict[str, float]:
    """Read one mark for each burner, in order."""
    words = text.replace("=", " ").split()
    if len(words) != len(burners):
        names = ", ".join(burner.name for burner in burners)
        raise ReadingError(f"that is {len(words)} marks for {len(burners)} knobs; type one each for {names}")
    return {burner.name: mark_from_text(word, burner) for burner, word in zip(burners, words, strict=True)}
