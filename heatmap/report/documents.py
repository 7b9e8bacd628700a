"""What programs read: JSON documents, numbers unrounded, units in the keys, never NaN; and the surface as CSV. Keys are
a contract; see the manual.
"""

import math
import re
from collections.abc import Mapping, Sequence
from datetime import datetime
from operator import attrgetter
from typing import Any

import numpy as np

from heatmap.assessment import AssessedSpot, Assessment
from heatmap.correct import Calibration, Spot
from heatmap.decisions.burner_advice import Change
from heatmap.decisions.decision import Decision
from heatmap.decisions.placement import Place, Placement
from heatmap.grill.grill import Grill
from heatmap.sear import Lesson, Rails, SearedPiece, SearPlan
from heatmap.sear.plan import TOLD_STEPS
from heatmap.units import Display, Kind, shown_value
from heatmap.verdict.comparison import Comparison
from heatmap.verdict.history import RoundLine
from heatmap.words.burners import why
from heatmap.words.decision import anyway_sentence, decision_sentence, remedy_sentence
from heatmap.words.map import left_out_text, map_answer
from heatmap.words.place import place_answer
from heatmap.words.regions import where
from heatmap.words.sear import assumption_sentences, food_cautions, lesson_sentence, roasts_sentence

Document = dict[str, Any]


#: The unit a number is kept in, as its name tells; and whether one in degrees is a difference.
_UNIT = re.compile("_(c|mm)(?=_|$)")
_DIFFERENCE = re.compile("std|minus|spread|rms|lead|drift|change|expected|came")


#: What is kept by names that are the cook's own.
_BY_NAME = ("settings", "marks")


def told(document: Mapping[str, Any], grill: Grill, *, bare: bool = False) -> Document:
    """Return a document in the units of the cook, as its keys then tell; what has no unit stays as it is, and
    nan becomes None.

    `bare`: no units in the keys, and numbers no finer than a phone shows them.
    """
    display = grill.display
    ends = {"c": "", "mm": ""} if bare else {"c": f"_{display.degree_key}", "mm": f"_{display.lengths}"}

    def value_told(name: str, value: Any) -> Any:
        if isinstance(value, Mapping):
            return dict(value) if name in _BY_NAME else told(value, grill, bare=bare)
        if isinstance(value, list | tuple):
            return [value_told(name, one) for one in value]
        if isinstance(value, datetime):
            return value.isoformat()
        unit = _UNIT.search(name)
        if unit is not None and value is not None:
            kind: Kind = "length" if unit[1] == "mm" else "difference" if _DIFFERENCE.search(name) else "temperature"
            value = shown_value(value, kind, display.units) if math.isfinite(value) else None
        fine = 1 if unit is not None and unit[1] == "c" else 3
        return round(value, fine) if bare and isinstance(value, float) else value

    return {_UNIT.sub(lambda unit: ends[unit[1]], name): value_told(name, value) for name, value in document.items()}


def fields_of(thing: object, names: str) -> Document:
    """Return what a thing says by these names: "rail_c", or "round=map.round.number" for what lies deeper."""
    parts = [name.partition("=") for name in names.split()]
    return {key: attrgetter(path or key)(thing) for key, _, path in parts}


def decision_document(grill: Grill, decision: Decision, sentence: str) -> Document:
    """Return the decision as every document carries it; a place where it is to be used, seconds where to be seared."""
    place = decision.place if decision.do in ("sear", "stuck") else None
    document = {
        "do": decision.do,
        "sentence": sentence,
        "until": None if decision.until is None else decision.until.isoformat(timespec="seconds"),
        "changes": _changes(decision.changes),
        "positions": decision.positions,
        "place": None if place is None else where_document(grill, place),
        "seconds_per_turn": decision.seconds_per_turn if decision.do == "sear" else None,
        "chance": decision.chance,
        "remedies": [remedy_sentence(grill, remedy) for remedy in decision.remedies],
    }
    return told(document, grill)


def _with_decision(assessment: Assessment, decision: Decision, document: Document) -> Document:
    """Return what a command found, in the units of the cook, with the one decision."""
    decided = decision_document(assessment.grill, decision, decision_sentence(assessment, decision))
    return told(document | {"decision": decided}, assessment.grill)


def where_document(grill: Grill, place: Place) -> Document:
    """Return where the centre of the food goes, in numbers and in words, and where it points."""
    return {
        **fields_of(place, "x_mm y_mm"),
        "headings": place.headings,
        "where": f"centre {where(grill, *place.centre_mm)}",
    }


_SHARES = "share_in_band share_in_band_low share_in_band_high"
_TILTS = "right_minus_left_c=right_minus_left_c.difference_c back_minus_front_c=back_minus_front_c.difference_c"
_EXTREME = "x_mm y_mm rail_c compared_c"


