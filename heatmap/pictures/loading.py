"""Loads matplotlib without the help it would write for every class of its own: a third of the time that takes."""

from __future__ import annotations

from importlib import import_module

from matplotlib.artist import Artist

_NAME = "_update_set_signature_and_docstring"
_writes_help = vars(Artist).get(_NAME)  # it is matplotlib's own matter, and may be called otherwise one day
if _writes_help is not None:
    setattr(Artist, _NAME, classmethod(lambda _: None))
import_module("matplotlib.figure")
if _writes_help is not None:
    setattr(Artist, _NAME, _writes_help)
