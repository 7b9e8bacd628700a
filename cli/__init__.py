"""The command line: one file per command, each a few lines over a library call."""

import os as _os

# The matrices here are small: spreading them over threads gains nothing, and on a busy machine waiting for one another
# makes a redraw take ten times as long. Must be set before numpy is first imported; what the user has set stays.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    _os.environ.setdefault(_name, "1")