def map_document(assessment: Assessment, decision: Decision, *, with_surface: bool = False) -> Document:
    """Return what `gratemap map --json` prints."""
    grill, cells, even, target = assessment.grill, assessment.cells, assessment.evenness, assessment.grill.target
    display, (rail_low_c, rail_high_c) = grill.display, assessment.band_rail_c
    document: Document = {
        "round": assessment.round.number,
        "shape_from_round": None if assessment.shape_from is None else assessment.shape_from.number,
        "target": {**fields_of(target, "numbers low_c high_c"), "rail_low_c": rail_low_c, "rail_high_c": rail_high_c},
        "spots": [_spot(spot, display) for spot in assessment.spots],
        "evenness": {
            **fields_of(even, f"{_SHARES} p95_minus_p5_c std_c {_TILTS}"),
            "hottest": fields_of(even.hottest, _EXTREME),
            "coldest": fields_of(even.coldest, _EXTREME),
        },
        "answer": map_answer(assessment),
    }
    if target.zone != "all":
        zone = target.zone
        document["target"]["zone"] = zone if isinstance(zone, str) else [display.length(end) for end in zone]
    if with_surface:
        document["surface"] = {
            "x_mm": cells.x_mm.tolist(),
            "y_mm": cells.y_mm.tolist(),
            "mean_c": np.where(cells.on_grate, assessment.mean_c, np.nan).tolist(),
            "own_std_c": np.where(cells.on_grate, assessment.own_std_c, np.nan).tolist(),
            **fields_of(assessment, "shared_std_c"),
        }
    return _with_decision(assessment, decision, document)


def grid_csv(assessment: Assessment) -> str:
    """Return as CSV x, y, rail temperature and own standard deviation of every cell on the grate, front row first."""
    display, cells = assessment.grill.display, assessment.cells
    length, degree = display.lengths, display.degree_key
    rows = [f"x_{length},y_{length},mean_{degree},own_std_{degree}"]
    numbers = np.column_stack([cells.points_mm, assessment.mean_c.ravel(), assessment.own_std_c.ravel()])
    for x_mm, y_mm, mean_c, std_c in numbers[cells.on_grate.ravel()].tolist():
        place = f"{display.length(x_mm):.4f},{display.length(y_mm):.4f}"
        rows.append(f"{place},{display.temperature(mean_c):.3f},{display.difference(std_c):.3f}")
    return "\r\n".join(rows) + "\r\n"  # line ends of RFC 4180


def _spot(assessed: AssessedSpot, display: Display) -> Document:
    reading = assessed.spot.reading
    return {
        **fields_of(reading, "id aim shown_c x_mm y_mm"),
        "position": reading.position or None,
        **fields_of(assessed.spot, "rail_c own_std_c shared_std_c"),
        **fields_of(assessed, "verdict=word leaning chance_in_band suspect compared_c"),
        "suspect_why": left_out_text(assessed, display) or None,
    }


def burners_document(assessment: Assessment, decision: Decision, then: Decision) -> Document:
    """Return what `gratemap burners --json` prints; `then` is what an old map called for in its time."""
    now = assessment.evenness
    expected = now if then.advice is None else then.advice.expected
    document = {
        "round": assessment.round.number,
        "changes": _changes(then.changes),
        "settings": then.settings,
        "worth_it": then.do == "turn",
        "reachable": then.limit != "reach",
        "why": why(assessment, then) or decision_sentence(assessment, then),
        "now": fields_of(now, "share_in_band p95_minus_p5_c"),
        "expected": fields_of(expected, f"{_SHARES} p95_minus_p5_c"),
        "wait_min": then.wait_min if then.do == "turn" else 0.0,
    }
    return _with_decision(assessment, decision, document)


def _changes(changes: Sequence[Change]) -> list[Document]:
    return [fields_of(one, "burner from=from_mark to=to_mark") for one in changes]


def next_document(grill: Grill, whys: Mapping[str, str]) -> Document:
    """Return what `gratemap next --json` prints, from what is said of each position."""
    positions = [{"position": label, **position_document(grill, label), "why": why} for label, why in whys.items()]
    return told({"positions": positions}, grill)


def position_document(grill: Grill, label: str) -> Document:
    """Return where a position is."""
    return dict(zip(("x_mm", "y_mm"), grill.point_mm(label), strict=True))


def place_document(assessment: Assessment, placement: Placement, decision: Decision) -> Document:
    """Return what `gratemap place --json` prints."""
    by_turn = placement.wanted.turns > 1
    document = {
        "round": assessment.round.number,
        "places": [
            {
                **where_document(assessment.grill, place),
                **fields_of(place, "chance_in_band chance_fits mean_c rail_c mean_std_c"),
                **fields_of(place, "std_within_c rms_from_target_c rail_own_std_c"),
                **({"turn": number, "fresh": place.fresh} if by_turn else {}),
            }
            for number, place in enumerate(placement.places, 1)
        ],
        "target_c": assessment.grill.target.middle_c,
        **fields_of(placement, "equally_good anywhere lead_chance lead_c"),
        "answer": place_answer(assessment, placement),
    }
    return _with_decision(assessment, decision, document)


