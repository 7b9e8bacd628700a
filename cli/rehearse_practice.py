"""A rehearsal being played: shoot, show, turn, as the typed lines say; and the truth in the end."""

import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

import heatmap.words.rehearsal as said
from cli import console
from cli.map import show
from cli.table import framed
from heatmap.assessment import Assessment, Cells, assess
from heatmap.correct import close_up_mm
from heatmap.decisions.decision import Decision, decide
from heatmap.decisions.placement import Wanted
from heatmap.errors import ReadingError
from heatmap.grate_model.settling import USUAL_MIN
from heatmap.readings.log import ReadingsLog
from heatmap.readings.reading import group_rounds
from heatmap.readings.typed import marks_in
from heatmap.synthetic import RehearsalGrill
from heatmap.units import FloatArray
from heatmap.verdict.chances import named

#: Nobody waits longer than this for a grate.
MOST_WAIT_MIN = 240.0
#: Written beside every reading.
NOTE = "make-believe"


class Practice:
    """The loop: shoot, show, turn; and the truth in the end."""

    def __init__(self, rehearsal: RehearsalGrill, log: ReadingsLog, folder: Path) -> None:
        """Prepare; nothing is shot yet."""
        self.rehearsal, self.log, self.folder = rehearsal, log, folder
        self.grill = log.grill
        self.number = 0
        self.assessment: Assessment
        #: At the positions, and at the cells of the map, as each round was half shot [°C].
        self.truth_c: tuple[FloatArray, FloatArray]

    def begin(self, seed: int) -> None:
        """Say what is played, and shoot the first round."""
        console.answer(*said.begin_lines(self.grill, seed, self.rehearsal.marks, str(self.folder)))
        if console.is_terminal():
            console.answer(said.HELP)
        self.shoot()

    def play(self) -> None:
        """Do what is typed until the end."""
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
                self._take_advice()
            case ["show" | "map"]:
                self.show()
            case ["?" | "help"]:
                console.answer(said.HELP)
            case ["wait", *minutes]:
                self._wait(" ".join(minutes))
            case ["close", *places]:
                self._touch("close", places or self.grill.labels)
            case ["contact" | "patch" as how, _, *_] as words:
                self._touch(how, words[1:])
            case _:
                self._turn(marks_in(" ".join(text.split()), self.grill, said.HOW))

    def _wait(self, text: str) -> None:
        minutes = float(text) if text.replace(".", "", 1).isdecimal() else -1.0
        if not 0.0 <= minutes <= MOST_WAIT_MIN:
            raise ReadingError(f"wait how many minutes? 0 to {MOST_WAIT_MIN:g}, like: wait 10")
        self.rehearsal.wait(minutes)
        self.shoot()

    def _take_advice(self) -> None:
        decision = self._decision()
        if decision.changes:
            self._turn(decision.settings, decision.wait_min)
            return
        if decision.wait_min:
            self.rehearsal.wait(decision.wait_min)
        console.answer(said.LEAVE_THE_KNOBS)
        self.shoot()

    def _decision(self) -> Decision:
        # Without the time: a make-believe one stands still between rounds.
        return decide(self.assessment, Wanted.said(self.grill))

    def _turn(self, marks: Mapping[str, float], wait_min: float = 0.0) -> None:
        before = dict(self.rehearsal.marks)
        moved = {name: mark for name, mark in marks.items() if mark != before[name]}
        if moved:
            minutes = wait_min or USUAL_MIN
            self.rehearsal.turn(moved)
            self.rehearsal.wait(minutes)
            console.answer(said.turned_sentence(self.grill, before, moved, minutes))
        else:
            console.answer(said.SAME_MARKS)
        self.shoot()

    def _touch(self, how: str, places: Sequence[str]) -> None:
        """Take a contact or patch reading at positions, or a pair of shots from close up at each."""
        positions = [self.grill.label(place) for place in places]
        near_mm = close_up_mm(self.grill) if how == "close" else None
        if how == "close" and near_mm is None:
            raise ReadingError("this gun's spot cannot be made small enough to tell rail and valley apart")
        aims: Any = (how,) if near_mm is None else ("rail", "valley")
        where = [(position, aim) for position in positions for aim in aims]
        self.rehearsal.move_lid("open")
        readings = [self.rehearsal.shoot(*one, number=self.number, distance_mm=near_mm) for one in where]
        self.rehearsal.move_lid(self.rehearsal.hidden.habit)
        kept = self.log.append_all(replace(reading, note=NOTE) for reading in readings)
        console.answer(said.touched_sentence(how, kept, self.grill.display))
        self.show()

    def shoot(self) -> None:
        """Play a round, write it down, and show what it says."""
        self.number += 1
        labels, play = self.grill.labels, self.rehearsal.play_round
        half = len(labels) // 2
        readings = list(play(self.number, order=labels[:half]).readings)
        points_mm = [self.grill.point_mm(label) for label in labels]
        now_c = self.rehearsal.compared_now_c  # the map stands for the middle of its round
        self.truth_c = now_c(points_mm), now_c(Cells(self.grill).points_mm)
        readings += play(self.number, order=labels[half:]).readings
        self.log.append_all(replace(reading, note=NOTE) for reading in readings)
        self.show()

    def show(self) -> None:
        """Show the map and the advice."""
        self.assessment = assess(self.grill, group_rounds(self.log.readings), self.number)
        console.answer("", "Make-believe")
        show(self.assessment, self._decision())

    def end(self) -> None:
        """Show the truth beside the map, and where the files are."""
        show_truth(self.rehearsal, self.assessment, self.truth_c)
        console.answer(*said.end_lines(str(self.folder)))


def show_truth(rehearsal: RehearsalGrill, assessment: Assessment, truth_c: tuple[FloatArray, FloatArray]) -> None:
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
