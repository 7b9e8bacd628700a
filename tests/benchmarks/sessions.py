"""How far is the map of the newest round from the truth, in sessions of four rounds with knobs turned in between?

Run by hand: python tests/benchmarks/sessions.py [--family make-believe] [--seeds 0-29] [--shots 12] [--wrong-mark some]
[--kept FOLDER] [--json FILE] [--against FILE]

Each grill (make-believe, or one of the families of other_grills.py) is played once: twelve or fifteen shots a round, a
contact reading in the first, 25 min between rounds. In odd seeds the knobs are turned as this version of the project
advises; in even ones by a naive rule, the burner nearest the hottest shot one mark down, the one nearest the coldest
one mark up. What was played, readings and truth, does not depend on the model that is judged afterwards: with --kept it
is written to a folder in plain values and played back from there, so that two versions of the code see the same.

With --shots 5 the log holds only the corner positions and the middle one in rounds 2 to 4. One session of ten (every
one, none) has one mark written down 3 marks wrong in one round. Every log is assessed without its contact reading and
with it, and with the band on the rail and in the gun's own numbers; through `heatmap.assess` alone.

Printed for each round, over all sessions:
pattern    RMS over cells inside the rim of map − truth after its mean is taken out, °F, mean over sessions; in brackets
           the median
cover      share of those cells with the error so taken within 1.96 of the map's own standard deviation
level      RMS over sessions of the mean error, °F; its cover: within 1.96 of own and shared standard deviation together
CRPS       of the cells, own and shared together, °F
missed     of spots more than 10 °F outside the band, those said to be in band; false: of those more than 10 °F inside
           it, those said too hot or too cold; unsure: of spots within 75 °F of the middle of the band (gun's numbers)
refused    assessments that raised; s: processor time of one

Settled on: make-believe seeds 0-29, family plate seeds 0-14, mirrored and quarter-turn seeds 0-9. Everything else is
for reporting, not to be looked at while choosing.
"""

from __future__ import annotations

import os

# Before numpy: one thread, as the command itself does with small matrices.
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import json
import math
import pickle
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from closed_loop import follow_advice
from scipy.special import ndtr
from table import Row

from heatmap.assessment import Assessment, assess
from heatmap.grill.burner import Burner, along_line
from heatmap.grill.grate import Grate, Positions
from heatmap.grill.grill import Food, Grill, Gun, Patch, Probe, Surroundings, TargetBand
from heatmap.readings.reading import Reading, Round
from heatmap.synthetic import RehearsalGrill, draw_grill
from heatmap.synthetic.hidden import PORTS

MAKE_BELIEVE = "make-believe"
ROUNDS = 4
WAIT_MIN = 25.0
#: How far a mark is written down wrong.
WRONG_BY = 3.0
#: Spots nearer to a limit than this are nobody's mistake, and farther from the middle than this are plain, °F.
CLEAR_F, NEAR_F = 10.0, 75.0
CONTACT = {False: "infrared only", True: "one contact reading in the first round"}


@dataclass(frozen=True, kw_only=True)
class Session:
    """What was played: the log as it would be with every shot and the contact reading, and the truth.

    Attributes
    ----------
    grill : Grill
        The band on the rail.
    rounds : tuple of Round
    cells_mm : ndarray (m, 2)
        Cells of the truth inside the rim.
    cells_c : ndarray (rounds, m)
        True rail temperature at the median time of each round.
    spots_c, spots_shown_c : ndarray (rounds, positions)
        True rail temperature at the labelled positions, and what this gun shows there on a rail on average.
    valley : str or None
        What the cook says lies between the rails.
    """

    family: str
    seed: int
    grill: Grill
    rounds: tuple[Round, ...]
    cells_mm: np.ndarray
    cells_c: np.ndarray
    spots_c: np.ndarray
    spots_shown_c: np.ndarray
    valley: str | None = None


