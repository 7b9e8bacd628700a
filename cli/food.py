"""What the cook says of the food: in options, or asked once where the grill file does not say what goes on."""

import re
import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cli import console
from cli.options import flag, number_or_word, option
from cli.output import GRILL, Output
from heatmap.errors import HeatmapError, InputError
from heatmap.grill.grill import Food, Grill
from heatmap.words.grill import FOOD_KEPT, WHAT_GOES_ON


@dataclass(frozen=True, slots=True, kw_only=True)
class FoodSaid:
    """What a command was told of the food, in the units of the grill file; what it was not told is as in that file.

    Each field is an option (:func:`cli.options.with_options`), and most are a key of the file's table [food].
    """

    target: float | None = option("TEMPERATURE", "Peak of its centre after the rest; else the grill file's.")
    thickness: float | None = option("LENGTH", "Its thickness; else the grill file's, 1.25 in or 32 mm.")
    start: float | None = option("TEMPERATURE", "Its centre before the sear; else the grill file's, 110 °F or 43 °C.")
    cooker: Any = option(
        "TEMPERATURE",
        "Low oven it comes out of, or none; else the grill file's, 275 °F or 135 °C.",
        parser=number_or_word,
    )
    turns: int | None = option(
        "N", "How often it is set down, on fresh rails; else the grill file's, or 4 (in place: 1)."
    )
    flip_every_turn: bool = flag("Other side down at every turn, not one side and then the other.")
    meat: str | None = option("KIND", '"whole cut", "ground", or "tenderised or injected".')
    size: str = option(
        "LENGTHxWIDTH", "Its size, length along the heading; it then counts, not the zone. Else the grill file's.", ""
    )
    heading: str = option(
        "CLOCK[,CLOCK]",
        "Where it points, by the clock, 12 straight away from you; two for crossed marks, any for the best; "
        "else the grill file's, or 2,10.",
        "",
    )

    def over(self, grill: Grill) -> Grill:
        """Return the grill with what was said in the place of what its file has of the food.

        Raises
        ------
        InputError
            Naming the option, what was said and what is allowed.
        """
        from heatmap.decisions.placement import read_headings, read_size
        from heatmap.grill.schema import keys_of

        said = {name: getattr(self, name) for name in ("turns", "thickness", "start", "target", "cooker", "meat")}
        said["sides"] = "ABAB" if self.flip_every_turn else None
        said["size"] = list(read_size(self.size)) if self.size else None
        any_will_do = self.heading.strip().casefold() == "any"
        said["heading"] = [] if any_will_do else list(read_headings(self.heading)) if self.heading else None
        keys = keys_of(Food) | {"heading": keys_of(Food)["headings"]}
        told = {name: value for name, value in said.items() if value is not None}
        food = {keys[name].attribute: keys[name].read(f"--{name}", value, grill.units) for name, value in told.items()}
        return replace(grill, food=replace(grill.food, **food))


#: The usual piece, along its heading, across it and thick.
_USUAL = {"us": ("7.5 x 5 x 1.25", "inches", "°F"), "si": ("190 x 125 x 32", "mm", "°C")}


def ask_food(grill_file: Path) -> None:
    """Ask what goes on where somebody sits at the terminal and the file does not say.

    What is answered is added to the grill file under [food]; everything else in it stays as it is.
    """
    from heatmap.grill.toml import grill_from_toml, load_grill, toml_from_tables

    grill = load_grill(grill_file)
    if grill.food.is_told or not (console.is_terminal() and console.is_terminal(sys.stderr)):
        return
    console.talk(WHAT_GOES_ON)
    size, lengths, degrees = _USUAL[grill.units]
    along, across, thickness = _ask(f"Length along the heading x width x thickness, {lengths}", size, 3)
    told: dict[str, Any] = {"size": [along, across], "thickness": thickness}
    told["headings"] = _ask("Headings by the clock, 12 straight away from you", "2, 10", 1, 2)
    told["turns"] = int(_ask("Turns, each on fresh rails", "4", 1)[0])
    centre = _ask(f"Centre when it goes on and its peak in the rest, {degrees}, like 110 137; or -", "-", 0, 2)
    told |= dict(zip(("start", "target"), centre, strict=False))
    before = grill_file.read_bytes().decode("utf-8")
    end = "\r\n" if "\r\n" in before else "\n"
    added = toml_from_tables({"food": told}).replace("\n", end)
    text = f"{before.rstrip()}{end}{added}"
    try:
        grill_from_toml(text.removeprefix("\ufeff"), source=str(grill_file))
        Output(grill_file, GRILL, force=True).save(text)
        console.talk(FOOD_KEPT.format(file=grill_file))
    except HeatmapError as error:
        console.talk(f"Not kept: {error}")


def _ask(question: str, default: str, *counts: int) -> list[float]:
    """Ask for so many numbers until they can be read."""

    def read(text: str) -> list[float]:
        numbers = [] if text == "-" else [float(one) for one in re.findall(r"\d+(?:\.\d+)?", text)]
        if len(numbers) not in counts:
            raise InputError(f"{text!r} is not understood; write it like {default}")
        return numbers

    return console.ask(question, default, read)
