"""A round at a glance, and as it grows while it is taken."""

from heatmap.decisions.tuning import HARDLY
from heatmap.grill.grill import Grill
from heatmap.taking.preheat import Rise
from heatmap.taking.running import RunningMap
from heatmap.words.decision import HARDLY_CHANGES, why_text
from heatmap.words.map import disagreement_sentence
from heatmap.words.phrases import joined

#: So many positions are named one by one.
_MOST_LABELS = 8


def round_heading(number: int, shot: int, count: int, lid: str) -> str:
    """Say which round this is and how far it has got."""
    return f"Round {number}, {shot} of {count} shot, lid {lid}"


def so_far_sentence(running: RunningMap) -> str:
    """Say which positions are in band so far, and which are not."""
    count = sum(map(bool, running.words_at_labels[0]))
    leaning = len(running.labelled("in band", sure=False))
    perhaps = f", {leaning} more perhaps" if leaning else ""
    parts = [f"in band {len(running.labelled('in band'))} of {count}{perhaps}"]
    for word in ("too hot", "too cold"):
        for labels, how in ((running.labelled(word), word), (running.labelled(word, sure=False), f"perhaps {word}")):
            if labels:
                more = f" and {len(labels) - _MOST_LABELS} more" if len(labels) > _MOST_LABELS else ""
                parts.append(f"{how} {' '.join(labels[:_MOST_LABELS])}{more}")
    return f"So far: {'; '.join(parts)}."


def contradiction_sentence(running: RunningMap) -> str:
    """Say that contact readings contradict one another, while the probe is still at hand; else nothing."""
    found, number = running.calibration.disagreement, running.round.number
    if found is None or number not in (found.lower.reading.round, found.upper.reading.round):
        return ""  # of an earlier round the answer at the end tells it
    return disagreement_sentence(running.calibration)


def least_sure_sentence(running: RunningMap) -> str:
    """Say where the map is least sure, or that more shots would hardly change the answer."""
    best = running.next
    if best is None:
        return f"{HARDLY_CHANGES.removesuffix('.')}: done (*) ends the round."
    hangs = f" Most hangs on {best.position}: {why_text(best)}." if best.gain > 0.1 * HARDLY else ""
    return f"Least sure at {joined(list(running.least_sure))}.{hangs}"


def rise_sentence(found: Rise | None, grill: Grill, *, preheating: bool) -> str:
    """Say how fast the grate rises, where that is worth saying."""
    display = grill.display
    if found is None:
        return "How fast it rises shows when both are shot again." if preheating else ""
    rate = f"{abs(display.difference(found.per_minute_c)):.0f} {display.degrees} a minute"
    if found.is_rising:
        return f"Rising {rate}, hold on." if preheating else f"Rising {rate}, hold on: a map now would soon be old."
    if not preheating:
        return ""
    if found.is_steady:
        return f"Nearly steady: {rate}."
    if found.per_minute_c < -2.0 * found.std_c:
        return f"Falling {rate}, hold on."
    return f"Changing by about {rate}, give or take {display.margin(found.std_c):.0f}; shoot on."
