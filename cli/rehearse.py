"""`gratemap rehearse`: practise the whole loop on a make-believe grill, indoors."""

from dataclasses import replace
from pathlib import Path
from typing import Literal

from cli import console
from cli.options import flag, option
from cli.output import GRILL, Output
from heatmap.errors import InputError
from heatmap.grill.grill import Grill
from heatmap.grill.toml import load_grill, toml_from_grill

#: The first line of a grill file of a rehearsal; only files that begin so are ever overwritten.
LABEL = "make-believe grill of a rehearsal; nothing in this folder was ever measured"


def command(
    seed: int = option("N", "Which grill; the same number, the same grill.", 7, min=0),
    folder: Path | None = option("FOLDER", "Where its files go; if not given, rehearsal-N."),
    overwrite: bool = flag("Start anew over an earlier rehearsal."),
    numbers: Literal["shown", "rail"] = option("shown|rail", "What the band means, as in the grill file.", "shown"),
) -> None:
    """Practise the whole loop on a make-believe grill, indoors.

    You set its knobs, it plays the rounds, and in the end you see the truth beside your map.

    \b
    Example: gratemap rehearse --seed 7
    """
    from cli.rehearse_practice import Practice
    from heatmap.readings.log import ReadingsLog
    from heatmap.synthetic import draw_grill
    from heatmap.units import c_from_f, f_from_c
    from heatmap.words.rehearsal import STOPPED

    place = folder or Path(f"rehearsal-{seed}")
    rehearsal = draw_grill(seed, numbers=numbers)
    rehearsal.session = f"rehearsal {seed}"
    # With its band at whole fives, as a cook would name it.
    target = rehearsal.grill.target
    low_c, high_c = (c_from_f(5.0 * round(f_from_c(one) / 5.0)) for one in (target.low_c, target.high_c))
    rehearsal.grill = replace(rehearsal.grill, target=replace(target, low_c=low_c, high_c=high_c))
    grill_file, readings_file = _fresh_files(place, rehearsal.grill, overwrite)
    with ReadingsLog(readings_file, load_grill(grill_file)) as log:
        practice = Practice(rehearsal, log, place)
        practice.begin(seed)
        try:
            practice.play()
        except KeyboardInterrupt:
            console.talk(STOPPED.format(folder=place))
            raise
        practice.end()


def _fresh_files(folder: Path, grill: Grill, overwrite: bool) -> tuple[Path, Path]:
    """Write the grill file and make sure that there are no readings yet."""
    grill_file, readings_file = folder / "grill.toml", folder / "readings.csv"
    there = [path for path in (grill_file, readings_file) if path.exists()]
    if there and not overwrite:
        raise InputError(f"{there[0]} is there already; start over it with --overwrite, or choose another --folder")
    if there and not _is_rehearsal(grill_file):
        raise InputError(f"{there[0]} is not of a rehearsal and is left alone; choose another --folder")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        readings_file.unlink(missing_ok=True)
    except OSError as error:
        raise InputError(f"{folder}: cannot be written to: {error.strerror or error}") from None
    Output(grill_file, GRILL, force=True).save(toml_from_grill(grill, comment=LABEL))
    return grill_file, readings_file


def _is_rehearsal(grill_file: Path) -> bool:
    try:
        return grill_file.read_text(encoding="utf-8", errors="replace").startswith(f"# {LABEL}")
    except OSError:
        return False
