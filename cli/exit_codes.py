"""What each exit code means; a contract for scripts."""

from enum import IntEnum


class ExitCode(IntEnum):
    """Exit codes of every command."""

    FINE = 0
    BUG = 1
    USAGE = 2
    INPUT = 3
    PORT = 4
    ANSWER_IS_NO = 5
    INTERRUPTED = 130
