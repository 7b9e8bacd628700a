"""`gratemap demo`: the whole job on the sample readings, nothing to set up."""

from pathlib import Path

import heatmap
from cli import console, options
from cli.food import FoodSaid
from cli.loading import Files
from cli.map import show
from cli.output import PICTURE, Output, output_of

#: What the demonstration asks of the sear, °F: medium as cooks' charts have it (common practice, no source).
TARGET_F = 137.0


def samples() -> Path:
    """Return the folder of sample readings: inside the installed package, or beside it in a checkout."""
    installed = Path(__file__).with_name("sample_readings")
    return installed if installed.is_dir() else Path(__file__).parent.with_name("sample_readings")


def command(
    picture: Output | None = output_of(PICTURE, "Save the picture as .png or .svg."), force: bool = options.force()
) -> None:
    """Run the whole job on the sample readings: words and a picture, nothing to set up.

    \b
    Example: gratemap demo
    """
    from tempfile import mkdtemp

    from cli.drawing import heat_map, picture_bytes
    from heatmap.decisions.placement import Wanted, find_places
    from heatmap.verdict.comparison import compare
    from heatmap.words.burners import burner_lines
    from heatmap.words.compare import compare_lines
    from heatmap.words.decision import decision_sentence
    from heatmap.words.place import place_lines
    from heatmap.words.rehearsal import DID_IT_HELP, INVENTED
    from heatmap.words.sear import sear_lines

    files = Files(grill=samples() / "grill.toml", readings=samples() / "readings.csv")
    grill, rounds = files.load(FoodSaid(target=TARGET_F))
    console.answer(INVENTED)
    assessment = heatmap.assess(grill, rounds)
    placement = find_places(assessment, Wanted.of(grill))
    decision = heatmap.decide(assessment, placement.wanted)  # as if the last round were just over
    _headline("The map, and what to do now")
    show(assessment, decision)
    _headline(DID_IT_HELP)
    console.reply(compare_lines(compare(grill, rounds)), 4)
    _headline("Which knob to turn")
    console.reply(burner_lines(assessment, decision, decision), 6)
    _headline("Where to set it down")
    console.reply(place_lines(assessment, placement, decision), 5)
    _headline(f"How long, for a centre of {TARGET_F:.0f} °F after the rest")
    assert decision.plan is not None
    first = decision_sentence(assessment, decision)
    console.reply(sear_lines(first, grill, decision.plan, None), 6)
    if picture is None:  # nobody asked for one here: it goes among the temporary files of this computer
        picture = Output(Path(mkdtemp(prefix="gratemap-demo-")) / "map.png", PICTURE)
    picture.save(picture_bytes(heat_map(assessment, placement=placement), picture.path.suffix))
    console.answer("", f"Picture: {picture.path}")


def _headline(text: str) -> None:
    console.answer("", console.coloured(text.upper(), "strong"))
