"""matplotlib without the help it writes for every class while it loads: a third of the time that takes.

No cook reads it. To be imported before anything else of matplotlib.
"""

from __future__ import annotations

import matplotlib.artist

matplotlib.artist.kwdoc = lambda artist: ""
