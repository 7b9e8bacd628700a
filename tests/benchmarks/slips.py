"""How many slips of the hand are asked about at once, or caught by the end of the round, and how many honest numbers?

Run by hand: python tests/benchmarks/slips.py [--slips 2000] [--honest 10000] [--quick]

Make-believe grills, two rounds each, one knob turned by two marks in between; every number is judged as `take` judges
it, by what was kept before it in the round, by the round before, and at the first shot by the band and the air. Slips
are of six kinds, each made of an honest number at a place of the round drawn by chance: a digit left out, doubled, two
neighbours swapped, wrong by a hundred, the number of another position, and a shot beside the rails (between the air and
0.7 of the way to the rail). One that moves the number by less than 20 °F is drawn again: it does no harm. A number no
gun shows is refused as it is typed, which counts as asked. A slip that is not asked about at once is kept, and the
whole round looked at again: caught means left out, with its place asked for.
"""

from __future__ import annotations

import os

# Before numpy: one thread, as the command itself does with small matrices.
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
from table import Row, alone

from heatmap.assessment import assess
from heatmap.grill.grill import Grill
from heatmap.readings.reading import HIGHEST_SHOWN_C, LOWEST_SHOWN_C, Reading, Round
from heatmap.synthetic import draw_grill
from heatmap.taking.doubt import doubt
from heatmap.taking.running import GrowingMap
from heatmap.taking.session import Session
from heatmap.taking.walk import walk_order
from heatmap.units import c_from_f, f_from_c

KINDS = ("digit dropped", "digit doubled", "digits swapped", "wrong by a hundred", "wrong position", "off the rails")
LEAST_F = 20.0


def slipped(kind: str, at: int, shots: list[Reading], air_c: float, random: np.random.Generator) -> float | None:
    """Return what was typed or shot instead, °F; None where this slip cannot be made of it or does no harm."""
    meant_f = f_from_c(shots[at].shown_c or 0.0)
    digits = str(round(meant_f))
    place = int(random.integers(len(digits)))
    match kind:
        case "digit dropped":
            made = float(digits[:place] + digits[place + 1 :])
        case "digit doubled":
            made = float(digits[: place + 1] + digits[place:])
        case "digits swapped":
            place = int(random.integers(len(digits) - 1))
            made = float(digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :])
        case "wrong by a hundred":
            made = meant_f + float(random.choice([-100.0, 100.0]))
        case "wrong position":
            made = f_from_c(shots[int(random.integers(len(shots)))].shown_c or 0.0)
        case _:
            made = f_from_c(air_c + float(random.uniform(0.0, 0.7)) * ((shots[at].shown_c or 0.0) - air_c))
    return made if LEAST_F <= abs(made - meant_f) else None


def rounds_of(seed: int) -> tuple[Grill, list[Round]]:
    """Play two honest rounds, one knob turned in between."""
    grill = draw_grill(seed, numbers="shown")
    grill.hidden.blunder_chance = 0.0
    rounds = [grill.play_round(1, order=walk_order(grill.grill))]
    burner = grill.grill.burners[seed % len(grill.grill.burners)]
    mark = grill.marks[burner.name] + (2.0 if grill.marks[burner.name] + 2.0 <= burner.high else -2.0)
    grill.turn({burner.name: mark})
    grill.wait(15.0)
    rounds.append(grill.play_round(2, order=walk_order(grill.grill)))
    return grill.grill, rounds


def judged(seed: int, ask_slips: int) -> Iterator[tuple[str, str]]:
    """Yield what becomes of every honest number and of so many slips in the two rounds of a grill."""
    grill, rounds = rounds_of(seed)
    random = np.random.default_rng([seed, 17])
    for number, one in enumerate(rounds):
        earlier, shots = tuple(rounds[:number]), list(one.readings)
        session = Session(
            grill, walk_order(grill), number=one.number, name=one.session, knobs=dict(one.settings), lid=one.lid
        )
        session.earlier = earlier
        growing = GrowingMap()
        chosen = Counter(int(at) for at in random.integers(len(shots), size=ask_slips))
        kept: list[tuple[int, str, float]] = []
        for at, reading in enumerate(shots):
            growing.update(session)
            yield "honest", "asked" if asked(session, reading) else "believed"
            for _ in range(chosen[at]):
                kind, made_f = drawn(at, shots, grill.surroundings.air_c, random)
                shown_c = float(c_from_f(made_f))
                refused = not LOWEST_SHOWN_C <= shown_c <= HIGHEST_SHOWN_C
                if refused or asked(session, replace(reading, shown_c=shown_c)):
                    yield kind, "asked"
                else:
                    kept.append((at, kind, shown_c))
            session.readings.append(reading)
        honest = assess(grill, (*earlier, one))
        for spot in honest.spots:
            yield "honest", "left out" if spot.suspect else "let in"
        for at, kind, shown_c in kept:
            wrong = replace(shots[at], shown_c=shown_c)
            others = tuple(wrong if index == at else each for index, each in enumerate(one.readings))
            found = assess(grill, (*earlier, replace(one, readings=others)))
            yield kind, "caught" if found.spots[at].suspect else "missed"


def drawn(at: int, shots: list[Reading], air_c: float, random: np.random.Generator) -> tuple[str, float]:
    """Draw a slip that does harm."""
    while True:
        kind = str(random.choice(KINDS))
        made_f = slipped(kind, at, shots, air_c, random)
        if made_f is not None:
            return kind, made_f


def asked(session: Session, reading: Reading) -> bool:
    """Tell whether `take` asks about a number where it stands now."""
    before = [one for one in session.readings if one.aim == "rail"]
    return doubt(reading, session.calibrations[reading.surface], session.surface_known, before) is not None


def rows(quick: bool = False, slips: int = 2000, honest: int = 10_000, first: int = 0) -> list[Row]:
    """Return the shares of slips asked about at once and caught by the end, of all and by kind; and of honest ones."""
    if quick:
        slips, honest = 12, 24
    found: Counter[tuple[str, str]] = Counter()
    seed = first
    while sum(found["honest", did] for did in ("asked", "believed")) < honest:
        for one in judged(seed, max(1, round(slips * 14 / honest))):
            found[one] += 1
        seed += 1
    told = []
    for kind in ("all six", *KINDS):
        kinds = KINDS if kind == "all six" else (kind,)
        count = {did: sum(found[each, did] for each in kinds) for did in ("asked", "caught", "missed")}
        total = max(sum(count.values()), 1)
        by_the_end = (count["asked"] + count["caught"]) / total
        also = {"caught by the end": (by_the_end, None)}
        told.append(
            Row(
                what=f"slips, {kind}: asked at once", size=f"{total}", value=count["asked"] / total, unit="1", also=also
            )
        )
    count = {did: found["honest", did] for did in ("asked", "believed", "left out", "let in")}
    total = count["asked"] + count["believed"]
    also = {"left out at the end": (count["left out"] / max(count["left out"] + count["let in"], 1), None)}
    what, limit = "honest numbers: asked about", "at most 0.01"
    told.append(Row(what=what, size=f"{total}", value=count["asked"] / total, unit="1", limit=limit, also=also))
    return told


if __name__ == "__main__":
    alone(rows, __doc__)