def play(family: str, seed: int) -> Session:
    """Play one grill for four rounds."""
    grill = draw(family, seed)
    labels = grill.grill.labels
    places = np.array([grill.grill.point_mm(label) for label in labels])
    cells_mm, half = grill.cells_mm[grill.inside], len(labels) // 2
    rounds: list[Round] = []
    truth: list[tuple[np.ndarray, np.ndarray, np.ndarray]] = []
    for number in range(1, ROUNDS + 1):
        if rounds:
            grill.turn(_turn(grill, rounds, by_advice=seed % 2 == 1))
            grill.wait(WAIT_MIN)
        contact_at = labels[half - 1] if number == 1 else None
        first = grill.play_round(number, order=labels[: half + 1], contact_at=contact_at)
        truth.append((grill.truth_c(cells_mm), grill.truth_c(places), shown_truth_c(grill, places)))
        second = grill.play_round(number, order=labels[half + 1 :])
        rounds.append(replace(first, readings=first.readings + second.readings))
    cells_c, spots_c, shown_c = (np.array(one) for one in zip(*truth, strict=True))
    return Session(
        family=family,
        seed=seed,
        grill=grill.grill,
        rounds=tuple(rounds),
        cells_mm=cells_mm,
        cells_c=cells_c,
        spots_c=spots_c,
        spots_shown_c=shown_c,
        valley=getattr(grill, "valley", None),
    )


def draw(family: str, seed: int) -> Any:
    """Draw a grill of this family."""
    if family == MAKE_BELIEVE:
        return draw_grill(seed)
    from other_grills import draw_other_grill

    return draw_other_grill(family, seed)


def shown_truth_c(grill: Any, points_mm: np.ndarray) -> np.ndarray:
    """Return what this gun shows on a rail at points now, but for the luck of one shot and patchy seasoning."""
    if not isinstance(grill, RehearsalGrill):
        return grill.shown_truth_c(points_mm)
    heat = grill._at(grill._heat(grill._delivered), points_mm) / grill.hidden.nominal_w_m2
    share = np.full(len(points_mm), grill.grill.grate.rail_top_mm / grill.grill.grate.rail_pitch_mm)
    return grill.hidden.gun.shown_c(grill.grill, grill.truth_c(points_mm), np.zeros(len(points_mm)), heat, share)


def _turn(grill: Any, rounds: Sequence[Round], by_advice: bool) -> dict[str, float]:
    if not knobs(grill.grill):
        return {}
    if by_advice:
        try:
            return follow_advice(grill, assess(grill.grill, rounds))
        except Exception:  # no advice, nothing turned; what is judged is the map
            return {}
    return naive(grill.grill, grill.marks, rounds[-1])


def knobs(grill: Grill) -> list[Burner]:
    """Return the burners that can be turned."""
    return [burner for burner in grill.burners if burner.control != "none"]


def naive(grill: Grill, marks: Mapping[str, float], shot: Round) -> dict[str, float]:
    """Turn the burner nearest the coldest shot one mark up, and the one nearest the hottest one mark down."""
    rail = sorted(shot.with_aim("rail"), key=lambda reading: reading.shown_c or 0.0)
    lines = {burner.name: along_line(burner.points_mm, PORTS) for burner in knobs(grill)}
    turned = {}
    for reading, by in ((rail[0], 1.0), (rail[-1], -1.0)):
        off = {name: np.hypot(*(line - reading.point_mm).T).min() for name, line in lines.items()}
        burner = grill.burner(min(off, key=off.__getitem__))
        turned[burner.name] = float(np.clip(marks[burner.name] + by, burner.low, burner.high))
    return turned


# kept as plain values by name, so that what one version of the code has played another can read

SECTIONS = {
    "grate": Grate,
    "positions": Positions,
    "gun": Gun,
    "probe": Probe,
    "patch": Patch,
    "target": TargetBand,
    "food": Food,
    "surroundings": Surroundings,
}


def brought_back(kept: Mapping[str, Any]) -> Session:
    """Make a session of what was kept; what this version of the code has no word for is left out."""
    grill = dict(kept["grill"])
    grill["grate"] = {**grill["grate"], "valley": kept["valley"] or grill["grate"].get("valley")}
    sections = {name: _known(kind, grill.pop(name, {})) for name, kind in SECTIONS.items()}
    burners = tuple(_known(Burner, one) for one in grill.pop("burners"))
    rounds = tuple(
        _known(Round, one, readings=tuple(_known(Reading, reading) for reading in one["readings"]))
        for one in kept["rounds"]
    )
    return Session(**{**kept, "grill": _known(Grill, grill, burners=burners, **sections), "rounds": rounds})


