"""One line per round."""

from collections.abc import Mapping, Sequence

from heatmap.grill.grill import Grill
from heatmap.units import percent
from heatmap.verdict.history import RoundLine

NEWEST_OF_ALL = "The newest {shown} of {count} rounds; every one with --all."
NARROW = "Left out, for want of room: Shots, {degrees}/min. They are in --json."
#: A screen narrower than this has no room for all columns.
WIDE = 68
#: The column of marks is no narrower and no wider than this.
_MARKS_WIDTH = (5, 40)


def history_lines(grill: Grill, lines: Sequence[RoundLine], width: int) -> list[str]:
    """Return the table: a row per round, under the name of its session, its notes below."""
    drift = f"{grill.display.degrees}/min"
    widths = {"Round": 5, "Time": 5, "Marks": 0, "Shots": 5, "Kind": 8, "Spread": 6, "In band": 15, "Level": 5}
    widths[drift] = 6
    if width < WIDE:
        del widths["Shots"], widths[drift]
    rows = [_cells(grill, line, drift) for line in lines]
    room = width - sum(widths.values()) - len(widths) + 1
    least, most = _MARKS_WIDTH
    room = widths["Marks"] = max(least, min(room, most, max(len(row["Marks"]) for row in rows)))

    def laid_out(cells: Mapping[str, str]) -> str:
        marks = cells["Marks"] if len(cells["Marks"]) <= room else f"{cells['Marks'][: room - 3]}..."
        texts = {**cells, "Marks": f"{marks:<{room}}"}
        return " ".join(f"{texts[name]:>{columns}}" for name, columns in widths.items() if name in texts).rstrip()

    told, session = [laid_out({name: name for name in widths})], None
    for line, cells in zip(lines, rows, strict=True):
        if line.round.session != session:
            session = line.round.session
            told.append(f"Session {session or 'without a name'}")
        told.append(f"{laid_out(cells)}{'' if 'Kind' in cells else ' too few shots for a map'}")
        told += [f"      {noted.note}" for noted in line.round.notes]
    return told


def _cells(grill: Grill, line: RoundLine, drift: str) -> dict[str, str]:
    """Return a round's texts by the names of their columns; fewer where it has no map."""
    display = grill.display
    known = line.round.settings
    marks = [burner.mark_text(known[burner.name]) if burner.name in known else "?" for burner in grill.settable]
    cells = {
        "Round": str(line.round.number),
        "Time": "" if line.round.taken_at is None else f"{line.round.taken_at.astimezone():%H:%M}",
        "Marks": " ".join(marks) if set(marks) - {"?"} else "-",
        "Shots": str(len(line.round.with_aim("rail"))),
    }
    if line.even is None or line.level_c is None:
        return cells
    low, high, drift_c = 100 * line.even.share_in_band_low, 100 * line.even.share_in_band_high, line.drift_c_per_min
    return cells | {
        "Kind": line.kind,
        "Spread": f"{display.difference(line.even.p95_minus_p5_c):.0f}",
        "In band": f"{100 * line.even.share_in_band:.0f} % ({low:.0f}-{high:.0f})",
        "Level": f"{display.temperature(line.level_c):.0f}",
        drift: "" if drift_c is None else f"{display.difference(drift_c):+.1f}",
    }


def history_sentence(lines: Sequence[RoundLine]) -> str:
    """Say in a report how the share went."""
    first, last = lines[0], lines[-1]
    shares = ", then ".join(percent(one.even.share_in_band) for one in (first, last) if one.even)
    return f"From round {first.round.number} to round {last.round.number}: in band {shares}."
