"""matplotlib loaded without the help it writes for every property of every class: two fifths of the time that takes.

No cook reads it. To be imported before anything else of matplotlib; what writes the help is as it was afterwards.
"""

from __future__ import annotations

from typing import Any

from matplotlib import artist

_writer: Any = artist.ArtistInspector
_kept = artist.kwdoc, _writer.get_setters
artist.kwdoc, _writer.get_setters = (lambda _: ""), (lambda _: [])
try:
    import matplotlib.figure  # noqa: F401
finally:
    artist.kwdoc, _writer.get_setters = _kept
