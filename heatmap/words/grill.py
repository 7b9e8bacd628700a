"""What is told of the description of a grill; and what `grill new` asks, each question with a usual answer and help."""

from collections.abc import Sequence
from typing import NamedTuple

from heatmap.grill.grill import Grill
from heatmap.grill.layout import Lie, misplaced, usual_names
from heatmap.physics.finishes import FINISHES, find_finish
from heatmap.units import STDS_95, Display, Units

WHAT_GOES_ON = "What goes on? Asked once, kept in the grill file; Enter takes what stands in brackets."
FOOD_KEPT = "Kept in {file} under [food]."
A_FEW_QUESTIONS = "A few questions. Enter takes what stands in brackets; ? helps; < goes back."


def file_comment(units: Units) -> str:
    """Return what stands at the top of a new grill file."""
    return (
        f"A grill for gratemap. Numbers are in {'inches' if units == 'us' else 'mm'} and {Display(units).degrees}.\n"
        "x runs to the right, y away from you, both from the front left corner of the grate."
    )


def written_sentence(file: str, *, rails: bool) -> str:
    """Say that a grill file is written, and what comes next; `rails`, that they are of the usual size."""
    measure = " Measure the rails when you can and put them in." if rails else ""
    return f"Written: {file}.{measure} Now: gratemap take"


def mend_lines(file: str, problems: Sequence[str]) -> list[str]:
    """Say what is wrong in a grill file."""
    if len(problems) == 1:
        return [f"gratemap: {file}: {problems[0]}"]
    return [f"gratemap: {file}: {len(problems)} things to mend:", *(f"  {line}" for line in problems)]


def checked_lines(grill: Grill) -> list[str]:
    """Say which positions there are, what the finish is taken to be, and what was taken as usual."""
    positions = grill.positions_text
    lines = [f"{positions[0].upper()}{positions[1:]}."]
    if grill.grate.emissivity is None:
        finish = find_finish(grill.grate.finish)
        known = "assumed, no published value" if finish.assumed else finish.source
        between = f"{finish.emissivity:.2f} ± {STDS_95 * finish.emissivity_sd:.2f}"
        lines.append(f"Emissivity of {finish.name}: {between} ({known}).")
        if finish.remark:
            lines.append(f"  {finish.remark}")
    if grill.assumed:
        lines += ["Taken as usual, because the file does not say:", *(f"  {line}" for line in grill.assumed)]
    return lines


def misplaced_sentences(grill: Grill) -> list[str]:
    """Warn of every burner that lies elsewhere than its name says: turned about, advice would make things worse."""
    found = misplaced(grill)
    if not found:
        return []
    from heatmap.verdict.regions import region_name  # what it imports takes long

    # A burner is as long as the grate, or nearly: of the side's three parts the middle one stands for all.
    return [
        f'Burner "{name}" is laid at the {region_name(x_mm, y_mm, grill.grate).removeprefix("centre ")}, but its name '
        f"says {word}: put right where it lies, or its name."
        for name, word, (x_mm, y_mm) in found
    ]


def zone_text(grill: Grill) -> str:
    """Return what should be in band, as a sentence calls it: "the grate", "the left half", "the zone"."""
    zone = grill.target.zone
    return "the grate" if zone == "all" else f"the {zone}" if isinstance(zone, str) else "the zone"


class Question(NamedTuple):
    """What is asked, what Enter answers, and what `?` tells."""

    text: str
    usual: str
    help: str


SIZE = Question(
    "Grate, width x depth in inches, or round and its width",
    "24 x 18",
    "Width from left to right, depth from front to back, of the part you cook on. 60 x 45 cm makes every "
    "number metric, and °C. A kettle: round 22 1/2, or round 57 cm.",
)
METAL = Question(
    "Metal of the rails, or plate (? lists them)",
    "cast iron, seasoned",
    "What the food touches. plate: solid, no rails, as in: plate, carbon steel, seasoned. Rails run front to back; "
    "where they do not: left-to-right, stainless steel, oxidised. The metals: " + "; ".join(FINISHES) + ".",
)
BURNERS = Question(
    "Burners lie front-to-back, left-to-right, rings, one; or coals, none",
    "front-to-back",
    "front-to-back: each tube runs away from you. left-to-right: each runs from side to side. rings: inside "
    "one another, or side by side. one: a single burner. coals: nothing with a knob. none: not known.",
)
VENTS = Question(
    "Air vents, nearly shut to open: 1-4, or words; or none",
    "none",
    "Where the vents have marks, or you can tell how far they are open (quarter half open), you are told what "
    "to set them to. none: you are told how to move the coals.",
)
KNOBS = Question(
    "Knob marks, lowest flame to full: 1-10, LO MED HI, or clock 6-9",
    "1-10",
    "Two numbers as on the dial; or its words from low to high; or, where it has neither, where the pointer "
    "stands on a clock face at the lowest steady flame and at full: clock 6-9.",
)
IS_IT_SO = Question(
    "Is it so? yes, no; 12, 20 or 24 positions; or move a burner",
    "yes",
    "You look down on it. no: every question again, Enter keeps each answer. Move one burner: its name and "
    "x y of its middle, or x y of both ends. 20 or 24: more positions.",
)
GUN = Question(
    "Gun: distance to spot, and the emissivity it is set to",
    "12:1 0.95",
    "Both stand on its label or in its menu; 12:1 sees a spot of 1 in from 12 in. Most are fixed at 0.95.",
)
USUAL_BAND = {"us": "550-600", "si": "290-315"}
_ORDER = {"front-to-back": "from the left", "left-to-right": "from the front", "rings": "from the middle outwards"}


def names_of(lie: Lie) -> Question:
    """Ask what several burners are called."""
    return Question(
        f"Their names {_ORDER[lie]}, or how many",
        ", ".join(usual_names(lie, 2 if lie == "rings" else 3)),
        "As you call the knobs, separated by commas; or a number. They are drawn next, and can be moved.",
    )


def band_in(units: Units) -> Question:
    """Ask for the band."""
    return Question(
        f"The band you want, as your gun shows it, {Display(units).degrees}",
        USUAL_BAND[units],
        "Low and high. 550 600 rail: true rail temperatures, not what the gun shows. 550 600 left half: only that "
        "part should be in band, for a fire of two zones (left, right, front, back; half, third, two thirds).",
    )
