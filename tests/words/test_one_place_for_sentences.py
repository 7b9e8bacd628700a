"""What people read is made in `heatmap/words/`: no other room, and no command, holds a sentence."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from cli.commands import COMMANDS

ROOT = Path(__file__).parents[2]
#: Rooms and files that hold sentences, and why they may.
ALLOWED = {
    "heatmap/words": "here they are made",
    "heatmap/readings": "what is wrong in a file: errors, gathered before they are raised",
    "heatmap/serial_port": "what is wrong on a line from the port, likewise",
    "heatmap/physics/finishes.py": "a hint inside an error",
}
#: The command line's own: a bug is told where it is caught.
TALK = {"app.py": 1}

SENTENCE = re.compile(r"[.?!:][\"”)]*\s*$")


def sentences(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """Yield strings of four words or more that end like a sentence, but for docstrings, errors raised and help."""
    skipped: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            skipped.add(id(node.value))
        raised = node if isinstance(node, ast.Raise) else None
        if isinstance(node, ast.Call):
            name = ast.unparse(node.args[0] if ast.unparse(node.func) == "partial" else node.func).split(".")[-1]
            helps = name in (
                "Argument",
                "BadParameter",
                "Option",
                "Typer",
                "file_option",
                "flag",
                "option",
                "output_of",
            )
            raised = node if helps or name.endswith("Error") else raised
        if raised is not None:
            skipped |= {id(each) for each in ast.walk(raised)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            skipped |= {id(each) for each in node.values}
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(each.value) if isinstance(each, ast.Constant) else "…" for each in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            text = node.value
        else:
            continue
        has_words = len(text.split()) >= 4 and re.search("[a-z]{2}", text)
        if has_words and SENTENCE.search(text) and not text.startswith("(?"):
            yield node.lineno, text


def told(path: Path) -> list[tuple[int, str]]:
    return list(sentences(ast.parse(path.read_text(encoding="utf-8"))))


def paths(folder: str) -> list[Path]:
    return sorted((ROOT / folder).rglob("*.py"))


@pytest.mark.parametrize("path", paths("heatmap"), ids=lambda path: path.relative_to(ROOT).as_posix())
def test_no_other_room_holds_a_sentence(path: Path) -> None:
    name = path.relative_to(ROOT).as_posix()
    if not any(name.startswith(allowed) for allowed in ALLOWED):
        assert not told(path), f"{name}: sentences are made in heatmap/words/"


@pytest.mark.parametrize("path", paths("cli"), ids=lambda path: path.name)
def test_no_command_holds_a_sentence(path: Path) -> None:
    said = [text for _, text in told(path) if text not in COMMANDS.values()]  # the lines of the help
    assert len(said) == TALK.get(path.name, 0), said


def test_every_exception_is_one() -> None:
    """A room that no longer holds a sentence is taken off the list."""
    for name in ALLOWED:
        found = [ROOT / name] if name.endswith(".py") else paths(name)
        assert any(told(path) for path in found), name


def test_a_sentence_is_seen_wherever_it_stands() -> None:
    """Plain, put together, or in a call that is no error; not in a docstring, an error, or a help text."""
    for line in ('x = "The left is too hot."', 'x = f"The {part} is too {word}."', 'tell("Wait until it is steady.")'):
        assert list(sentences(ast.parse(line))), line
    for line in (
        'def f():\n    """Say where it is too hot."""',
        'raise InputError("the mark is not on it.")',
        'x = Option(help="Say where it is too hot.")',
        'x = "too hot: A1"',
    ):
        assert not list(sentences(ast.parse(line))), line
