"""matplotlib loaded without the help it writes for every property of every class: a third of the time that takes.

No cook reads it. To be imported before anything else of matplotlib; what writes the help is as it was afterwards.
"""

from __future__ import annotations

from matplotlib import artist

_kwdoc = artist.kwdoc
artist.kwdoc = lambda artist: ""
try:
    import matplotlib.figure  # noqa: F401
finally:
    artist.kwdoc = _kwdoc
