"""`gratemap ready`: the one-line answer."""

from datetime import datetime, timedelta

import typer

from cli import console, options
from cli.exit_codes import ExitCode
from cli.food import FoodSaid
from cli.loading import Files
from cli.options import flag, option


def command(
    *,
    food: FoodSaid,
    sear_at: str | None = option("HH:MM", "When the food must go down; no advice takes longer."),
    at_least: float = option("PERCENT", "How likely it has to fit for a sear.", 70.0, min=1, max=99),
    anyway: bool = flag("Tell the best place, its chance and its seconds, whatever comes first."),
    any_age: bool = flag("Answer for the time of the last round, however long ago."),
    files: Files,
    as_json: bool = options.as_json(),
    check: bool = options.check(),
) -> None:
    """Say in one line what to do now: wait, shoot, turn a knob, or sear here for so long.

    \b
    Example: gratemap ready --target 137 --any-age
    """
    from heatmap.report.documents import ready_document
    from heatmap.words.decision import anyway_sentence, decision_sentence

    assessment = files.assessment(food=food)
    now = datetime.now().astimezone()
    if any_age and assessment.round.taken_at is not None:
        now = assessment.round.taken_at.astimezone()
    by = None if sear_at is None else _next(sear_at, now)
    decision = files.decision(assessment, now=now, at_least=at_least / 100.0, sear_at=by)
    sentence = (anyway_sentence if anyway else decision_sentence)(assessment, decision)
    console.reply(ready_document(assessment, decision, anyway=anyway) if as_json else [sentence])
    if check and decision.do != "sear":
        raise typer.Exit(ExitCode.ANSWER_IS_NO)


def _next(text: str, now: datetime) -> datetime:
    """Return today's time of day, or tomorrow's where it is more than half a day gone; never one that is past."""
    try:
        clock = datetime.strptime(text.strip(), "%H:%M")
    except ValueError:
        raise typer.BadParameter(f'--sear-at is "{text}"; write a time of day such as 13:40') from None
    at = now.replace(hour=clock.hour, minute=clock.minute, second=0, microsecond=0)
    if now - at > timedelta(hours=12):
        return at + timedelta(days=1)
    if at <= now:
        raise typer.BadParameter(f"--sear-at {text} is past; it is {now:%H:%M}")
    return at
