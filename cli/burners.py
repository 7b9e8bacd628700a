"""`gratemap burners`: which knob to which mark, what to expect of it, and how long to wait."""

from __future__ import annotations

from cli import console
from cli.exit_codes import exit_by_answer
from cli.loading import Files, of_its_time
from cli.options import AsJson, Check, RoundNumber, Why
from cli.output import Force, Output, picture_of, save_picture


def command(
    *,
    why: Why = False,
    files: Files,
    round_number: RoundNumber = None,
    picture: Output | None = picture_of("the expected map"),
    force: Force = False,
    as_json: AsJson = False,
    check: Check = False,
) -> None:
    """Say which knob to turn to which mark.

    It tells what to expect and how long to wait; without knobs, what else to do.

    \b
    Example: gratemap burners --why
    """
    assessment = files.assessment(round_number)
    decision = files.decision(assessment)
    then = of_its_time(assessment, decision)
    if picture is not None:
        from heatmap.pictures import expected_map

        save_picture(expected_map(assessment, then), picture)
    if as_json:
        from heatmap.report.documents import burners_document

        console.answer_json(burners_document(assessment, decision, then))
    else:
        from heatmap.words.burners import burner_lines, why_lines

        lines = burner_lines(assessment, decision, then)
        console.answer_brief(lines, 6, why_lines(assessment, then) if why else (), why=why)
    exit_by_answer(decision.do == "turn", check=check)
