"""From the files a command names to an assessment."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from cli import console

if TYPE_CHECKING:
    from heatmap.assessment import Assessment
    from heatmap.grill.grill import Grill
    from heatmap.readings.csv_file import ReadingsFile
    from heatmap.readings.reading import Round

#: More lines than this are counted, not told one by one.
MOST_SAID = 10


def load(grill_file: Path, readings_file: Path, *, skip_bad: bool = False) -> tuple[Grill, tuple[Round, ...]]:
    """Read both files and pass on to stderr what the readings file wants said."""
    from heatmap.grill.toml import load_grill
    from heatmap.readings.reading import group_rounds

    grill = load_grill(grill_file)
    return grill, group_rounds(read(readings_file, grill, skip_bad=skip_bad).readings)


def read(readings_file: Path, grill: Grill, *, skip_bad: bool = False) -> ReadingsFile:
    """Read a readings file, or the pipe for "-", and say what was left out."""
    from heatmap.readings.csv_file import read_readings

    source = sys.stdin if str(readings_file) == "-" else readings_file
    found = read_readings(source, grill, skip_bad=skip_bad)
    for warning in found.warnings:
        console.talk(warning)
    for problem in found.problems[:MOST_SAID]:
        console.talk(f"{found.name}: line {problem.line} left out: {problem.why}")
    if len(found.problems) > MOST_SAID:
        console.talk(f"{found.name}: {len(found.problems) - MOST_SAID} more lines left out")
    return found


def assessment(
    grill_file: Path,
    readings_file: Path,
    round_number: int | None,
    *,
    skip_bad: bool = False,
    keep_suspects: bool = False,
) -> Assessment:
    """Read both files, assess one round, and say what is odd about how it was typed or set up."""
    from heatmap.assessment import assess

    grill, rounds = load(grill_file, readings_file, skip_bad=skip_bad)
    found = assess(grill, rounds, round_number, keep_suspects=keep_suspects)
    say_oddities(found)
    return found


def say_oddities(assessment: Assessment) -> None:
    """Pass on what looks like a slip, one line each."""
    for line in odd_lines(assessment.grill, assessment.round):
        console.talk(line)


def odd_lines(grill: Grill, one: Round) -> list[str]:
    """Return what looks like a slip in a round, one line each."""
    from heatmap.units import Display
    from heatmap.verdict.oddities import oddities
    from heatmap.words.oddities import oddity_sentence

    found = oddities(grill, one, datetime.now().astimezone())
    return [oddity_sentence(oddity, one.number, Display(grill.units)) for oddity in found]
