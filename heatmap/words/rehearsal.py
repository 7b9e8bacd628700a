"""What is said while the loop is practised on a make-believe grill, or shown on the sample readings."""

from collections.abc import Mapping, Sequence

import numpy as np

from heatmap.grill.grill import Grill
from heatmap.readings.reading import Reading
from heatmap.units import STDS_95, Display, FloatArray, percent
from heatmap.words.taking import away_text, marks_text

INVENTED = "Invented readings of an invented grill; your own: gratemap grill new, then gratemap take."
DID_IT_HELP = "Did the last change help?"
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
HOW = "type advice, or a burner and its mark, or ? for help"
LEAVE_THE_KNOBS = "The advice is to leave the knobs; another round at the same marks."
SAME_MARKS = "They stand at these marks already; another round."
LOOKING = "Looking for the best these knobs can do ..."
END = """Make-believe all of it. The files stay; look again with, for example:
  gratemap history --grill {folder}/grill.toml --readings {folder}/readings.csv
  gratemap burners --why --grill {folder}/grill.toml --readings {folder}/readings.csv"""
STOPPED = "\nStopped. The rounds so far are in {folder}."
TRUTH_TITLE = "Make-believe: your map of round {round}, then the truth while you shot and its mark"
#: What was taken beside the round, as a sentence begins.
_AIMED = {
    "contact": "The probe on a rail",
    "patch": "The gun on the patch",
    "close": "The gun on the rail and between two rails",
}


def begin_lines(grill: Grill, seed: int, marks: Mapping[str, float], folder: str) -> list[str]:
    """Say what is played, and where its files are."""
    display, target = grill.display, grill.target
    burners = ", ".join(
        f"{one.name} at {one.mark_text(marks[one.name])} ({one.low:g} to {one.high:g})" for one in grill.burners
    )
    size = f"{display.length(grill.grate.width_mm):g} by {display.length(grill.grate.depth_mm):g} {display.lengths}"
    band = f"{display.range_text(target.low_c, target.high_c)} {display.degrees}"
    meant = "on your gun" if target.numbers == "shown" else "on the rail"
    return [
        f"Make-believe grill {seed}: nothing here is real, and nothing is hot.",
        f"A grate of {size}; burners {burners}; band {band} {meant}.",
        f"The files: {folder}/grill.toml and {folder}/readings.csv.",
    ]


def turned_sentence(grill: Grill, before: Mapping[str, float], after: Mapping[str, float], minutes: float) -> str:
    """Say which knobs were turned, and how long was waited."""
    texts = {one.name: one.mark_text for one in grill.burners}
    turns = ", ".join(f"{name} from {texts[name](before[name])} to {texts[name](mark)}" for name, mark in after.items())
    return f"Turned {turns}; {minutes:.0f} make-believe minutes later:"


def touched_sentence(how: str, readings: Sequence[Reading], display: Display) -> str:
    """Say what was shown at each position beside the round; from close up both numbers of a pair."""
    shown: dict[str, list[str]] = {}
    for one in readings:
        shown.setdefault(one.position, []).append(f"{display.temperature(one.shown_c or 0.0):.0f}")
    told = [
        f"at {position} {'' if at else 'shows '}{' and '.join(pair)}"
        for at, (position, pair) in enumerate(shown.items())
    ]
    away, number = away_text(readings[0], None, display), readings[0].round
    return f"{_AIMED[how]}{away} {', '.join(told)} {display.degrees}. Round {number} again, knowing that:"


def positions_truth_sentence(off_c: FloatArray, std_c: FloatArray, display: Display) -> str:
    """Say how far a map is from the truth at the positions, and how often that lies within its ±."""
    typical = display.difference_text(float(np.sqrt(np.mean(off_c**2))))
    within = int(np.sum(np.abs(off_c) <= STDS_95 * std_c))
    return (
        f"At the positions your map is off by {typical} (root mean square); "
        f"the truth is within its ± at {within} of {len(off_c)}."
    )


def truly_in_band_sentence(told: float, true: float) -> str:
    """Say which share a map told, and which it was."""
    return f"While you shot: your map said {percent(told)} in band, and truly it was {percent(true)}."


def reached_sentence(start: float, now: float, best: float, grill: Grill, marks: Mapping[str, float]) -> str:
    """Say which shares marks truly give once settled: those of the beginning, of now, and the best."""
    return (
        f"Once settled, in the day's usual wind, truly in band: {percent(start)} at the marks it began with, "
        f"{percent(now)} at yours; the best these knobs can do is {percent(best)} ({marks_text(grill, marks)})."
    )
