"""From the files a command names to an assessment, and to the one decision, as every command asks for it."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import heatmap
from cli import console, options
from cli.food import FoodSaid


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """The two files a command reads, and whether it goes on without bad rows; each field is an option."""

    grill: Path = options.grill_file()
    readings: Path = options.readings_file()
    skip_bad: bool = options.skip_bad()

    def load(self, food: FoodSaid | None = None) -> tuple[heatmap.Grill, tuple[heatmap.Round, ...]]:
        """Read both and pass on to stderr what the readings file wants said; the readings come from a pipe for "-".

        What was said of the food stands in the place of what the grill file says.
        """
        from heatmap.readings.csv_file import read_readings

        grill = heatmap.load_grill(self.grill)
        grill = grill if food is None else food.over(grill)
        found = read_readings(sys.stdin if str(self.readings) == "-" else self.readings, grill, skip_bad=self.skip_bad)
        console.talk(*found.warnings)
        console.talk(*(f"{found.name}: {line}" for line in found.problem_lines(" left out")))
        return grill, found.rounds

    def assessment(self, round_number: int | None = None, *, food: FoodSaid | None = None) -> heatmap.Assessment:
        """Read both, assess one round, and say what is odd about how it was typed or set up."""
        grill, rounds = self.load(food)
        found = heatmap.assess(grill, rounds, round_number)
        console.talk(*odd_lines(found))
        return found

    def decision(self, assessment: heatmap.Assessment, *, now: datetime | None = None, **how: Any) -> heatmap.Decision:
        """Return the one decision at this moment, or `now`; for a round that is not the newest, that of its time.

        What is not said of the sear is believed by the test pieces beside the readings; `how` is as for
        :func:`heatmap.decide`.
        """
        from cli.lesson import taught
        from heatmap.decisions.placement import Wanted

        grill = assessment.grill
        if now is None and assessment.round.number == max(one.number for one in assessment.rounds):
            now = datetime.now().astimezone()
        how = {"taught": lambda rails: taught(grill, rails, self.readings)} | how
        return heatmap.decide(assessment, Wanted.said(grill), now, **how)


def of_its_time(assessment: heatmap.Assessment, decision: heatmap.Decision) -> heatmap.Decision:
    """Return what an old map called for when it was shot; for any other the decision itself."""
    from heatmap.decisions.placement import Wanted

    if decision.shoot_for not in ("old", "another day"):
        return decision
    # At the same place, so for as many seconds: those that test pieces taught.
    return heatmap.decide(assessment, Wanted.said(assessment.grill), plan=decision.plan)


def odd_lines(assessment: heatmap.Assessment) -> list[str]:
    """Return what looks like a slip in a round, one line each."""
    from heatmap.verdict.oddities import oddities
    from heatmap.words.map import oddity_sentence

    found = oddities(assessment.grill, assessment.round, datetime.now().astimezone())
    return [oddity_sentence(oddity, assessment.round.number, assessment.grill) for oddity in found]
