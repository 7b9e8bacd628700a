"""Sentences with gaps: every `.format` fills the gaps its sentence has, and no others."""

from __future__ import annotations

import ast
import importlib
import string
from pathlib import Path

import pytest

import cli
import heatmap

ROOTS = [Path(package.__file__).parent for package in (heatmap, cli)]


def formatted() -> list[tuple[str, str, int]]:
    """Return module, source and line of every call of `.format` on a module's own or imported sentence."""
    found = []
    for root in ROOTS:
        for path in sorted(root.rglob("*.py")):
            module = ".".join(path.relative_to(root.parent).with_suffix("").parts).removesuffix(".__init__")
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "format":
                    found.append((module, ast.unparse(node), node.lineno))
    return found


def gaps(sentence: str) -> set[str]:
    """Return the names of its gaps."""
    return {name.partition(".")[0] for _, name, _, _ in string.Formatter().parse(sentence) if name}


def is_filled(module: str, source: str) -> bool | None:
    """Tell whether a call fills its sentence; None where that is no constant of a module."""
    call = ast.parse(source, mode="eval").body
    assert isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute)
    try:
        sentence = eval(ast.unparse(call.func.value), vars(importlib.import_module(module)))
    except NameError:
        return None
    assert isinstance(sentence, str) and not call.args
    return gaps(sentence) == {keyword.arg for keyword in call.keywords}


def test_every_sentence_is_filled_as_its_gaps_say() -> None:
    checked = {(module, line): is_filled(module, source) for module, source, line in formatted()}
    wrong = [at for at, filled in checked.items() if filled is False]
    assert not wrong
    assert sum(filled is True for filled in checked.values()) >= 20, "there are some"


@pytest.mark.parametrize(("keywords", "filled"), [("note=1", True), ("not_e=1", False), ("note=1, more=2", False)])
def test_a_wrong_name_is_found(keywords: str, filled: bool) -> None:
    assert is_filled("heatmap.taking.session", f"said.NOTED.format({keywords})") is filled
