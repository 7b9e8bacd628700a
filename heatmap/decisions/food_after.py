"""What a change of marks would do for the food."""

from __future__ import annotations

import numpy as np

from heatmap.assessment import Assessment
from heatmap.decisions.burner_advice import BurnerAdvice
from heatmap.decisions.fitting import share_chance
from heatmap.decisions.placement import Place, Wanted
from heatmap.decisions.placement.plan import best_centre
from heatmap.decisions.placement.search import TargetField
from heatmap.decisions.tuning import FITS_SHARE
from heatmap.verdict.chances import chance_of_more

#: Joint samples of the settled surface under the marks now and then.
SAMPLES = 200


def fit_after(assessment: Assessment, food: Wanted, now: Place, advice: BurnerAdvice) -> tuple[float, float]:
    """Return by how much the chance of fitting rises from the best place of now to the best under the advised marks,
    both once settled, and how likely the food's share in band rises at all.
    """
    model, target = assessment.round_map.model, assessment.grill.target
    field = TargetField.of(assessment, compared_c=advice.expected_mean_c)
    laid = [(np.array(now.centre_mm), now.headings), best_centre(food, field)]
    rules = [food.footprint.area_rule_mm(headings) for _, headings in laid]
    points_mm = np.concatenate([middle + points for (middle, _), (points, _) in zip(laid, rules, strict=True)])
    openings = np.array([model.response.openings(marks) for marks in (assessment.round.settings, advice.settings)])
    drawn_c = model.settled(openings).sample(points_mm, SAMPLES, np.random.default_rng(assessment.round.number))
    compared_c = np.split(assessment.calibration.compared_c(drawn_c), 2, axis=1)
    first = len(rules[0][0])
    both_c = (compared_c[0][:, :first], compared_c[1][:, first:])
    chances, shares = [], []
    for each_c, (_, weights) in zip(both_c, rules, strict=True):
        chances.append(share_chance(each_c, weights, assessment.level_std_c, assessment.band_c, FITS_SHARE))
        shares.append(((each_c >= target.low_c) & (each_c <= target.high_c)) @ weights)
    return chances[1] - chances[0], chance_of_more(*shares)
