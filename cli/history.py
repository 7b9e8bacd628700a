"""`gratemap history`: one line per round, and a small picture of evenness."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from cli import console
from cli.lesson import sears_of
from cli.loading import Files
from cli.options import AsJson, with_options
from cli.output import Force, Output, picture_of, save_picture

if TYPE_CHECKING:
    from heatmap.grill.grill import Grill
    from heatmap.verdict.history import RoundLine

#: So many of the newest rounds are shown when not all are asked for: they fit one screen.
NEWEST = 20
#: And so many sears.
NEWEST_SEARS = 5
#: Rounds in the small picture at most, and at least on a narrow screen.
MOST_STEPS, FEWEST_STEPS = 56, 8
#: The column of marks is no narrower and no wider than this.
MARKS_WIDTH = (5, 40)
#: A screen narrower than this has no room for all columns.
WIDE = 68
_BLOCKS = "▁▂▃▄▅▆▇█"
_DIGITS = "0123456789"


@with_options
def command(
    *,
    everything: Annotated[bool, typer.Option("--all", help=f"Show every round, not only the newest {NEWEST}.")] = False,
    files: Files,
    picture: Annotated[Output | None, picture_of("how evenness went")] = None,
    force: Force = False,
    as_json: AsJson = False,
) -> None:
    """Show one line per round: time, marks, spread, share in band, level and drift.

    A small picture shows where it is going.

    \b
    Example: gratemap history
    """
    from heatmap.errors import MapError
    from heatmap.units import Display
    from heatmap.verdict.history import history
    from heatmap.words.sear import seared_sentence

    described, rounds = files.load()
    if not rounds:
        raise MapError("there are no readings yet; take a round with: gratemap take")
    sears = sears_of(files.readings, described)
    found = history(described, rounds, None if everything else NEWEST)
    if as_json:
        from heatmap.report.documents import history_document

        lines = list(found)
        console.answer_json(history_document(described, lines, sears))
    else:
        if not everything and len(rounds) > NEWEST:
            console.talk(f"The newest {NEWEST} of {len(rounds)} rounds; every one with --all.")
        lines = []
        width = console.columns()
        table = _Table(described, [len(_marks(described, one.settings)) for one in rounds], width)
        if table.left_out:
            console.talk(f"Left out, for want of room: {', '.join(table.left_out)}. They are in --json.")
        console.answer(table.header())
        for line in found:
            if not lines or line.session != lines[-1].session:
                console.answer(f"Session {line.session or 'without a name'}")
            lines.append(line)
            console.answer(table.row(line))
            for note in line.notes:
                console.answer(f"      {note}")
        console.answer(*small_picture(described, lines, width))
        for piece in sears[-NEWEST_SEARS:]:
            console.answer(seared_sentence(piece, Display(described.units)))
    if picture is not None:
        from heatmap.pictures import evenness_history

        save_picture(evenness_history(lines, units=described.units), picture)


class _Table:
    """Lays out one row per round; the marks have what room the other columns leave, and a narrow screen has fewer."""

    def __init__(self, grill: Grill, marks: Sequence[int], width: int) -> None:
        from heatmap.units import Display

        self.grill, self.display = grill, Display(grill.units)
        self.drift = f"{self.display.degrees}/min"
        widths = {"Round": 5, "Time": 5, "Marks": 0, "Shots": 5, "Kind": 8, "Spread": 6, "In band": 15, "Level": 5}
        widths[self.drift] = 6
        self.left_out = ("Shots", self.drift) if width < WIDE else ()
        self.widths = {name: columns for name, columns in widths.items() if name not in self.left_out}
        room = width - sum(self.widths.values()) - len(self.widths) + 1
        self.widths["Marks"] = min(max(MARKS_WIDTH[0], *marks), MARKS_WIDTH[1], max(room, MARKS_WIDTH[0]))

    def header(self) -> str:
        """Return the names of the columns."""
        return self._laid_out({name: name for name in self.widths})

    def row(self, line: RoundLine) -> str:
        """Return a round's line."""
        marks, room = _marks(self.grill, line.marks), self.widths["Marks"]
        texts = {
            "Round": str(line.number),
            "Time": "" if line.taken_at is None else f"{line.taken_at.astimezone():%H:%M}",
            "Marks": marks if len(marks) <= room else marks[: room - 3] + "...",
            "Shots": str(line.shots),
        }
        if line.spread_c is None or line.share is None or line.level_c is None:
            return f"{self._laid_out(texts)} too few shots for a map"
        low, high = 100 * (line.share_low or 0.0), 100 * (line.share_high or 0.0)
        drift_c = line.drift_c_per_min
        texts |= {
            "Kind": line.kind,
            "Spread": f"{self.display.difference(line.spread_c):.0f}",
            "In band": f"{100 * line.share:.0f} % ({low:.0f}-{high:.0f})",
            "Level": f"{self.display.temperature(line.level_c):.0f}",
            self.drift: "" if drift_c is None else f"{self.display.difference(drift_c):+.1f}",
        }
        return self._laid_out(texts)

    def _laid_out(self, texts: dict[str, str]) -> str:
        """Return the cells that are there side by side, marks to the left and all else to the right."""
        names = [name for name in self.widths if name in texts]
        cells = [f"{texts[name]:{'<' if name == 'Marks' else '>'}{self.widths[name]}}" for name in names]
        return " ".join(cells).rstrip()


def _marks(grill: Grill, marks: object) -> str:
    known = dict(marks)  # type: ignore[call-overload]
    texts = [
        burner.mark_text(known[burner.name]) if burner.name in known else "?"
        for burner in grill.burners
        if burner.control != "none"
    ]
    return " ".join(texts) if any(text != "?" for text in texts) else "-"


def small_picture(grill: Grill, lines: Sequence[RoundLine], width: int = 80) -> list[str]:
    """Return share in band and spread of the newest as steps, oldest left; digits where the screen has no blocks."""
    from heatmap.units import Display

    display = Display(grill.units)
    signs = _BLOCKS if console.can_show(_BLOCKS) else _DIGITS
    kind = "highest" if signs is _BLOCKS else "9"
    longest = len(f"In band    {kind} is 100 %, lowest 0; oldest left")
    most = min(max(width - longest, FEWEST_STEPS), MOST_STEPS)
    mapped = [line for line in lines if line.spread_c is not None][-most:]
    if len(mapped) < 2:
        return []
    shares = [line.share or 0.0 for line in mapped]
    spreads = [display.difference(line.spread_c or 0.0) for line in mapped]
    top = max(*spreads, 1e-9)
    return [
        f"In band  {_steps(shares, signs)}  {kind} is 100 %, lowest 0; oldest left",
        f"Spread   {_steps([spread / top for spread in spreads], signs)}  {kind} is {top:.0f} {display.degrees}; "
        "lower is more even",
    ]


def _steps(shares: Sequence[float], signs: str) -> str:
    return "".join(signs[min(max(round(share * (len(signs) - 1)), 0), len(signs) - 1)] for share in shares)
