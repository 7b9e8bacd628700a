"""`gratemap rehearse`: the whole loop on a make-believe grill, indoors: shoot, show, turn; and the truth in the end."""

import sys
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Literal

import numpy as np

import heatmap
import heatmap.words.rehearsal as said
from cli import console
from cli.map import show
from cli.options import flag, option
from cli.output import GRILL, Output
from cli.table import framed
from heatmap.assessment import Cells
from heatmap.correct import close_up_mm
from heatmap.decisions.placement import Wanted
from heatmap.errors import InputError, ReadingError
from heatmap.grate_model.settling import USUAL_MIN
from heatmap.grill.toml import toml_from_grill
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import group_rounds
from heatmap.readings.typed import marks_in
from heatmap.synthetic import RehearsalGrill, draw_grill
from heatmap.units import FloatArray, c_from_f, f_from_c
from heatmap.verdict.chances import named

#: The first line of a grill file of a rehearsal; only files that begin so are ever overwritten.
LABEL = "make-believe grill of a rehearsal; nothing in this folder was ever measured"
#: Nobody waits longer than this for a grate.
MOST_WAIT_MIN = 240.0
#: Written beside every reading.
NOTE = "make-believe"


def command(
    seed: int = option("N", "Which grill; the same number, the same grill.", 7, min=0),
    folder: Path | None = option("FOLDER", "Where its files go; if not given, rehearsal-N."),
    overwrite: bool = flag("Start anew over an earlier rehearsal."),
    numbers: Literal["shown", "rail"] = option("shown|rail", "What the band means, as in the grill file.", "shown"),
) -> None:
    """Practise the whole loop on a make-believe grill, indoors.

    You set its knobs, it plays the rounds, and in the end you see the truth beside your map.

    \b
    Example: gratemap rehearse --seed 7
    """
    place = folder or Path(f"rehearsal-{seed}")
    rehearsal = draw_grill(seed, numbers=numbers)
    rehearsal.session = f"rehearsal {seed}"
    # With its band at whole fives, as a cook would name it.
    target = rehearsal.grill.target
    low_c, high_c = (c_from_f(5.0 * round(f_from_c(one) / 5.0)) for one in (target.low_c, target.high_c))
    rehearsal.grill = replace(rehearsal.grill, target=replace(target, low_c=low_c, high_c=high_c))
    grill_file, readings_file = _fresh_files(place, rehearsal.grill, overwrite)
    with ReadingsLog(readings_file, heatmap.load_grill(grill_file)) as log:
        practice = Practice(rehearsal, log)
        console.answer(*said.begin_lines(log.grill, seed, rehearsal.marks, str(place)))
        if console.is_terminal():
            console.answer(said.HELP)
        try:
            practice.play()
        except KeyboardInterrupt:
            console.talk(said.STOPPED.format(folder=place))
            raise
    show_truth(rehearsal, practice.assessment, practice.truth_c)
    console.answer(said.END.format(folder=place))


def _fresh_files(folder: Path, grill: heatmap.Grill, overwrite: bool) -> tuple[Path, Path]:
    """Write the grill file and make sure that there are no readings yet."""
    grill_file, readings_file = folder / "grill.toml", folder / "readings.csv"
    there = [path for path in (grill_file, readings_file) if path.exists()]
    if there and not overwrite:
        raise InputError(f"{there[0]} is there already; start over it with --overwrite, or choose another --folder")
    try:
        text = grill_file.read_text(encoding="utf-8", errors="replace") if grill_file in there else ""
        if there and not text.startswith(f"# {LABEL}"):
            raise InputError(f"{there[0]} is not of a rehearsal and is left alone; choose another --folder")
        folder.mkdir(parents=True, exist_ok=True)
        readings_file.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: cannot be written to: {error.strerror or error}") from None
    Output(grill_file, GRILL, force=True).save(toml_from_grill(grill, comment=LABEL))
    return grill_file, readings_file


