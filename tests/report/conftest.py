"""One report with everything on it, made once."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest

from heatmap.assessment import Assessment, assess
from heatmap.decisions.decision import decide
from heatmap.decisions.placement import Footprint, Wanted, find_places
from heatmap.grill.burner import Burner
from heatmap.grill.grate import Grate
from heatmap.grill.grill import Grill, TargetBand
from heatmap.readings.reading import Reading, Round, group_rounds
from heatmap.report.page import report_html
from heatmap.sear import Food, Rails, plan_sear
from heatmap.units import c_from_f, mm_from_in
from heatmap.verdict.comparison import Comparison, compare
from heatmap.verdict.history import RoundLine

MADE_AT = datetime(2026, 6, 6, 15, 30, tzinfo=timezone(timedelta(hours=2)))
SCRIPT = "<script>alert('a note')</script>"
SHOWN_F = (
    (545, 560, 570, 590, 560, 575, 590, 610, 570, 585, 600, 620),
    (505, 510, 515, 525, 510, 520, 527, 535, 520, 525, 533, 541),  # too cold: the advice is to turn up
)


def described(units: str = "us") -> Grill:
    burners = tuple(
        Burner(name=name, points_mm=tuple((mm_from_in(x_in), mm_from_in(y_in)) for y_in in (1.0, 17.0)))
        for name, x_in in (("left", 4.0), ("<i>middle</i>", 12.0), ("right", 20.0))
    )
    return Grill(
        units=units,  # type: ignore[arg-type]
        name="three <b>burners</b> & a terrace",
        grate=Grate(width_mm=mm_from_in(24.0), depth_mm=mm_from_in(18.0)),
        target=TargetBand(low_c=c_from_f(550.0), high_c=c_from_f(600.0)),
        burners=burners,
        assumed=('grate.finish = "cast iron, seasoned"', "grate.rim = 1 in"),
    )


def rounds_of(grill: Grill) -> tuple[Assessment, Assessment]:
    start = datetime(2026, 6, 6, 12, tzinfo=UTC)
    readings = []
    for number, row in enumerate(SHOWN_F, 1):
        for label, shown_f in zip(grill.labels, row, strict=True):
            x_mm, y_mm = grill.point_mm(label)
            identity = len(readings) + 1
            readings.append(
                Reading(
                    id=identity,
                    shown_c=c_from_f(float(shown_f)),
                    x_mm=x_mm,
                    y_mm=y_mm,
                    position=label,
                    round=number,
                    taken_at=start + timedelta(minutes=20 * number, seconds=8 * identity),
                    knobs={burner.name: 6.0 - number for burner in grill.burners},
                    note=SCRIPT if label == "B2" else "",
                )
            )
        x_mm, y_mm = grill.point_mm("B2")
        valley = {"aim": "valley", "round": number, "shown_c": c_from_f(640.0), "x_mm": x_mm, "y_mm": y_mm}
        readings.append(Reading(id=len(readings) + 1, taken_at=start + timedelta(minutes=20 * number), **valley))
    rounds = group_rounds(readings)
    return assess(grill, rounds, 1), assess(grill, rounds, 2)


@pytest.fixture(scope="session")
def assessments() -> tuple[Assessment, Assessment]:
    """Return two rounds of one grill, before and after a change."""
    return rounds_of(described())


@pytest.fixture(scope="session")
def assessments_si() -> tuple[Assessment, Assessment]:
    """Return the same in °C and mm."""
    return rounds_of(described("si"))


@pytest.fixture(scope="session")
def comparison(assessments: tuple[Assessment, Assessment]) -> Comparison:
    """Return the two rounds compared."""
    return compare(assessments[1].grill, assessments[1].rounds, 1, 2)


@pytest.fixture(scope="session")
def full_page(assessments: tuple[Assessment, Assessment], comparison: Comparison) -> str:
    """Return a report with every section."""
    after = assessments[1]
    placement = find_places(after, Wanted(footprint=Footprint(length_mm=190.0, width_mm=125.0), headings=(2.0, 10.0)))
    rails, food = Rails(rail_c=300.0, own_std_c=4.0), Food(thickness_mm=31.75, start_centre_c=35.0)
    points = [
        RoundLine(
            round=Round(number=index, session="", readings=()),
            kind="full",
            even=after.evenness,
        )
        for index in (1, 2, 3)
    ]
    decision = replace(decide(after), plan=plan_sear(food, rails, target_centre_c=58.0))
    return report_html(
        after,
        decision=decision,
        then=decision,
        comparison=comparison,
        places=placement,
        history=points,
        made_at=MADE_AT,
        version="1.2.3",
    )
