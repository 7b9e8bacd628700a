"""What each exit code means; a contract for scripts."""

from enum import IntEnum

import typer


class ExitCode(IntEnum):
    """Exit codes of every command."""

    FINE = 0
    BUG = 1
    USAGE = 2
    INPUT = 3
    PORT = 4
    ANSWER_IS_NO = 5
    INTERRUPTED = 130


def exit_by_answer(answer: bool, *, check: bool) -> None:
    """Exit with 5 where the answer is no and `--check` asks for it."""
    if check and not answer:
        raise typer.Exit(ExitCode.ANSWER_IS_NO)
