"""What every benchmark hands over, and the one place where it is printed and written.

A benchmark is a script beside this one with a function `rows(quick=False, …)` that measures and returns `Row`s. It runs
alone through `alone`, or with the others through run.py.
"""

from __future__ import annotations

import argparse
import importlib.metadata
import inspect
import json
import os
import platform
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from math import isfinite, log, nan
from pathlib import Path
from typing import Any

PACKAGES = ("gratemap", "numpy", "scipy", "matplotlib", "typer", "pyserial", "scikit-learn", "pykrige")


@dataclass(frozen=True, kw_only=True)
class Row:
    """One measured figure.

    Attributes
    ----------
    what, size : str
        What was measured, and on how much.
    value : float
        The figure.
    unit : str
        Its unit; "1" for a share, an exponent or a plain number.
    against : str
        What ran beside it.
    other : float or None
        The figure of that, in the same unit.
    ratio : float or None
        Ours over the other; where pairs ran in turn the median of the pairs' ratios, else that of the two figures.
    limit : str
        What the project has promised of it.
    also : dict of str to (float, float or None)
        What belongs beside it, name with unit to ours and the other's.
    """

    what: str
    size: str
    value: float
    unit: str
    against: str = ""
    other: float | None = None
    ratio: float | None = None
    limit: str = ""
    also: dict[str, tuple[float, float | None]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.ratio is None and self.other:
            object.__setattr__(self, "ratio", self.value / self.other)


def grows(what: str, unit: str, values: dict[int, float]) -> list[Row]:
    """Return the exponents p of value ~ size**p between neighbouring sizes."""
    sizes = sorted(values)
    return [
        Row(
            what=f"{what}: grows as size to the power of",
            size=f"{small:,} to {large:,} {unit}",
            value=log(values[large] / values[small]) / log(large / small),
            unit="1",
        )
        for small, large in zip(sizes, sizes[1:], strict=False)
    ]


def broken(what: str, error: Exception) -> Row:
    """Return the row of what could not be measured, so that the rows around it are not lost."""
    return Row(what=what, size="broken", value=nan, unit="1", limit=" ".join(str(error).split())[-200:])


def number(value: float | None, unit: str = "") -> str:
    """Write a figure with three digits that count."""
    if value is None or not isfinite(value):
        return ""
    digits = max(0, 2 - int(f"{value:e}".split("e")[1])) if value else 0
    return f"{value:,.{min(digits, 4)}f}{'' if unit == '1' else ' ' + unit}".rstrip()


def lines(rows: Sequence[Row]) -> list[str]:
    """Return the table as lines: what, size, figure, against what, its figure, ratio, limit and what belongs beside."""
    cells = [["what", "size", "figure", "against", "figure", "ratio", "limit or, ours | the other's"]]
    cells += [
        [
            row.what,
            row.size,
            number(row.value, row.unit),
            row.against,
            number(row.other, row.unit),
            number(row.ratio),
            "; ".join([row.limit] * bool(row.limit) + [f"{name} {_both(*pair)}" for name, pair in row.also.items()]),
        ]
        for row in rows
    ]
    widths = [max(len(line[column]) for line in cells) for column in range(len(cells[0]))]
    right = (2, 4, 5)
    return [
        "  ".join(
            text.rjust(width) if column in right else text.ljust(width)
            for column, (text, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in cells
    ]


def _both(ours: float, other: float | None) -> str:
    return number(ours) if other is None else f"{number(ours)} | {number(other) or '-'}"


def machine() -> dict[str, Any]:
    """Say when, with which versions and on what kind of machine; never which one."""
    versions = {}
    for package in PACKAGES:
        try:
            versions[package] = importlib.metadata.version(package)
        except importlib.metadata.PackageNotFoundError:
            versions[package] = None
    return {
        "date": datetime.now(UTC).isoformat(timespec="seconds"),
        "python": platform.python_version(),
        "versions": versions,
        "system": platform.system(),
        "architecture": platform.machine(),
        "cores": os.cpu_count(),
        # More than one job for each core means that others were at work and times are longer than they need be.
        "load_at_start": round(os.getloadavg()[0], 2) if hasattr(os, "getloadavg") else None,
        "blas_threads": os.environ.get("OPENBLAS_NUM_THREADS"),
    }


def document(value: Any) -> Any:
    """Return rows, or anything of lists, dictionaries and numbers, as JSON can hold it: what is not finite is null."""
    if isinstance(value, Row):
        return document(asdict(value))
    if isinstance(value, dict):
        return {key: document(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [document(each) for each in value]
    return None if isinstance(value, float) and not isfinite(value) else value


def write(path: Path, result: dict[str, Any]) -> None:
    """Write JSON, rows and all."""
    path.write_text(
        json.dumps(document(result), indent=1, ensure_ascii=False, allow_nan=False) + "\n", encoding="utf-8"
    )


def alone(rows: Callable[..., list[Row]], description: str | None) -> None:
    """Run one benchmark by itself; every parameter of its `rows` is an option."""
    parser = argparse.ArgumentParser(
        description=description, formatter_class=argparse.RawDescriptionHelpFormatter, allow_abbrev=False
    )
    for name, parameter in inspect.signature(rows).parameters.items():
        if isinstance(parameter.default, bool):
            parser.add_argument(f"--{name}", action="store_true")
        else:
            parser.add_argument(f"--{name}", type=type(parameter.default), default=parameter.default)
    parser.add_argument("--json", type=Path, metavar="FILE", help="also write the figures here")
    options = vars(parser.parse_args())
    file = options.pop("json")
    about = machine()
    found = rows(**options)
    print("\n".join(lines(found)))
    if file:
        write(file, {"machine": about, "rows": found})
