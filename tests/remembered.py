"""What is worked out again and again in the tests of commands, remembered: pure functions, asked the same once more."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from heatmap import assessment

#: What was worked out, by function and question.
_FOUND: dict[tuple[Any, ...], Any] = {}


def _question(value: Any) -> Any:
    """Return what stands for a value, and is equal only for equal ones: itself, where that can be."""
    try:
        hash(value)
        if is_dataclass(value) and all(isinstance(getattr(value, one.name), np.ndarray) for one in fields(value)):
            raise TypeError  # nothing but arrays: each is as good as another with the same numbers
    except TypeError:
        if isinstance(value, np.ndarray):
            return value.shape, value.tobytes()
        if is_dataclass(value):
            return type(value), *(_question(getattr(value, one.name)) for one in fields(value))
        if isinstance(value, Mapping):
            return tuple((key, _question(inner)) for key, inner in sorted(value.items()))
        return type(value), *map(_question, value)
    return value


def remembered(hangs_on: Callable[[], Any]) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Answer from memory what was asked of a function before, where what else it hangs on is the same."""
    return lambda plain: _remembering(plain, hangs_on)


def _remembering(
    plain: Callable[..., Any], hangs_on: Callable[[], Any] = lambda: (assessment.CELL_MM, assessment.WIDE_CELL_MM)
) -> Callable[..., Any]:
    @functools.wraps(plain)
    def remembered(*given: Any, **named: Any) -> Any:
        question = (
            plain,
            hangs_on(),
            *map(_question, given),
            *((name, _question(named[name])) for name in sorted(named)),
        )
        if question not in _FOUND:
            _FOUND[question] = plain(*given, **named)
        return _FOUND[question]

    return remembered


def _in_all_modules(old: Callable[..., Any], new: Callable[..., Any]) -> None:
    for name, module in list(sys.modules.items()):
        if name.startswith(("heatmap.", "cli.")):
            for attribute, value in list(vars(module).items()):
                if value is old:
                    setattr(module, attribute, new)


@contextmanager
def remembering(functions: Iterable[Callable[..., Any]]) -> Iterator[None]:
    """Answer from memory what was asked of these before."""
    pairs = [(plain, _remembering(plain)) for plain in functions]
    for plain, remembered in pairs:
        _in_all_modules(plain, remembered)
    try:
        yield
    finally:
        for plain, remembered in pairs:
            _in_all_modules(remembered, plain)
