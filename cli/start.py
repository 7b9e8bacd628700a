"""Where the installed command begins: with nothing imported yet, so that Ctrl-C ends it quietly at any time."""

from __future__ import annotations

import sys


def main() -> None:
    """Run the command line."""
    try:
        from cli.app import app

        app()
    except KeyboardInterrupt:
        sys.exit(130)
