"""A rehearsal being played: shoot, show, turn, as the typed lines say."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from cli import console
from cli.food import NOTHING_SAID
from cli.map import show
from cli.rehearse_truth import Truth, show_truth, truth_now
from cli.take_inputs import is_terminal
from heatmap.assessment import Assessment, assess
from heatmap.correct import close_up_mm
from heatmap.decisions.decision import Decision, decide
from heatmap.errors import ReadingError
from heatmap.grate_model.settling import USUAL_MIN
from heatmap.readings.reading import group_rounds
from heatmap.readings.typed import marks_in
from heatmap.readings.written import locate
from heatmap.units import Display

if TYPE_CHECKING:
    from cli.output import Output
    from heatmap.readings.log import ReadingsLog
    from heatmap.synthetic import RehearsalGrill

HELP = """What you can type:
  advice            turn the knobs as advised, wait, and shoot a round
  left 6.5, right 4 set these knobs to these marks, wait, and shoot a round
  Enter             shoot another round at the same marks
  wait 10           let 10 minutes pass, then shoot a round
  contact B2        hold the surface probe on a rail at B2
  close             pairs of shots from close up, everywhere (close A1 B3: there)
  patch B2          shoot the reference patch at B2
  show              show the map and the advice again
  end               end, and see the truth"""

_HOW = "type advice, or a burner and its mark, or ? for help"
#: Nobody waits longer than this for a grate.
MOST_WAIT_MIN = 240.0
#: Written beside every reading.
NOTE = "make-believe"
#: What was taken beside the round, as a sentence begins.
_AIMED = {
    "contact": "The probe on a rail",
    "patch": "The gun on the patch",
    "close": "The gun on the rail and between two rails",
}


class Practice:
    """The loop: shoot, show, turn; and the truth in the end."""

    def __init__(self, rehearsal: RehearsalGrill, log: ReadingsLog, folder: Path) -> None:
        """Prepare; nothing is shot yet."""
        self.rehearsal, self.log, self.folder = rehearsal, log, folder
        self.grill = log.grill
        self.number = 0
        self.assessment: Assessment
        self.truth: Truth

    def begin(self, seed: int) -> None:
        """Say what is played, and shoot the first round."""
        grill, display = self.grill, Display(self.grill.units)
        names = ", ".join(
            f"{burner.name} at {burner.mark_text(self.rehearsal.marks[burner.name])} "
            f"({burner.low:g} to {burner.high:g})"
            for burner in grill.burners
        )
        size = f"{display.length(grill.grate.width_mm):g} by {display.length(grill.grate.depth_mm):g}"
        band = f"{display.temperature(grill.target.low_c):.0f}-{display.temperature(grill.target.high_c):.0f}"
        meant = "on your gun" if grill.target.numbers == "shown" else "on the rail"
        console.answer(f"Make-believe grill {seed}: nothing here is real, and nothing is hot.")
        console.answer(f"A grate of {size} {display.lengths}; burners {names}; band {band} {display.degrees} {meant}.")
        console.answer(f"The files: {self.folder / 'grill.toml'} and {self.folder / 'readings.csv'}.")
        if is_terminal():
            _let_lines_be_edited()
            console.answer(HELP)
        self.shoot()

    def play(self) -> None:
        """Do what is typed until the end."""
        while True:
            text = self._ask()
            if text is None or text.strip().casefold() in ("end", "done", "quit"):
                return
            try:
                self.do(text)
            except ReadingError as error:
                console.talk(str(error))

    def _ask(self) -> str | None:
        """Return a typed line, or None at the end of them."""
        prompt = "make-believe> "
        if is_terminal():
            try:
                return input(prompt)
            except EOFError:
                console.talk("")
                return None
        line = sys.stdin.readline()
        if line:
            console.talk(prompt + line.rstrip("\r\n"))
        return line or None

    def do(self, text: str) -> None:
        """Carry one line out.

        Raises
        ------
        ReadingError
            One sentence: what was typed and what to type instead.
        """
        match text.casefold().replace(",", " ").split():
            case []:
                self.shoot()
            case ["advice"]:
                self._take_advice()
            case ["show" | "map"]:
                self.show()
            case ["?" | "help"]:
                console.answer(HELP)
            case ["wait", *minutes]:
                self._wait(" ".join(minutes))
            case ["close", *places]:
                self._touch("close", places or self.grill.labels)
            case ["contact" | "patch" as how, _, *_] as words:
                self._touch(how, words[1:])
            case _:
                self._turn(marks_in(" ".join(text.split()), self.grill, _HOW))

    def _wait(self, text: str) -> None:
        minutes = float(text) if text.replace(".", "", 1).isdecimal() else -1.0
        if not 0.0 <= minutes <= MOST_WAIT_MIN:
            raise ReadingError(f"wait how many minutes? 0 to {MOST_WAIT_MIN:g}, like: wait 10")
        self.rehearsal.wait(minutes)
        self.shoot()

    def _take_advice(self) -> None:
        decision = self._decision()
        if not decision.changes:
            if decision.wait_min > 0:
                self.rehearsal.wait(decision.wait_min)
            console.answer("The advice is to leave the knobs; another round at the same marks.")
            self.shoot()
            return
        self._turn({change.burner: change.to_mark for change in decision.changes}, decision.wait_min)

    def _decision(self) -> Decision:
        # Without the time: a make-believe one stands still between rounds.
        return decide(self.assessment, NOTHING_SAID.that_counts(self.grill))

    def _turn(self, marks: Mapping[str, float], wait_min: float = 0.0) -> None:
        moved = {name: mark for name, mark in marks.items() if mark != self.rehearsal.marks[name]}
        if not moved:
            console.answer("They stand at these marks already; another round.")
            self.shoot()
            return
        turns = [
            f"{name} from {self.grill.burner(name).mark_text(self.rehearsal.marks[name])} to "
            f"{self.grill.burner(name).mark_text(mark)}"
            for name, mark in moved.items()
        ]
        minutes = wait_min or USUAL_MIN
        self.rehearsal.turn(moved)
        console.answer(f"Turned {', '.join(turns)}; {minutes:.0f} make-believe minutes later:")
        self.rehearsal.wait(minutes)
        self.shoot()

    def _touch(self, how: str, places: Sequence[str]) -> None:
        """Take a contact or patch reading at positions, or a pair of shots from close up at each."""
        positions = [locate(place, self.grill)[0] for place in places]
        near_mm = close_up_mm(self.grill) if how == "close" else None
        if how == "close" and near_mm is None:
            raise ReadingError("this gun's spot cannot be made small enough to tell rail and valley apart")
        display = Display(self.grill.units)
        told: list[str] = []
        self.rehearsal.move_lid("open")
        for position in positions:
            aims = ("rail", "valley") if near_mm is not None else (how,)
            numbers = [f"{display.temperature(self._beside(position, aim, near_mm)):.0f}" for aim in aims]
            shows = "shows " if not told else ""
            told.append(f"at {position} {shows}{' and '.join(numbers)}")
        self.rehearsal.move_lid(self.rehearsal.hidden.habit)
        away = "" if near_mm is None else f"from {display.length_text(near_mm)} "
        what = f"{_AIMED[how]} {away}{', '.join(told)} {display.degrees}"
        console.answer(f"{what}. Round {self.number} again, knowing that:")
        self._assess()
        self.show()

    def _beside(self, position: str, aim: str, distance_mm: float | None) -> float:
        """Take one reading beside those of the round, write it down, and return what was shown [°C]."""
        reading = self.rehearsal.shoot(position, aim, number=self.number, distance_mm=distance_mm)  # type: ignore[arg-type]
        kept = self.log.append(replace(reading, note=NOTE))
        assert kept.shown_c is not None
        return kept.shown_c

    def shoot(self) -> None:
        """Play a round, write it down, and show what it says."""
        self.number += 1
        labels = self.grill.labels
        first, second = labels[: len(labels) // 2], labels[len(labels) // 2 :]
        play = self.rehearsal.play_round
        readings = list(play(self.number, order=first).readings)
        self.truth = truth_now(self.rehearsal, self.grill)  # the map stands for the middle of its round
        readings += play(self.number, order=second, new_wind=False).readings
        self.log.append_all(replace(reading, note=NOTE) for reading in readings)
        self._assess()
        self.show()

    def _assess(self) -> None:
        self.assessment = assess(self.grill, group_rounds(self.log.readings), self.number)

    def show(self) -> None:
        """Show the map and the advice."""
        console.answer("", "Make-believe")
        show(self.assessment, self._decision())

    def end(self, picture: Output | None) -> None:
        """Show the truth beside the map, and where the files are."""
        show_truth(self.rehearsal, self.assessment, self.truth, picture)
        files = f"--grill {self.folder / 'grill.toml'} --readings {self.folder / 'readings.csv'}"
        console.answer("Make-believe all of it. The files stay; look again with, for example:")
        console.answer(f"  gratemap history {files}")
        console.answer(f"  gratemap burners --why {files}")


def _let_lines_be_edited() -> None:
    """Let arrow keys move and bring back earlier lines, where the system can."""
    with contextlib.suppress(ImportError):  # not on Windows, whose console does it by itself
        import readline  # noqa: F401 - input() uses it once it is there
