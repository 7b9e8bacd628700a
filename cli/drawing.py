"""The pictures as commands draw them: loaded without the help that matplotlib writes for each of its classes.

That help takes a quarter of the time to load matplotlib, and nobody asks a command for it.
"""

from matplotlib import artist

_help, artist.kwdoc = artist.kwdoc, lambda artist: ""
try:
    from heatmap.pictures import difference_map, expected_map, heat_map, picture_bytes
finally:
    artist.kwdoc = _help

__all__ = ["difference_map", "expected_map", "heat_map", "picture_bytes"]