class Practice:
    """The loop: shoot, show, turn.

    Attributes
    ----------
    assessment, decision : Assessment, Decision
        Of the newest round.
    truth_c : (ndarray, ndarray)
        At the positions, and at the cells of the map, as that round was half shot [°C].
    """

    assessment: heatmap.Assessment
    decision: heatmap.Decision
    truth_c: tuple[FloatArray, FloatArray]

    def __init__(self, rehearsal: RehearsalGrill, log: ReadingsLog) -> None:
        """Prepare; nothing is shot yet."""
        self.rehearsal, self.log, self.grill, self.number = rehearsal, log, log.grill, 0

    def play(self) -> None:
        """Shoot the first round, and do what is typed until the end."""
        self.shoot()
        while True:
            console.put_question("make-believe>")
            text = sys.stdin.readline()
            if not (text and console.is_terminal()):  # no Enter has ended the line of the question
                console.talk(text.rstrip("\r\n"))
            if not text or text.strip().casefold() in ("end", "done", "quit"):
                return
            try:
                self.do(text)
            except ReadingError as error:
                console.talk(str(error))

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
                advice = self.decision
                if advice.changes:
                    self._turn(advice.settings, advice.wait_min)
                else:
                    self.shoot(advice.wait_min or None, said.LEAVE_THE_KNOBS)
            case ["show" | "map"]:
                self.show()
            case ["?" | "help"]:
                console.answer(said.HELP)
            case ["wait", *words]:
                minutes = float(words[0]) if len(words) == 1 and words[0].replace(".", "", 1).isdecimal() else -1.0
                if not 0.0 <= minutes <= MOST_WAIT_MIN:
                    raise ReadingError(f"wait how many minutes? 0 to {MOST_WAIT_MIN:g}, like: wait 10")
                self.shoot(minutes)
            case ["close", *places]:
                self._touch("close", places or self.grill.labels)
            case ["contact" | "patch" as how, _, *_] as words:
                self._touch(how, words[1:])
            case _:
                self._turn(marks_in(" ".join(text.split()), self.grill, said.HOW))

    def _turn(self, marks: Mapping[str, float], wait_min: float = 0.0) -> None:
        before, minutes = dict(self.rehearsal.marks), wait_min or USUAL_MIN
        moved = {name: mark for name, mark in marks.items() if mark != before[name]}
        if moved:
            self.rehearsal.turn(moved)
            self.shoot(minutes, said.turned_sentence(self.grill, before, moved, minutes))
        else:
            self.shoot(None, said.SAME_MARKS)

    def _touch(self, how: Any, places: Sequence[str]) -> None:
        """Take a contact or patch reading at positions, or a pair of shots from close up at each."""
        near_mm, aims = None, [how]
        positions = [self.grill.label(place) for place in places]
        if how == "close":
            near_mm, aims = close_up_mm(self.grill), ["rail", "valley"]
            if near_mm is None:
                raise ReadingError("this gun's spot cannot be made small enough to tell rail and valley apart")
        self.rehearsal.lid = "open"
        kept = self._write(
            self.rehearsal.shoot(position, aim, number=self.number, distance_mm=near_mm)
            for position in positions
            for aim in aims
        )
        self.rehearsal.lid = self.rehearsal.hidden.habit
        console.answer(said.touched_sentence(how, kept, self.grill.display))
        self.show()

    def shoot(self, wait_min: float | None = None, *told: str) -> None:
        """Let time pass and say after what, play a round, write it down, and show what it says."""
        if wait_min is not None:
            self.rehearsal.wait(wait_min)
        console.answer(*told)
        self.number += 1
        labels, play = self.grill.labels, self.rehearsal.play_round
        half = len(labels) // 2
        readings = list(play(self.number, order=labels[:half]).readings)
        points_mm = [self.grill.point_mm(label) for label in labels]
        now_c = self.rehearsal.compared_now_c  # the map stands for the middle of its round
        self.truth_c = now_c(points_mm), now_c(Cells(self.grill).points_mm)
        self._write([*readings, *play(self.number, order=labels[half:]).readings])
        self.show()

    def _write(self, readings: Iterable[heatmap.Reading]) -> tuple[heatmap.Reading, ...]:
        return self.log.append_all(replace(reading, note=NOTE) for reading in readings)

    def show(self) -> None:
        """Show the map and the advice."""
        self.assessment = heatmap.assess(self.grill, group_rounds(self.log.readings), self.number)
        # Without the time: a make-believe one stands still between rounds.
        self.decision = heatmap.decide(self.assessment, Wanted.said(self.grill))
        console.answer("", "Make-believe")
        show(self.assessment, self.decision)


def show_truth(
    rehearsal: RehearsalGrill, assessment: heatmap.Assessment, truth_c: tuple[FloatArray, FloatArray]
) -> None:
    """Show the truth beside the map, and what the best marks would have given.

    `truth_c` is what was truly held against the band, at the positions and at the cells of the map: the rail, or what
    this gun shows of it but for luck.
    """
    at_positions_c, at_cells_c = truth_c
    grill, display, band_c = assessment.grill, assessment.grill.display, assessment.band_c
    mean_c, std_c = assessment.at_labels
    verdicts = [str(word) for word in named(at_positions_c, np.zeros_like(at_positions_c), *band_c)[0]]
    texts = [
        f"{display.temperature(float(mapped)):.0f} {display.temperature(float(true)):.0f} {console.mark(word)}"
        for mapped, true, word in zip(mean_c, at_positions_c, verdicts, strict=True)
    ]
    console.answer("", said.TRUTH_TITLE.format(round=assessment.round.number), *framed(grill, texts, verdicts))
    console.answer(said.positions_truth_sentence(mean_c - at_positions_c, std_c, display))
    in_band = ((at_cells_c >= band_c[0]) & (at_cells_c <= band_c[1]))[assessment.cells.inside.ravel()]
    console.answer(said.truly_in_band_sentence(assessment.evenness.share_in_band, float(np.mean(in_band))))
    start, now = rehearsal.share_in_band(rehearsal.start), rehearsal.share_in_band(rehearsal.held)
    console.talk(said.LOOKING)
    marks, best = rehearsal.best_reachable()
    console.answer(said.reached_sentence(start, now, best, grill, marks))
