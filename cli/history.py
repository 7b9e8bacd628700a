"""`gratemap history`: one line per round."""

from cli import console, options
from cli.loading import Files
from cli.options import flag

#: So many of the newest rounds are shown when not all are asked for: they fit one screen.
NEWEST = 20
#: And so many sears.
NEWEST_SEARS = 5


def command(
    *,
    everything: bool = flag(f"Show every round, not only the newest {NEWEST}.", name="--all"),
    files: Files,
    as_json: bool = options.as_json(),
) -> None:
    """Show one line per round: time, marks, spread, share in band, level and drift.

    \b
    Example: gratemap history
    """
    import heatmap.words.history as said
    from cli.lesson import sears_of
    from heatmap.errors import MapError
    from heatmap.report.documents import history_document
    from heatmap.verdict.history import history
    from heatmap.words.sear import seared_sentence

    described, rounds = files.load()
    if not rounds:
        raise MapError("there are no readings yet; take a round with: gratemap take")
    sears = sears_of(files.readings, described)
    lines = list(history(described, rounds, None if everything else NEWEST))
    width = console.columns()
    if not as_json and len(lines) < len(rounds):
        console.talk(said.NEWEST_OF_ALL.format(shown=NEWEST, count=len(rounds)))
    if not as_json and width < said.WIDE:
        console.talk(said.NARROW.format(degrees=described.display.degrees))
    sentences = [seared_sentence(piece, described.display) for piece in sears[-NEWEST_SEARS:]]
    told = [*said.history_lines(described, lines, width), *sentences]
    console.reply(history_document(described, lines, sears) if as_json else told)
