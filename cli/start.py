"""Where the installed command begins: with nothing imported yet, so that Ctrl-C ends it quietly at any time."""

import gc
import sys

#: Rubbish is looked for after so many new objects: Python's own 700 is for programs that run on while they load.
OBJECTS = 50_000


def main() -> None:
    """Run the command line."""
    gc.set_threshold(OBJECTS)
    try:
        from cli.app import app

        app()
    except KeyboardInterrupt:
        sys.exit(130)
    finally:
        gc.freeze()  # the process ends: nothing is looked through once more