def _known(kind: type, plain: Mapping[str, Any], **made: Any) -> Any:
    names = {one.name for one in fields(kind)}
    return kind(**{name: value for name, value in {**plain, **made}.items() if name in names})


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {one.name: _plain(getattr(value, one.name)) for one in fields(value)}
    if isinstance(value, Mapping):
        return dict(value)
    return tuple(_plain(each) for each in value) if isinstance(value, tuple) else value


def session_of(family: str, seed: int, folder: Path | None) -> Session:
    """Play a session, or bring back the one that was kept."""
    file = None if folder is None else folder / family / f"{seed}.pickle"
    if file is None or not file.exists():
        kept = _plain(play(family, seed))
        if file is not None:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(pickle.dumps(kept))
    else:
        kept = pickle.loads(file.read_bytes())
    return brought_back(kept)


# the log as it is assessed


def log_of(session: Session, shots: int, contact: bool, wrong_mark: str) -> tuple[Round, ...]:
    """Return the rounds with this many shots, with or without the contact reading, and with the marks as written."""
    labels, columns = session.grill.labels, session.grill.positions.columns
    few = {labels[0], labels[columns - 1], labels[len(labels) // 2], labels[-columns], labels[-1]}
    rounds = []
    for one in session.rounds:
        kept = [
            reading
            for reading in one.readings
            if (contact or reading.aim != "contact") and (shots > 5 or one.number == 1 or reading.position in few)
        ]
        rounds.append(replace(one, readings=tuple(kept)))
    if knobs(session.grill) and {"some": session.seed % 20 in (4, 13), "all": True, "none": False}[wrong_mark]:
        return _misread(session, rounds)
    return tuple(rounds)


def _misread(session: Session, rounds: list[Round]) -> tuple[Round, ...]:
    random = np.random.default_rng([session.seed, 3])
    turned = knobs(session.grill)
    at, burner = int(random.integers(ROUNDS)), turned[random.integers(len(turned))]
    mark = rounds[at].settings[burner.name]
    up = mark + WRONG_BY <= burner.high and (random.random() < 0.5 or mark - WRONG_BY < burner.low)
    wrong = {burner.name: mark + WRONG_BY if up else mark - WRONG_BY}
    readings = (replace(reading, knobs={**reading.knobs, **wrong}) for reading in rounds[at].readings)
    rounds[at] = replace(rounds[at], readings=tuple(readings))
    return tuple(rounds)


# judged

#: Figures of one round of one session; counts are (how many, of how many).
Figures = dict[str, Any]


def judge(session: Session, rounds: Sequence[Round], number: int) -> Figures:
    """Assess the newest of `number` rounds and hold it against the truth."""
    figures: Figures = {"refused": [], "s": []}
    target = session.grill.target
    for numbers, truth_c in (("rail", session.spots_c), ("shown", session.spots_shown_c)):
        grill = replace(session.grill, target=replace(target, numbers=numbers))
        begun = time.process_time()
        try:
            assessment = assess(grill, rounds[:number])
            spots, _ = assessment.spots, assessment.mean_c
            figures["s"].append(time.process_time() - begun)
            if numbers == "rail":
                figures |= _map_figures(assessment, session, number - 1)
        except Exception as problem:
            figures["refused"].append((repr(problem), f"seed {session.seed}, round {number}, band {numbers}"))
            continue
        figures |= _word_figures(spots, session.grill, truth_c[number - 1], numbers)
    return figures


def _map_figures(assessment: Assessment, session: Session, at: int) -> Figures:
    truth_c = session.cells_c[at]
    mean_c, own_std_c = assessment.surface.predict(session.cells_mm)
    _, std_c = assessment.at(session.cells_mm)
    error = mean_c - truth_c
    pattern = error - error.mean()
    return {
        "pattern": 1.8 * float(np.sqrt(np.mean(pattern**2))),
        "cover": float(np.mean(np.abs(pattern) < 1.96 * own_std_c)),
        "level": 1.8 * float(error.mean()),
        "level cover": float(np.abs(error.mean()) < 1.96 * np.sqrt(np.mean(std_c**2))),
        "crps": 1.8 * float(np.mean(crps(error, std_c))),
    }


def crps(error: np.ndarray, std: np.ndarray) -> np.ndarray:
    """Return the continuous ranked probability score of a normal forecast (Gneiting & Raftery 2007, equation 21)."""
    z = error / std
    density = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    return std * (z * (2.0 * ndtr(z) - 1.0) + 2.0 * density - 1.0 / math.sqrt(math.pi))


def _word_figures(spots: Sequence[Any], grill: Grill, truth_c: np.ndarray, numbers: str) -> Figures:
    words, truth = [], []
    for one in spots:
        reading = one.spot.reading
        if reading.aim == "rail" and one.word is not None:
            words.append(str(one.word))
            truth.append(truth_c[grill.labels.index(reading.position)])
    word, true_f = np.array(words), 1.8 * np.array(truth)
    low_f, high_f = 1.8 * grill.target.low_c, 1.8 * grill.target.high_c
    clear_of_it = np.maximum(low_f - true_f, true_f - high_f)  # negative inside
    out, inside = clear_of_it > CLEAR_F, clear_of_it < -CLEAR_F
    near = np.abs(true_f - 0.5 * (low_f + high_f)) < NEAR_F
    return {
        f"{numbers} missed": _share(word[out] == "in band"),
        f"{numbers} false": _share(np.isin(word[inside], ("too hot", "too cold"))),
        f"{numbers} unsure": _share(word[near] == "unsure"),
    }


def _share(hits: np.ndarray) -> tuple[int, int]:
    return int(np.sum(hits)), len(hits)


def together(judged: Sequence[Figures]) -> Figures:
    """Return the figures of a round over all sessions."""
    nothing = dict.fromkeys(("pattern", "cover", "level", "level cover", "crps"), math.nan)
    whole = [one for one in judged if "pattern" in one] or [nothing]
    means = ("pattern", "cover", "level cover", "crps")
    result: Figures = {key: float(np.mean([one[key] for one in whole])) for key in means}
    result["median"] = float(np.median([one["pattern"] for one in whole]))
    result["level"] = float(np.sqrt(np.mean([one["level"] ** 2 for one in whole])))
    for key in (f"{numbers} {what}" for numbers in ("rail", "shown") for what in ("missed", "false", "unsure")):
        hits, of = np.sum([one.get(key, (0, 0)) for one in judged], axis=0)
        result[key] = float(hits / of) if of else math.nan
    result["patterns"] = [one.get("pattern", math.nan) for one in judged]
    result["refused"] = float(sum(len(one["refused"]) for one in judged))
    result["s"] = float(np.mean([seconds for one in judged for seconds in one["s"]] or [math.nan]))
    return result


HEAD = """\
                                              |      on the rail       |     in the gun's numbers
round  pattern °F   cover  level °F cover  CRPS | missed  false  unsure | missed  false  unsure | refused     s"""


def table(rounds: Sequence[Figures], other: Sequence[Figures] | None) -> str:
    """Write the figures of four rounds, and beside them pattern (with its standard error) and CRPS over another's."""
    lines = [HEAD + ("  pattern over the other's, CRPS" if other else "")]
    for at, one in enumerate(rounds):
        words = " | ".join(
            f"{one[f'{numbers} missed']:6.1%} {one[f'{numbers} false']:6.1%} {one[f'{numbers} unsure']:7.0%}"
            for numbers in ("rail", "shown")
        )
        line = (
            f"{at + 1:5d}  {one['pattern']:5.1f} ({one['median']:4.1f}) {one['cover']:5.3f}  {one['level']:7.1f}"
            f" {one['level cover']:5.2f} {one['crps']:6.2f} | {words} | {one['refused']:7.0f} {one['s']:5.3f}"
        )
        if other:
            ratio, error = over(one["patterns"], other[at]["patterns"])
            line += f"  {ratio:5.3f} ± {error:5.3f}  {one['crps'] / other[at]['crps']:5.3f}"
        lines.append(line)
    return "\n".join(lines)


def over(ours: Sequence[float], theirs: Sequence[float]) -> tuple[float, float]:
    """Return the ratio of two means over the same sessions and its standard error (first order)."""
    both = np.array([ours, theirs])
    first, second = both[:, np.isfinite(both).all(axis=0)]
    ratio = float(first.mean() / second.mean())
    return ratio, float(np.std(first - ratio * second) / second.mean() / np.sqrt(len(first)))


def measure(
    family: str, seeds: Sequence[int], shots: int, wrong_mark: str = "some", folder: Path | None = None
) -> tuple[dict[bool, list[Figures]], list[tuple[str, str]]]:
    """Return the figures of every round, without and with the contact reading, and what was refused."""
    judged: dict[bool, list[list[Figures]]] = {contact: [[] for _ in range(ROUNDS)] for contact in CONTACT}
    for seed in seeds:
        session = session_of(family, seed, folder)
        for contact in CONTACT:
            rounds = log_of(session, shots, contact, wrong_mark)
            for number in range(1, ROUNDS + 1):
                judged[contact][number - 1].append(judge(session, rounds, number))
    refused = [why for each in judged.values() for one in each for figures in one for why in figures["refused"]]
    return {contact: [together(one) for one in each] for contact, each in judged.items()}, refused


def rows(quick: bool = False) -> list[Row]:
    """Return pattern error and cover of the last round, with many shots and with few."""
    seeds = range(2 if quick else 30)
    found = []
    for shots in (12, 5):
        last = measure(MAKE_BELIEVE, seeds, shots)[0][True][-1]
        also = {"cover": (last["cover"], None), "CRPS °F": (last["crps"], None), "s": (last["s"], None)}
        what = f"pattern of the map off in the fourth round, {shots} shots, one contact reading"
        found.append(Row(what=what, size=f"{len(seeds)} sessions", value=last["pattern"], unit="°F", also=also))
    return found


def seeds_from_text(text: str) -> list[int]:
    """Read "0-29" or "3,7,12"."""
    seeds: list[int] = []
    for part in text.split(","):
        first, _, last = part.partition("-")
        seeds += range(int(first), int(last or first) + 1)
    return seeds


def main() -> None:
    """Play or bring back, assess, print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--family", default=MAKE_BELIEVE)
    parser.add_argument("--seeds", type=seeds_from_text, default=seeds_from_text("0-29"))
    parser.add_argument("--shots", type=int, choices=(12, 5), default=12)
    parser.add_argument("--wrong-mark", choices=("some", "none", "all"), default="some")
    parser.add_argument("--kept", type=Path, metavar="FOLDER", help="sessions are kept here and brought back")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures")
    parser.add_argument("--against", type=Path, metavar="FILE", help="figures of another version, as --json wrote them")
    options = parser.parse_args()
    asked = {"family": options.family, "seeds": options.seeds, "shots": options.shots, "wrong": options.wrong_mark}
    other = json.loads(options.against.read_text()) if options.against else {"asked": asked}
    if other["asked"] != asked:
        parser.error(f"{options.against} is of {other['asked']}")
    found, refused = measure(options.family, options.seeds, options.shots, options.wrong_mark, options.kept)
    few = "every position" if options.shots > 5 else "5 shots in rounds 2 to 4"
    print(f"{options.family}, {len(options.seeds)} sessions, {few}, a wrong mark in {options.wrong_mark}")
    for contact, each in found.items():
        print(CONTACT[contact])
        print(table(each, other.get(CONTACT[contact])))
    for why, first in dict(reversed(refused)).items():
        print(f"refused {sum(why == one for one, _ in refused)} times, first in {first}: {why}")
    if options.json:
        named = {CONTACT[contact]: each for contact, each in found.items()}
        options.json.write_text(json.dumps({"asked": asked, **named}, indent=1))


if __name__ == "__main__":
    main()
