"""`gratemap burners`: which knob to which mark, what to expect of it, and how long to wait."""

from cli import console, options
from cli.loading import Files, of_its_time
from cli.output import Asked


def command(*, files: Files, round_number: int | None = options.round_number(), asked: Asked) -> None:
    """Say which knob to turn to which mark.

    It tells what to expect and how long to wait; without knobs, what else to do. The picture is the map expected after.

    \b
    Example: gratemap burners --why
    """
    from heatmap.report.documents import burners_document
    from heatmap.words.burners import burner_lines, why_lines

    assessment = files.assessment(round_number)
    decision = files.decision(assessment)
    then = of_its_time(assessment, decision)
    asked.save_picture(lambda drawing: drawing.expected_map(assessment, then))
    told = (burners_document if asked.as_json else burner_lines)(assessment, decision, then)
    console.reply(told, 6, why_lines(assessment, then) if asked.why else None)
    asked.exit_unless(decision.do == "turn")
