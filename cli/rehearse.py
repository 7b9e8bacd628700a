"""`gratemap rehearse`: practise the whole loop on a make-believe grill, indoors."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cli import console
from cli.commands import help_text
from cli.options import picture_of
from cli.save_picture import save_picture

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from heatmap.assessment import Assessment
    from heatmap.files.readings_log import ReadingsLog
    from heatmap.grill import Burner, Grill
    from heatmap.rehearsal import RehearsalGrill

#: The first line of a grill file of a rehearsal; only files that begin so are ever overwritten.
LABEL = "make-believe grill of a rehearsal; nothing in this folder was ever measured"
#: Written beside every reading.
NOTE = "make-believe"

HELP = """What you can type:
  advice            turn the knobs as advised, wait, and shoot a round
  left 6.5 right 4  set these knobs to these marks, wait, and shoot a round
  Enter             shoot another round at the same marks
  wait 10           let 10 minutes pass, then shoot a round
  contact B2        hold the surface probe on a rail at B2; valley B2: shoot between the rails
  show              show the map and the advice again
  end               end, and see the truth"""


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command(
        "rehearse",
        help=help_text(
            "Practise the whole loop on a make-believe grill, indoors. You set its knobs, it plays the rounds, and in "
            "the end you see the truth beside your map.",
            example="gratemap rehearse --seed 7",
        ),
    )(command)


def command(
    seed: Annotated[
        int, typer.Option("--seed", metavar="N", min=0, help="Which grill; the same number, the same grill.")
    ] = 7,
    folder: Annotated[
        Path | None, typer.Option("--folder", metavar="FOLDER", help="Where its files go; if not given, rehearsal-N.")
    ] = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Start anew over an earlier rehearsal.")] = False,
    numbers: Annotated[
        str, typer.Option("--numbers", metavar="shown|rail", help="What the band means, as in the grill file.")
    ] = "shown",
    picture: Annotated[Path | None, picture_of("the truth beside your map")] = None,
) -> None:
    """Practise on a make-believe grill."""
    from heatmap.errors import InputError
    from heatmap.files.grill_toml import load_grill
    from heatmap.files.readings_log import ReadingsLog
    from heatmap.rehearsal import draw_grill

    if numbers not in ("shown", "rail"):
        raise InputError(f'--numbers is "{numbers}"; it must be shown or rail')
    place = folder or Path(f"rehearsal-{seed}")
    rehearsal = draw_grill(seed, numbers=numbers)
    rehearsal.session = f"rehearsal {seed}"
    rehearsal.grill = _with_round_band(rehearsal.grill)
    grill_file, readings_file = _fresh_files(place, rehearsal.grill, overwrite)
    with ReadingsLog(readings_file, load_grill(grill_file)) as log:
        practice = _Practice(rehearsal, log, place)
        practice.begin(seed)
        try:
            practice.play()
        except KeyboardInterrupt:
            console.talk(f"\nStopped. The rounds so far are in {place}.")
            raise
        practice.show_truth(picture)


def _with_round_band(grill: Grill) -> Grill:
    """Return the grill with its band at whole fives, as a cook would name it."""
    from heatmap.units import c_from_f, f_from_c

    low, high = (c_from_f(5.0 * round(f_from_c(one) / 5.0)) for one in (grill.target.low_c, grill.target.high_c))
    return replace(grill, target=replace(grill.target, low_c=low, high_c=high))


def _fresh_files(folder: Path, grill: Grill, overwrite: bool) -> tuple[Path, Path]:
    """Write the grill file and make sure that there are no readings yet."""
    from heatmap.errors import InputError
    from heatmap.files.grill_toml import toml_from_grill

    grill_file, readings_file = folder / "grill.toml", folder / "readings.csv"
    there = [path for path in (grill_file, readings_file) if path.exists()]
    if there and not overwrite:
        raise InputError(f"{there[0]} is there already; start over it with --overwrite, or choose another --folder")
    if there and not _is_rehearsal(grill_file):
        raise InputError(f"{there[0]} is not of a rehearsal and is left alone; choose another --folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        grill_file.write_text(toml_from_grill(grill, comment=LABEL), encoding="utf-8")
        readings_file.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: cannot be written to: {error.strerror or error}") from None
    return grill_file, readings_file


def _is_rehearsal(grill_file: Path) -> bool:
    try:
        return grill_file.read_text(encoding="utf-8", errors="replace").startswith(f"# {LABEL}")
    except OSError:
        return False


# What can be typed


@dataclass(frozen=True, slots=True)
class Advice:
    """Turn the knobs as advised."""


@dataclass(frozen=True, slots=True)
class Marks:
    """Set these burners."""

    marks: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Wait:
    """Let so many minutes pass, then shoot; 0: shoot at once."""

    minutes: float


@dataclass(frozen=True, slots=True)
class Touch:
    """A contact or valley reading at a position."""

    aim: str
    position: str


@dataclass(frozen=True, slots=True)
class Show:
    """Show the map and the advice again."""


@dataclass(frozen=True, slots=True)
class Help:
    """Show what can be typed."""


@dataclass(frozen=True, slots=True)
class End:
    """End, and show the truth."""


Typed = Advice | Marks | Wait | Touch | Show | Help | End
_WORDS: dict[str, Typed] = {
    "": Wait(0.0),
    "advice": Advice(),
    "show": Show(),
    "map": Show(),
    "?": Help(),
    "help": Help(),
    "end": End(),
    "done": End(),
    "quit": End(),
}
#: Nobody waits longer than this for a grate.
MOST_WAIT_MIN = 240.0


def parse(text: str, grill: Grill) -> Typed:
    """Understand one typed line.

    Raises
    ------
    ReadingError
        One sentence: what was typed and what to type instead.
    """
    from heatmap.errors import ReadingError

    words = text.replace("=", " ").replace(",", " ").split()
    plain = " ".join(words).casefold()
    if plain in _WORDS:
        return _WORDS[plain]
    first = words[0].casefold()
    if first in ("contact", "valley") and len(words) == 2:
        grill.point_mm(words[1])
        return Touch(first, words[1].upper())
    if first == "wait":
        try:
            minutes = float(words[1]) if len(words) == 2 else -1.0
        except ValueError:
            minutes = -1.0
        if not 0.0 <= minutes <= MOST_WAIT_MIN:
            raise ReadingError(f"wait how many minutes? 0 to {MOST_WAIT_MIN:g}, like: wait 10")
        return Wait(minutes)
    return Marks(_marks(words[1:] if first == "knob" else words, grill))


def _marks(words: list[str], grill: Grill) -> dict[str, float]:
    """Read burners and marks in turn; a name may be several words."""
    from heatmap.errors import ReadingError
    from heatmap.written import quoted

    marks: dict[str, float] = {}
    at = 0
    while at < len(words):
        found = _burner_at(words, at, grill)
        if found is None or at + found[1] >= len(words):
            names = ", ".join(burner.name for burner in grill.burners)
            raise ReadingError(
                f"{quoted(' '.join(words[at:]))} is not understood; type advice, or a burner and its mark, "
                f"or ? for help; burners are: {names}"
            )
        burner, size = found
        mark = burner.mark_from_text(words[at + size])
        if mark not in burner.settable:
            nearest = float(min(burner.settable, key=lambda one: abs(one - mark)))
            raise ReadingError(f"a hand cannot set {burner.name} to {mark:g}; the nearest it can is {nearest:g}")
        marks[burner.name] = mark
        at += size + 1
    return marks


def _burner_at(words: list[str], at: int, grill: Grill) -> tuple[Burner, int] | None:
    """Return the burner whose name stands here, the longest that fits, and how many words it takes."""
    fitting = []
    for burner in grill.burners:
        name = burner.name.casefold().split()
        if [word.casefold() for word in words[at : at + len(name)]] == name:
            fitting.append((burner, len(name)))
    return max(fitting, key=lambda pair: pair[1], default=None)


# The practice


class _Practice:
    """The loop: shoot, show, turn; and the truth in the end."""

    def __init__(self, rehearsal: RehearsalGrill, log: ReadingsLog, folder: Path) -> None:
        self.rehearsal, self.log, self.folder = rehearsal, log, folder
        self.grill = log.grill
        self.number = 0
        self.assessment: Assessment | None = None
        self.truth_c: tuple[NDArray[np.float64], NDArray[np.float64]] | None = None

    def begin(self, seed: int) -> None:
        """Say what is played, and shoot the first round."""
        from heatmap.units import Display

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
        console.answer(f"Grill and readings are written to {self.folder}.")
        if _somebody_types():
            _let_lines_be_edited()
            console.answer(HELP)
        self.shoot()

    def play(self) -> None:
        """Do what is typed until the end."""
        from heatmap.errors import ReadingError

        while True:
            text = self._ask()
            if text is None:
                return
            try:
                typed = parse(text, self.grill)
                if isinstance(typed, End):
                    return
                self.do(typed)
            except ReadingError as error:
                console.talk(str(error))

    def _ask(self) -> str | None:
        """Return a typed line, or None at the end of them."""
        prompt = "make-believe> "
        if _somebody_types():
            try:
                return input(prompt)
            except EOFError:
                console.talk("")
                return None
        line = sys.stdin.readline()
        if line:
            console.talk(prompt + line.rstrip("\r\n"))
        return line or None

    def do(self, typed: Typed) -> None:
        """Carry one line out."""
        match typed:
            case Advice():
                self._take_advice()
            case Marks():
                self._turn(typed.marks)
            case Wait():
                if typed.minutes > 0:
                    self.rehearsal.wait(typed.minutes)
                self.shoot()
            case Touch():
                self._touch(typed)
            case Show():
                self.show()
            case Help():
                console.answer(HELP)

    def _take_advice(self) -> None:
        if self.assessment is None:
            console.talk("There is no map to advise from yet; press Enter to shoot a round.")
            return
        advice = self.assessment.advice
        if not advice.changes:
            console.answer("The advice is to leave the knobs; another round at the same marks.")
            self.shoot()
            return
        self._turn({change.burner: change.to_mark for change in advice.changes}, advice.wait_min)

    def _turn(self, marks: Mapping[str, float], wait_min: float = 0.0) -> None:
        from heatmap.burners.warm_up import USUAL_MIN

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

    def _touch(self, typed: Touch) -> None:
        from heatmap.units import Display

        self.rehearsal.lift_lid()
        reading = self.rehearsal.shoot(typed.position, typed.aim, number=self.number)  # type: ignore[arg-type]
        if self.rehearsal.hidden.habit == "closed":
            self.rehearsal.close_lid()
        kept = self.log.append(replace(reading, note=NOTE))
        assert kept.shown_c is not None
        shown = Display(self.grill.units).temperature_text(kept.shown_c)
        what = "The probe on a rail" if typed.aim == "contact" else "The gun between the rails"
        console.answer(f"{what} at {typed.position} shows {shown}. Round {self.number} again, knowing that:")
        self._assess()
        self.show()

    def shoot(self) -> None:
        """Play a round, write it down, and show what it says."""
        self.number += 1
        labels = self.grill.labels
        first, second = labels[: len(labels) // 2], labels[len(labels) // 2 :]
        readings = list(self.rehearsal.play_round(self.number, order=first).readings)
        self._remember_truth()  # the map stands for the middle of its round
        readings += self.rehearsal.play_round(self.number, order=second, new_wind=False).readings
        self.log.append_all(replace(reading, note=NOTE) for reading in readings)
        self._assess()
        self.show()

    def _assess(self) -> None:
        from heatmap.assessment import assess
        from heatmap.readings import group_rounds

        self.assessment = assess(self.grill, group_rounds(self.log.readings), self.number)

    def show(self) -> None:
        """Show the map and the advice."""
        from cli.burners import show_advice
        from cli.map import show

        if self.assessment is not None:
            console.answer("")
            console.answer("Make-believe")
            show(self.assessment)
            show_advice(self.assessment)

    # The truth

    def _remember_truth(self) -> None:
        """Keep the truth at the positions and cells as it is now, in the numbers of the band."""
        import numpy as np

        points = np.array([self.grill.point_mm(label) for label in self.grill.labels])
        cells = _cells(self.grill).points_mm
        self.truth_c = (self._compared_truth_c(points), self._compared_truth_c(cells))

    def _compared_truth_c(self, points_mm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return what is truly held against the band now: the rail, or what this gun shows of it but for luck."""
        import numpy as np

        rail_c = self.rehearsal.truth_c(points_mm)
        if self.grill.target.numbers == "rail":
            return rail_c
        # What the gun adds to the rail, from the steady state at these marks; it varies slowly from place to place.
        added = self.rehearsal.compared_c(self.rehearsal.held) - self.rehearsal.steady_truth_c(self.rehearsal.held)
        square = ((points_mm[:, None, :] - self.rehearsal.cells_mm) ** 2).sum(axis=2)
        return np.asarray(rail_c + added[np.argmin(square, axis=1)])

    def show_truth(self, picture: Path | None) -> None:
        """Show the truth beside the map, and what the best marks would have given."""
        if self.assessment is None or self.truth_c is None:
            return
        console.answer("")
        for line in truth_table(self.assessment, self.truth_c[0]):
            console.answer(line)
        for line in self._reached():
            console.answer(line)
        if picture is not None:
            from heatmap.pictures import truth_beside_map

            shape = self.assessment.cells.inside.shape
            save_picture(truth_beside_map(self.assessment, self.truth_c[1].reshape(shape)), picture)
        files = f"--grill {self.folder / 'grill.toml'} --readings {self.folder / 'readings.csv'}"
        console.answer("Make-believe all of it. The files stay; look again with, for example:")
        console.answer(f"  gratemap history {files}")
        console.answer(f"  gratemap burners --why {files}")

    def _reached(self) -> Iterator[str]:
        from heatmap.units import percent

        rehearsal = self.rehearsal
        yield f"Your map said {percent(self.assessment.evenness.share_in_band)} in band." if self.assessment else ""
        start, now = rehearsal.share_in_band(rehearsal.start), rehearsal.share_in_band(rehearsal.held)
        console.talk("Looking for the best these knobs can do ...")
        marks, best = rehearsal.best_reachable()
        named = ", ".join(f"{name} {self.grill.burner(name).mark_text(float(mark))}" for name, mark in marks.items())
        yield (
            f"Truly in band once settled, in the day's usual wind: {percent(start)} at the marks it began with, "
            f"{percent(now)} at yours; the best these knobs can do is {percent(best)} ({named})."
        )


