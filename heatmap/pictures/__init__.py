"""Pictures: every function returns a matplotlib Figure; nothing is shown and no state is kept.

They are loaded without the help that matplotlib writes for each of its classes: that takes a quarter of the time to
load it, and nobody asks a picture for it.
"""

from matplotlib import artist

_help, artist.kwdoc = artist.kwdoc, lambda artist: ""
try:
    from heatmap.pictures.maps import difference_map, expected_map, heat_map
    from heatmap.pictures.sheet import picture_bytes
finally:
    artist.kwdoc = _help

__all__ = ["difference_map", "expected_map", "heat_map", "picture_bytes"]