def sear_document(grill: Grill, rails: Rails, plan: SearPlan, lesson: Lesson | None, rail_from: str) -> Document:
    """Return what `gratemap sear --json` prints."""
    display = grill.display
    document: Document = {
        **fields_of(plan, "seconds_per_turn turns rest_s effective_conductance_w_m2k pull_centre_c peak_centre_c"),
        **fields_of(plan, "seconds_per_turn_low=seconds_low seconds_per_turn_high=seconds_high"),
        **fields_of(plan, "peak_centre_low_c=peak_low_c peak_centre_high_c=peak_high_c"),
        **fields_of(rails, "rail_c"),
        "rail_from": rail_from or None,
        "crust": fields_of(plan, "browning_s on_rail_mm=crust_on_rail_mm between_mm=crust_between_mm"),
        "worth": [
            {
                "of": of,
                "more_s": more_s,
                "less_s": less_s,
                "step": (display.length if of == "thickness" else display.difference)(TOLD_STEPS[of]),
                "unit": display.lengths if of == "thickness" else display.degrees,
            }
            for of, (more_s, less_s) in plan.worth.items()
        ],
        "warning": roasts_sentence(plan, display) or None,
        "assumptions": assumption_sentences(grill, rails),
        "cautions": food_cautions(grill, plan),
    }
    if lesson is not None:
        document["test_piece"] = {
            **fields_of(lesson, "determined effective_conductance_w_m2k spread_left"),
            "verdict": lesson_sentence(lesson, display),
        }
    return told(document, grill)


def ready_document(assessment: Assessment, decision: Decision, *, anyway: bool = False) -> Document:
    """Return what `gratemap ready --json` prints; `anyway` adds the place and its seconds whatever comes first."""
    place = decision.place
    use = anyway or decision.do == "sear"
    document = {
        "ready": decision.do == "sear",
        "sentence": (anyway_sentence if anyway else decision_sentence)(assessment, decision),
        "wait_min": decision.wait_min,
        "place": where_document(assessment.grill, place) if use and place is not None else None,
        "seconds_per_turn": decision.seconds_per_turn if use else None,
        "changes": _changes(decision.changes),
    }
    return _with_decision(assessment, decision, document)


def compare_document(found: Comparison) -> Document:
    """Return what `gratemap compare --json` prints."""
    one = "@=@.round.number spread_@_c=@.evenness.p95_minus_p5_c share_@=@.evenness.share_in_band"
    changes = (
        "chance_better answer spread_change_c spread_change_low_c spread_change_high_c mean_change_c mean_change_std_c"
    )
    of_burner = "burner expected_c expected_std_c came_c came_std_c from=from_mark to=to_mark"
    document = {
        **fields_of(found, f"{one.replace('@', 'before')} {one.replace('@', 'after')} {changes} differs"),
        "burners": [fields_of(burner, of_burner) for burner in found.burners],
    }
    return told(document, found.after.grill)


def history_document(grill: Grill, lines: Sequence[RoundLine], sears: Sequence[SearedPiece] = ()) -> Document:
    """Return what `gratemap history --json` prints."""
    without_map = dict.fromkeys([*_SHARES.split(), "spread_c"])
    document = {
        "rounds": [
            {
                **fields_of(line, "round=round.number session=round.session kind level_c"),
                **fields_of(line, "drift_c_per_min drift_std_c_per_min taken_at=round.taken_at marks=round.settings"),
                **(fields_of(line.even, f"{_SHARES} spread_c=p95_minus_p5_c") if line.even else without_map),
                "shots": len(line.round.with_aim("rail")),
                "why": line.why or None,
                "notes": [noted.note for noted in line.round.notes],
            }
            for line in lines
        ],
        "sears": [
            fields_of(piece, "place outcome note start_c peak_c thickness_mm taken_at turns_s") for piece in sears
        ],
    }
    return told(document, grill)


def gun_document(spot: Spot, calibration: Calibration, best_distance_mm: float | None, why: str = "") -> Document:
    """Return one shot of the gun alone; `why` is why it cannot be told, `best_distance_mm` None on a solid plate."""
    view = calibration.view()
    document = {
        **fields_of(spot, "rail_c own_std_c shared_std_c"),
        **fields_of(view, "spot_mm"),
        "rail_share": view.share[0],
        "best_distance_mm": best_distance_mm,
        **({"cannot_tell": why} if why else {}),
    }
    return told(document, calibration.grill)
