"""Imports flow one way: the order of the rooms, in one table, and what a room may not do.

A room takes values and returns values. Files, ports, pictures and the report are edges; the command line is
outside.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

# A module may import from its own entry and from the lines above it. The longest entry that fits counts, so a
# part of a room can stand higher than the room. A new module gets a place here.
ORDER = [
    ["units", "errors"],
    ["words.phrases"],
    ["physics"],
    ["grill.schema"],
    ["gaussian"],
    ["surface"],
    ["grill"],
    ["readings", "taking.walk", "taking.slips", "taking.tuning"],
    ["readings.written", "taking.preheat"],
    ["readings.typed"],
    ["readings.spoken"],
    ["correct", "synthetic", "sear"],
    ["grate_model", "verdict"],
    ["taking.doubt"],
    ["words.taking"],
    ["taking"],
    ["assessment"],
    ["decisions.tuning", "taking.recheck_spots"],
    ["decisions.burner_search"],
    ["decisions", "verdict.comparison"],
    ["verdict.history"],
    ["taking.running"],
    ["words"],
    # The edges, from here on.
    ["readings.durable"],
    ["grill.toml", "readings.csv_rows", "serial_port"],
    ["readings.csv_file"],
    ["readings.log", "readings.sears"],
    ["taking.sitting"],
    ["pictures"],
    ["report"],
    ["page"],
]
EDGES = {
    "grill.toml", "readings.durable", "readings.csv_rows",
    "readings.csv_file", "readings.log", "readings.sears", "serial_port", "pictures", "report",
    "taking.sitting", "page",
}  # fmt: skip
RANK = {entry: rank for rank, line in enumerate(ORDER) for entry in line}
# Physics knows no grill, and the surface knows only points and temperatures.
ONLY = {
    "physics": {"physics", "errors", "units"},
    "gaussian": {"gaussian", "units"},
    "surface": {"surface", "gaussian", "errors", "units"},
}

MODULES = sorted(path for path in (ROOT / "heatmap").rglob("*.py") if path != ROOT / "heatmap" / "__init__.py")


def name_of(path: Path) -> str:
    parts = path.relative_to(ROOT / "heatmap").with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


def entry_of(module: str) -> str:
    """Return the longest entry of the table a module belongs to."""
    parts = module.split(".")
    for length in range(len(parts), 0, -1):
        if ".".join(parts[:length]) in RANK:
            return ".".join(parts[:length])
    raise AssertionError(f"heatmap.{module} has no place in the order of tests/test_import_direction.py; give it one")


def imported(tree: ast.AST) -> Iterator[str]:
    """Yield the full name of everything imported, wherever in the module: on first use and for types too."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "no relative imports: a name tells where it lives"
            if node.module == "heatmap":
                yield from (f"heatmap.{alias.name}" for alias in node.names)
            elif node.module:
                yield node.module


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_imports_go_up_the_table(path: Path) -> None:
    mine = entry_of(name_of(path))
    for name in imported(ast.parse(path.read_text(encoding="utf-8"))):
        assert name.split(".")[0] not in ("cli", "tests"), f"{path.name} imports {name}: heatmap never imports cli"
        assert name != "heatmap", f"{path.name} imports the whole package; import the room"
        if not name.startswith("heatmap."):
            continue
        theirs = entry_of(name.removeprefix("heatmap."))
        if theirs == mine:
            continue
        assert RANK[theirs] < RANK[mine], f"{path.name} ({mine}) imports {name}, which stands below or beside it"
        assert mine not in ONLY or theirs in ONLY[mine], f"{mine} may import {sorted(ONLY[mine])} only, not {name}"


def test_every_entry_exists() -> None:
    entries = {entry_of(name_of(path)) for path in MODULES}
    assert entries == set(RANK)


# What only an edge may import, and names of the built-ins that read, write or ask the clock.
OUTSIDE = {
    "matplotlib",
    "serial",
    "filelock",
    "jinja2",
    "starlette",
    "uvicorn",
    "segno",
    "typer",
    "logging",
    "subprocess",
    "socket",
    "os",
    "sys",
    "time",
}
FORBIDDEN_CALLS = {"print", "open", "input", "exec", "eval"}
FORBIDDEN_ATTRIBUTES = {
    "now",
    "utcnow",
    "today",
    "read_text",
    "write_text",
    "read_bytes",
    "write_bytes",
    "getenv",
}


def is_edge(path: Path) -> bool:
    module = name_of(path)
    return entry_of(module) in EDGES


@pytest.mark.parametrize("path", [path for path in MODULES if not is_edge(path)], ids=name_of)
def test_rooms_take_values_and_return_values(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    outside = {name.split(".")[0] for name in imported(tree)} & OUTSIDE
    assert not outside, f"{path.name} imports {sorted(outside)}"
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name):
            assert node.func.id not in FORBIDDEN_CALLS, f"{path.name}, line {node.lineno}: {node.func.id}()"
        elif isinstance(node.func, ast.Attribute):
            assert node.func.attr not in FORBIDDEN_ATTRIBUTES, f"{path.name}, line {node.lineno}: {node.func.attr}()"


def loaded_by(statement: str) -> set[str]:
    code = f"import sys; {statement}; print(' '.join(sys.modules))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    return set(done.stdout.split())


# What costs: matplotlib and scipy's larger parts some 0.1 to 0.5 s each on a laptop.
HEAVY = {
    "matplotlib",
    "serial",
    "sklearn",
    "pandas",
    "jinja2",
    "filelock",
    "scipy.optimize",
    "scipy.stats",
}
HEAVY |= {"scipy.interpolate", "scipy.spatial", "scipy.signal", "starlette", "uvicorn", "segno"}


@pytest.mark.parametrize(
    ("statement", "heavy"),
    [
        ("import heatmap", {*HEAVY, "numpy", "scipy"}),
        ("import heatmap.errors", {*HEAVY, "numpy", "scipy"}),
        ("import heatmap.grill.grill, heatmap.readings.reading", {*HEAVY, "scipy"}),
        ("from heatmap import load_grill", {*HEAVY, "scipy"}),
        ("from heatmap import assess", HEAVY),
        ("from heatmap import decide", {*HEAVY, "heatmap.sear"}),
    ],
)
def test_imports_load_only_what_is_needed(statement: str, heavy: set[str]) -> None:
    assert not loaded_by(statement) & heavy
