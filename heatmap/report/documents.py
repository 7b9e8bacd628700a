"""The JSON documents: numbers unrounded, units in the keys, never NaN. Keys are a contract; see the manual."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from heatmap.assessment import AssessedSpot, Assessment
from heatmap.decisions.burner_advice import Outlook
from heatmap.units import BoolArray, Display, FloatArray
from heatmap.verdict.chances import Extreme
from heatmap.words.burners import why
from heatmap.words.decision import anyway_sentence, decision_sentence, remedy_sentence
from heatmap.words.map import left_out_text, map_answer
from heatmap.words.place import place_answer
from heatmap.words.sear import assumption_sentences, lesson_sentence, roasts_sentence
from heatmap.words.where import where

if TYPE_CHECKING:
    from heatmap.correct import Calibration, Spot
    from heatmap.decisions.burner_advice import Change
    from heatmap.decisions.decision import Decision
    from heatmap.decisions.placement import Place, Placement
    from heatmap.grill.grate import Point
    from heatmap.grill.grill import Box, Grill
    from heatmap.sear import Food, Lesson, Rails, SearedPiece, SearPlan
    from heatmap.verdict.comparison import Comparison
    from heatmap.verdict.history import RoundLine

Document = dict[str, Any]


def number(value: float | None) -> float | None:
    """Return a plain float, or None for what is not a number."""
    return None if value is None or not math.isfinite(value) else float(value)


def _temperature(celsius: float | None, display: Display) -> float | None:
    return None if celsius is None else number(display.temperature(celsius))


def _difference(celsius: float | None, display: Display) -> float | None:
    return None if celsius is None else number(display.difference(celsius))


def decision_document(assessment: Assessment, decision: Decision) -> Document:
    """Return the decision as every document carries it; a place where it is to be used, seconds where to be seared."""
    grill, place = assessment.grill, decision.place if decision.do in ("sear", "stuck") else None
    return bare_decision(decision, decision_sentence(assessment, decision)) | {
        "place": None if place is None else _where(assessment, place, Display(grill.units)),
        "seconds_per_turn": decision.seconds_per_turn if decision.do == "sear" else None,
        "remedies": [remedy_sentence(grill, remedy) for remedy in decision.remedies],
    }


def bare_decision(decision: Decision, sentence: str) -> Document:
    """Return a decision without what hangs on a map."""
    return {
        "do": decision.do,
        "sentence": sentence,
        "until": None if decision.until is None else decision.until.isoformat(timespec="seconds"),
        "changes": _changes(decision.changes),
        "positions": list(decision.positions),
        "place": None,
        "seconds_per_turn": None,
        "chance": number(decision.chance),
        "remedies": [],
    }


def _where(assessment: Assessment, place: Place, display: Display) -> Document:
    """Return where the centre of the food goes, in numbers and in words, and where it points."""
    return {
        **_at(place.centre_mm, display),
        "headings": list(place.headings),
        "where": f"centre {where(assessment.grill, *place.centre_mm)}",
    }


def _at(point_mm: Point, display: Display) -> Document:
    return {f"{axis}_{display.length_key}": display.length(value) for axis, value in zip("xy", point_mm, strict=True)}


def map_document(assessment: Assessment, decision: Decision, *, with_surface: bool = False) -> Document:
    """Return what `gratemap map --json` prints."""
    display = Display(assessment.grill.units)
    degree, length = display.degree_key, display.length_key
    even, target = assessment.evenness, assessment.grill.target
    rail_low_c, rail_high_c = assessment.band_rail_c

    def extreme(place: Extreme) -> Document:
        return {
            **_at((place.x_mm, place.y_mm), display),
            f"rail_{degree}": display.temperature(place.rail_c),
            f"compared_{degree}": display.temperature(place.compared_c),
        }

    document: Document = {
        "round": assessment.round.number,
        "shape_from_round": None if assessment.shape_from is None else assessment.shape_from.number,
        "target": {
            f"low_{degree}": display.temperature(target.low_c),
            f"high_{degree}": display.temperature(target.high_c),
            "numbers": target.numbers,
            f"rail_low_{degree}": display.temperature(rail_low_c),
            f"rail_high_{degree}": display.temperature(rail_high_c),
        },
        "spots": [_spot(spot, display) for spot in assessment.spots],
        "evenness": {
            f"p95_minus_p5_{degree}": display.difference(even.p95_minus_p5_c),
            f"std_{degree}": display.difference(even.std_c),
            "share_in_band": even.share_in_band,
            "share_in_band_low": even.share_in_band_low,
            "share_in_band_high": even.share_in_band_high,
            "hottest": extreme(even.hottest),
            "coldest": extreme(even.coldest),
            f"right_minus_left_{degree}": display.difference(even.right_minus_left_c.difference_c),
            f"back_minus_front_{degree}": display.difference(even.back_minus_front_c.difference_c),
        },
        "answer": map_answer(assessment),
        "decision": decision_document(assessment, decision),
    }
    if target.zone != "all":
        document["target"]["zone"] = _zone(target.zone, display)
    if with_surface:
        on = (assessment.grill.grate.edge_distance_mm(assessment.cells.points_mm) >= -1e-9).reshape(
            assessment.mean_c.shape
        )
        document["surface"] = {
            f"x_{length}": [display.length(value) for value in assessment.cells.x_mm.tolist()],
            f"y_{length}": [display.length(value) for value in assessment.cells.y_mm.tolist()],
            f"mean_{degree}": _on_grate(assessment.mean_c, on, display.temperature),
            f"own_std_{degree}": _on_grate(assessment.own_std_c, on, display.difference),
            f"shared_std_{degree}": display.difference(assessment.shared_std_c),
        }
    return document


def _zone(zone: str | Box, display: Display) -> str | list[float]:
    return zone if isinstance(zone, str) else [float(display.length(end)) for end in zone]


def _on_grate(values: FloatArray, on: BoolArray, shown: Callable[[float], float]) -> list[list[float | None]]:
    """Return values at every cell as they are shown, row by row; None for a cell off a round grate."""
    return [
        [shown(float(value)) if here else None for value, here in zip(*row, strict=True)]
        for row in zip(values, on, strict=True)
    ]


def _spot(assessed: AssessedSpot, display: Display) -> Document:
    spot, reading = assessed.spot, assessed.spot.reading
    degree = display.degree_key
    return {
        "id": reading.id,
        "position": reading.position or None,
        **_at(reading.point_mm, display),
        "aim": reading.aim,
        f"shown_{degree}": _temperature(reading.shown_c, display),
        f"rail_{degree}": _temperature(spot.rail_c, display),
        f"own_std_{degree}": _difference(spot.own_std_c, display),
        f"shared_std_{degree}": _difference(spot.shared_std_c, display),
        f"compared_{degree}": _temperature(assessed.compared_c, display),
        "verdict": assessed.word,
        "leaning": assessed.leaning,
        "chance_in_band": number(assessed.chance_in_band),
        "suspect": assessed.suspect,
        "suspect_why": left_out_text(assessed, display) or None,
    }


def burners_document(assessment: Assessment, decision: Decision, then: Decision) -> Document:
    """Return what `gratemap burners --json` prints; `then` is what an old map called for in its time."""
    display = Display(assessment.grill.units)
    now = Outlook.of(assessment.evenness)
    expected = now if then.advice is None else then.advice.expected
    spread = f"p95_minus_p5_{display.degree_key}"
    return {
        "round": assessment.round.number,
        "changes": _changes(then.changes),
        "settings": {name: float(mark) for name, mark in then.settings.items()},
        "worth_it": then.do == "turn",
        "reachable": then.limit != "reach",
        "why": why(assessment, then) or decision_sentence(assessment, then),
        "now": {
            "share_in_band": now.share_in_band,
            spread: display.difference(now.p95_minus_p5_c),
        },
        "expected": {
            "share_in_band": expected.share_in_band,
            "share_in_band_low": expected.share_in_band_low,
            "share_in_band_high": expected.share_in_band_high,
            spread: display.difference(expected.p95_minus_p5_c),
        },
        "wait_min": then.wait_min if then.do == "turn" else 0.0,
        "decision": decision_document(assessment, decision),
    }


def _changes(changes: Sequence[Change]) -> list[Document]:
    return [
        {"burner": change.burner, "from": float(change.from_mark), "to": float(change.to_mark)} for change in changes
    ]


def next_document(grill: Grill, whys: Mapping[str, str]) -> Document:
    """Return what `gratemap next --json` prints, from what is said of each position."""
    display = Display(grill.units)
    return {
        "positions": [
            {"position": label, **_at(grill.point_mm(label), display), "why": told} for label, told in whys.items()
        ]
    }


def place_document(assessment: Assessment, placement: Placement, decision: Decision) -> Document:
    """Return what `gratemap place --json` prints."""
    display = Display(assessment.grill.units)
    degree = display.degree_key
    return {
        "round": assessment.round.number,
        "places": [_place(assessment, place, display) for place in placement.places],
        f"target_{degree}": display.temperature(assessment.grill.target.middle_c),
        "equally_good": placement.equally_good,
        "anywhere": placement.anywhere,
        f"lead_{degree}": _difference(placement.lead_c, display),
        "lead_chance": number(placement.lead_chance),
        "answer": place_answer(assessment, placement),
        "decision": decision_document(assessment, decision),
    }


def _place(assessment: Assessment, place: Place, display: Display) -> Document:
    degree = display.degree_key
    document: Document = {
        **_where(assessment, place, display),
        f"mean_{degree}": display.temperature(place.mean_c),
        f"mean_std_{degree}": display.difference(place.mean_std_c),
        f"std_within_{degree}": display.difference(place.std_within_c),
        f"rms_from_target_{degree}": display.difference(place.rms_from_target_c),
        "chance_in_band": place.chance_in_band,
        "chance_fits": place.chance_fits,
        f"rail_{degree}": display.temperature(place.rail_c),
        f"rail_own_std_{degree}": display.difference(place.rail_own_std_c),
    }
    if place.turn is not None:
        document |= {"turn": place.turn, "fresh": place.fresh}
    return document


def sear_document(
    grill: Grill, food: Food, rails: Rails, plan: SearPlan, lesson: Lesson | None, rail_from: str
) -> Document:
    """Return what `gratemap sear --json` prints."""
    display = Display(grill.units)
    degree, length = display.degree_key, display.length_key
    document: Document = {
        "seconds_per_turn": plan.seconds_per_turn,
        "seconds_per_turn_low": plan.seconds_low,
        "seconds_per_turn_high": plan.seconds_high,
        "turns": plan.turns,
        f"pull_centre_{degree}": display.temperature(plan.pull_centre_c),
        f"peak_centre_{degree}": display.temperature(plan.peak_centre_c),
        f"peak_centre_low_{degree}": display.temperature(plan.peak_low_c),
        f"peak_centre_high_{degree}": display.temperature(plan.peak_high_c),
        "rest_s": plan.rest_s,
        f"rail_{degree}": display.temperature(rails.rail_c),
        "rail_from": rail_from or None,
        "effective_conductance_w_m2k": plan.effective_conductance_w_m2k,
        "crust": {
            f"on_rail_{length}": display.length(plan.crust.on_rail_mm),
            f"between_{length}": display.length(plan.crust.between_mm),
            "browning_s": plan.crust.browning_s,
        },
        "worth": [
            {
                "of": item.of,
                "step": display.difference(item.step) if item.unit == "°C" else display.length(item.step),
                "unit": display.degrees if item.unit == "°C" else display.lengths,
                "more_s": item.more_s,
                "less_s": item.less_s,
            }
            for item in plan.sensitivities
        ],
        "warning": roasts_sentence(plan, display) or None,
        "assumptions": list(assumption_sentences(food, rails)),
        "cautions": list(plan.cautions),
    }
    if lesson is not None:
        document["test_piece"] = {
            "determined": lesson.determined,
            "verdict": lesson_sentence(lesson, display),
            "effective_conductance_w_m2k": lesson.effective_conductance_w_m2k,
            "spread_left": lesson.spread_left,
        }
    return document


def ready_document(assessment: Assessment, decision: Decision, *, anyway: bool = False) -> Document:
    """Return what `gratemap ready --json` prints; `anyway` adds the place and its seconds whatever comes first."""
    display, place = Display(assessment.grill.units), decision.place
    use = anyway or decision.do == "sear"
    return {
        "ready": decision.do == "sear",
        "sentence": (anyway_sentence if anyway else decision_sentence)(assessment, decision),
        "wait_min": decision.wait_min,
        "place": _where(assessment, place, display) if use and place is not None else None,
        "seconds_per_turn": decision.seconds_per_turn if use else None,
        "changes": _changes(decision.changes),
        "decision": decision_document(assessment, decision),
    }


def compare_document(found: Comparison) -> Document:
    """Return what `gratemap compare --json` prints."""
    display = Display(found.after.grill.units)
    degree = display.degree_key
    before, after = found.before.evenness, found.after.evenness
    return {
        "before": found.before.round.number,
        "after": found.after.round.number,
        f"spread_before_{degree}": display.difference(before.p95_minus_p5_c),
        f"spread_after_{degree}": display.difference(after.p95_minus_p5_c),
        "share_before": before.share_in_band,
        "share_after": after.share_in_band,
        "chance_better": found.chance_better,
        "answer": found.answer,
        f"spread_change_low_{degree}": display.difference(found.spread_change_low_c),
        f"spread_change_high_{degree}": display.difference(found.spread_change_high_c),
        f"mean_change_{degree}": display.difference(found.mean_change_c),
        f"mean_change_std_{degree}": display.difference(found.mean_change_std_c),
        "burners": [
            {
                "burner": one.burner,
                "from": one.from_mark,
                "to": one.to_mark,
                f"expected_{degree}": display.difference(one.expected_c),
                f"expected_std_{degree}": display.difference(one.expected_std_c),
                f"came_{degree}": display.difference(one.came_c),
                f"came_std_{degree}": display.difference(one.came_std_c),
            }
            for one in found.burners
        ],
        "differs": list(found.differs),
    }


def history_document(grill: Grill, lines: Sequence[RoundLine], sears: Sequence[SearedPiece] = ()) -> Document:
    """Return what `gratemap history --json` prints."""
    display = Display(grill.units)
    degree = display.degree_key
    return {
        "rounds": [
            {
                "round": line.number,
                "session": line.session,
                "taken_at": None if line.taken_at is None else line.taken_at.isoformat(),
                "marks": {name: float(mark) for name, mark in line.marks.items()},
                "shots": line.shots,
                "kind": line.kind,
                f"spread_{degree}": _difference(line.spread_c, display),
                "share_in_band": number(line.share),
                "share_in_band_low": number(line.share_low),
                "share_in_band_high": number(line.share_high),
                f"level_{degree}": _temperature(line.level_c, display),
                f"drift_{degree}_per_min": _difference(line.drift_c_per_min, display),
                f"drift_std_{degree}_per_min": _difference(line.drift_std_c_per_min, display),
                "why": line.why or None,
                "notes": list(line.notes),
            }
            for line in lines
        ],
        "sears": [
            {
                "taken_at": None if piece.taken_at is None else piece.taken_at.isoformat(),
                "place": piece.place,
                "turns_s": list(piece.turns_s),
                f"start_{degree}": _temperature(piece.start_c, display),
                f"thickness_{display.length_key}": None
                if piece.thickness_mm is None
                else display.length(piece.thickness_mm),
                f"peak_{degree}": _temperature(piece.peak_c, display),
                "outcome": piece.outcome,
                "note": piece.note,
            }
            for piece in sears
        ],
    }


def gun_document(spot: Spot, calibration: Calibration, best_distance_mm: float | None, why: str = "") -> Document:
    """Return one shot of the gun alone; `why` is why it cannot be told, `best_distance_mm` None on a solid plate."""
    display, view = Display(calibration.grill.units), calibration.view()
    degree, length = display.degree_key, display.length_key
    return {
        f"rail_{degree}": _temperature(spot.rail_c, display),
        f"own_std_{degree}": _difference(spot.own_std_c, display),
        f"shared_std_{degree}": _difference(spot.shared_std_c, display),
        f"spot_{length}": display.length(view.spot_mm),
        "rail_share": view.share[0],
        f"best_distance_{length}": None if best_distance_mm is None else display.length(best_distance_mm),
        **({"cannot_tell": why} if why else {}),
    }
