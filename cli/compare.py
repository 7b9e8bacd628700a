"""`gratemap compare`: evenness of two rounds side by side, and whether the difference is more than noise."""

from typing import Annotated

import typer

from cli import console
from cli.loading import Files
from cli.output import Asked


def command(
    *,
    before: Annotated[int | None, typer.Argument(metavar="BEFORE", help="Number of the earlier round.")] = None,
    after: Annotated[int | None, typer.Argument(metavar="AFTER", help="Number of the later round.")] = None,
    files: Files,
    asked: Asked,
) -> None:
    """Compare the evenness of two rounds.

    It says whether the change helped, whether that is more than noise, and what each knob did; without numbers, of the
    two newest full rounds. The picture is the difference.

    \b
    Example: gratemap compare 2 3
    """
    from heatmap.report.documents import compare_document
    from heatmap.verdict.comparison import compare
    from heatmap.words.compare import compare_lines, compare_why_lines

    described, rounds = files.load()
    found = compare(described, rounds, before, after)
    asked.save_picture(lambda drawing: drawing.difference_map(found))
    first, *rest = compare_lines(found)
    lines = [f"Round {found.before.round.number} to {found.after.round.number}. {first}", *rest]
    told = compare_document(found) if asked.as_json else lines
    console.reply(told, 4, compare_why_lines(found) if asked.why else None)
    asked.exit_unless(found.answer == "more even")
