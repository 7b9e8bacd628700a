"""Pages out of templates: every text goes through the template engine's escaping; a note or a name stays text."""

from __future__ import annotations

from importlib.resources import files
from typing import Any


def rendered(name: str, **values: Any) -> str:
    """Return the page of the template of this name, numbers and their units kept on one line."""
    from jinja2 import Environment, StrictUndefined

    engine = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True, finalize=_unbroken
    )
    return engine.from_string(files("heatmap.report").joinpath(name).read_text(encoding="utf-8")).render(**values)


def _unbroken(value: Any) -> Any:
    return value.replace(" %", "\u00a0%").replace(" °", "\u00a0°") if isinstance(value, str) else value
