"""The tables and keys of a grill file, for what reads it and what writes it."""

from __future__ import annotations

import dataclasses
from typing import Any

from heatmap.grill.grill import Grate, Gun, Patch, Positions, Probe, Surroundings, TargetBand
from heatmap.grill.quantities import SUFFIX

SECTIONS: dict[str, type[Any]] = {
    "grate": Grate,
    "positions": Positions,
    "gun": Gun,
    "probe": Probe,
    "patch": Patch,
    "target": TargetBand,
    "surroundings": Surroundings,
}


def key_of(item: dataclasses.Field[Any]) -> str:
    """Return the key of a field as a grill file has it: without its unit."""
    suffix = SUFFIX[item.metadata.get("kind", "number")]
    return "seams" if item.name == "seams_mm" else item.name.removesuffix(suffix)


def quoted(text: str) -> str:
    """Return a text in quotes, as TOML has it."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(letter if letter.isprintable() else " " for letter in escaped) + '"'
