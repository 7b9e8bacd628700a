"""The food, asked once: at the first `place` or `sear` of a grill file that does not say what goes on."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

from cli import console
from cli.output import GRILL, Output
from heatmap.errors import HeatmapError, InputError
from heatmap.words.grill import WHAT_GOES_ON, food_kept_sentence

_NUMBER = r"\d+(?:[.,]\d+)?"
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
    told: dict[str, Any] = {}
    along, across, thickness = _ask(f"Length along the heading x width x thickness, {lengths}", size, 3)
    told["size"], told["thickness"] = [along, across], thickness
    told["headings"] = _ask("Headings by the clock, 12 straight away from you", "2, 10", 1, 2)
    told["turns"] = int(_ask("Turns, each on fresh rails", "4", 1)[0])
    centre = _ask(f"Centre when it goes on and its peak in the rest, {degrees}, like 110 137; or -", "-", 0, 2)
    told |= dict(zip(("start", "target"), centre, strict=False)) if len(centre) == 2 else {}
    before = grill_file.read_bytes().decode("utf-8")
    end = "\r\n" if "\r\n" in before else "\n"
    added = toml_from_tables({"food": told}).replace("\n", end)
    text = f"{before.rstrip()}{end}{added}"
    try:
        grill_from_toml(text.removeprefix("\ufeff"), source=str(grill_file))
        Output(grill_file, GRILL, force=True).save(text)
        console.talk(food_kept_sentence(str(grill_file)))
    except HeatmapError as error:
        console.talk(f"Not kept: {error}")


def _ask(question: str, default: str, *counts: int) -> list[float]:
    """Ask for so many numbers until they can be read."""

    def read(text: str) -> list[float]:
        numbers = [] if text == "-" else re.findall(_NUMBER, re.sub(r"(\d),(?=\d\d?(?:\D|$))", r"\1 ", text))
        if len(numbers) not in counts:
            raise InputError(f"{text!r} is not understood; write it like {default}")
        return [float(number.replace(",", ".")) for number in numbers]

    return console.ask(question, default, read)