def _let_lines_be_edited() -> None:
    """Let arrow keys move and bring back earlier lines, where the system can."""
    with contextlib.suppress(ImportError):  # not on Windows, whose console does it by itself
        import readline  # noqa: F401 - input() uses it once it is there


def _cells(grill: Grill) -> Any:
    from heatmap.assessment import Cells

    return Cells.of(grill)


def _somebody_types() -> bool:
    try:
        return sys.stdin.isatty()
    except (ValueError, AttributeError):
        return False


def truth_table(assessment: Assessment, truth_c: NDArray[np.float64]) -> list[str]:
    """Return the map and the truth at every position, and how far apart they are."""
    import numpy as np

    from cli.table import framed
    from heatmap.units import Display
    from heatmap.verdict import words

    grill, display = assessment.grill, Display(assessment.grill.units)
    points = np.array([grill.point_mm(label) for label in grill.labels])
    mean_c, std_c = assessment.at(points)
    verdicts = [str(word) for word in words(truth_c, np.zeros_like(truth_c), *assessment.band_c)]
    texts = [
        f"{display.temperature(float(mapped)):.0f} {display.temperature(float(true)):.0f} {console.mark(word)}"
        for mapped, true, word in zip(mean_c, truth_c, verdicts, strict=True)
    ]
    off_c = mean_c - truth_c
    typical = display.difference_text(float(np.sqrt(np.mean(off_c**2))))
    within = int(np.sum(np.abs(off_c) <= 1.96 * std_c))
    return [
        f"Make-believe: your map of round {assessment.round.number}, then the truth and its mark",
        *framed(grill.positions.rows, grill.positions.columns, texts, verdicts),
        f"Your map is off by {typical} (root mean square); "
        f"the truth is within its ± at {within} of {len(off_c)} positions.",
    ]
