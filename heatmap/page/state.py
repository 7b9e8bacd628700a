"""The state as a phone gets it: numbers in the grill's units, sentences as every screen says them."""

from collections.abc import Sequence
from typing import Any

from heatmap.assessment import Assessment, Cells
from heatmap.decisions.burner_advice import Change
from heatmap.decisions.decision import Decision
from heatmap.decisions.next_spots import first_labels
from heatmap.grill.burner import Burner
from heatmap.grill.grill import Grill
from heatmap.page.tuning import MOST_CELLS, MOST_SPOTS
from heatmap.readings.reading import Reading
from heatmap.report.documents import decision_document, fields_of, position_document, told, where_document
from heatmap.taking.session import Session
from heatmap.words.decision import change_text, decision_sentence, headline, shoot_sentence
from heatmap.words.map import band_sentence, map_answer
from heatmap.words.phrases import TAKE_OFF
from heatmap.words.regions import where
from heatmap.words.round import round_heading
from heatmap.words.sear import NO_PEAK, turns_text

Part = dict[str, Any]
#: So many positions are asked for first, where there is no map.
_FIRST = 5


def grill_part(session: Session) -> Part:
    """Return the grill, and where its knobs stand."""
    grill, food = session.grill, session.grill.food
    size = dict(zip(("length_mm", "width_mm"), food.size_mm or (None, None), strict=True))
    part = {
        **fields_of(grill, "name units degree=display.degrees length=display.lengths"),
        **fields_of(grill.grate, "shape surface rails width_mm depth_mm"),
        "rows": list(dict.fromkeys(label[0] for label in grill.labels)),
        "columns": sorted({int(label[1:]) for label in grill.labels}),
        "positions": [{"label": label, **position_document(grill, label)} for label in grill.labels],
        "burners": [_burner(one, session.knobs.get(one.name)) for one in grill.burners],
        "target": fields_of(grill.target, "low_c high_c numbers"),
        "food": {**size, **fields_of(food, "headings turns")} if food.is_told else None,
        "no_seconds": NO_PEAK if food.target_c is None else None,
    }
    return told(part, grill, bare=True)


def session_part(session: Session, said: str) -> Part:
    """Return how far the round has got; `said` is the last that was told of a kept number."""
    grill = session.grill
    asked, last = session.asked, session.readings[-1] if session.readings else None
    shot = list(dict.fromkeys(one.position for one in session.readings if one.aim == "rail" and one.position))
    count, of = len(set(shot) & set(session.order)), len(session.order)
    part = {
        **fields_of(session, "round=number name kind lid rails=surface"),
        "shots": count,
        "of": of,
        "complete": session.passes > 0,
        "next": {"position": asked, **position_document(grill, asked), "how": session.how or None},
        "ahead": [] if session.passes else session.left,
        "last": None if last is None else reading_part(last, grill),
        "heading": round_heading(session.number, count, of, session.lid),
        "shot_positions": shot,
        "said": said or None,
    }
    return told(part, grill, bare=True)


def spots_part(readings: Sequence[Reading], grill: Grill) -> list[Part]:
    """Return the latest readings of the round, not judged yet."""
    latest, not_judged = readings[-MOST_SPOTS:], {"verdict": None, "leaning": None, "chance_in_band": None}
    return [reading_part(one, grill, "id shown_c aim x_mm y_mm") | not_judged | {"suspect": False} for one in latest]


def verdicts_part(assessment: Assessment) -> dict[int, Part]:
    """Return what the map says of each reading, by its id."""
    names, grill = "verdict=word leaning chance_in_band suspect", assessment.grill
    return {one.spot.reading.id: told(fields_of(one, names), grill, bare=True) for one in assessment.spots}


def composed(parts: Part) -> Part:
    """Return the state from its parts: the spots of now with the verdicts there are, and whether newer ones come."""
    verdicts = parts.get("verdicts", {})
    of_both = {
        "spots": [{**one, **verdicts.get(one["id"], {})} for one in parts.get("spots", ())],
        "pending": parts.get("stands_at") not in (None, parts.get("mapped_at")),
    }
    own = {name: part for name, part in parts.items() if name not in ("verdicts", "stands_at", "mapped_at")}
    return {**own, **of_both}


def map_part(assessment: Assessment) -> Part:
    """Return the map in the numbers of the band."""
    import numpy as np

    grill, cells, compared_c = assessment.grill, assessment.cells, assessment.compared_c
    if compared_c.size > MOST_CELLS:
        width_mm, depth_mm = grill.grate.extent_mm
        cells = Cells(grill, 1.05 * float(np.sqrt(width_mm * depth_mm / MOST_CELLS)))
        mean_c, _ = assessment.surface.predict(cells.points_mm)
        compared_c = assessment.calibration.compared_c(mean_c).reshape(cells.inside.shape)
    part = {
        "round": assessment.round.number,
        "answer": map_answer(assessment),
        **dict(zip(("low_c", "high_c"), assessment.band_c, strict=True)),
        "band": band_sentence(assessment),
        "x_mm": cells.x_mm.tolist(),
        "y_mm": cells.y_mm.tolist(),
        "mean_c": np.where(cells.on_grate, compared_c, np.nan).tolist(),
    }
    return told(part, grill, bare=True)


def decision_part(assessment: Assessment, decision: Decision) -> Part:
    """Return what to do now, in the words of every screen."""
    grill, place = assessment.grill, decision.place
    part = {
        **decision_document(grill, decision, decision_sentence(assessment, decision)),
        "changes": [_change(grill, one) for one in decision.changes],
        "place": None if place is None else where_document(grill, place),
        "headline": headline(grill, decision),
    }
    return told(part, grill, bare=True)


def no_map_part(session: Session) -> Part:
    """Return what to do while there are too few readings for a map."""
    shot = [one.position for one in session.readings if one.aim == "rail"]
    left = [label for label in session.left if label not in shot][:_FIRST]
    labels = tuple(left) or first_labels(session.grill, shot, _FIRST)
    decision = Decision(do="shoot", shoot_for="no map", positions=labels)
    document = decision_document(session.grill, decision, shoot_sentence(decision))
    return document | {"headline": headline(session.grill, decision)}


def turn_clock_part(assessment: Assessment, decision: Decision) -> Part | None:
    """Return what the turn clock counts, where a sear was described and its place is known."""
    place, plan = decision.place, decision.plan
    if place is None or plan is None:
        return None
    part = {
        "seconds": round(plan.seconds_per_turn),
        "turns": plan.turns,
        "what": turns_text(plan.turns, place.headings, assessment.grill.piece.sides or ""),
        "end": TAKE_OFF,
        "place": where(assessment.grill, *place.centre_mm),
        **fields_of(place, "x_mm y_mm headings"),
    }
    return told(part, assessment.grill, bare=True)


def reading_part(reading: Reading, grill: Grill, names: str = "id shown_c aim") -> Part:
    """Return a reading as it was tapped."""
    return told({"position": reading.position or None, **fields_of(reading, names)}, grill, bare=True)


def _burner(one: Burner, mark: float | None) -> Part:
    return {**fields_of(one, "name low high step control"), "mark": _mark(one, mark), "marks": one.marks or None}


def _change(grill: Grill, one: Change) -> Part:
    burner = grill.burner(one.burner)
    ends = {"from": _mark(burner, one.from_mark), "to": _mark(burner, one.to_mark)}
    return {"burner": one.burner, **ends, "text": change_text(grill, one)}


def _mark(burner: Burner, mark: float | None) -> float | str | None:
    """Return a mark as the cook calls it: by its name where it has one."""
    return mark if mark is None or not burner.marks else burner.mark_text(mark)
