"""What one reading of the gun tells of the surface, and why it may tell nothing."""

from heatmap.correct import Calibration, Spot, Telling
from heatmap.correct.tuning import HIGHEST_RAIL_C, LEAST_OWN_PART
from heatmap.grill.grill import Grill
from heatmap.physics.grey_body import temperature_per_emissivity
from heatmap.units import STDS_95, k_from_c, percent


def cannot_tell_sentence(told: Telling, grill: Grill) -> str:
    """Say why a reading tells nothing of the rail, and between what that may be; empty where it tells."""
    if told.is_answer:
        return ""
    display = grill.display
    emissivity = emissivity_text(grill)
    beyond = told.cut_off or told.high_c >= HIGHEST_RAIL_C
    between = (
        f"between {display.temperature(told.low_c):.0f} and "
        f"{'more than ' if beyond else ''}{display.temperature_text(told.high_c)} (95 %)"
    )
    if told.own_part < LEAST_OWN_PART:
        return (
            f"At an emissivity of {emissivity} only {percent(told.own_part)} of what the gun answers to is the rail's "
            "own glow; the rest is the valley between the rails. Only if the valley is about as hot as such valleys "
            f"usually are, the rail is {between}."
        )
    return (
        f"With an emissivity of {emissivity} it may be anything {between}: so little of what the gun sees is the "
        "surface's own glow that the rest, what the metal mirrors, decides."
    )


def emissivity_text(grill: Grill) -> str:
    """Return the emissivity taken, with its 95 %."""
    return f"{grill.grate.rail_emissivity:.2f} ± {STDS_95 * grill.grate.rail_emissivity_sd:.2f}"


A_CONTACT_TELLS = (
    "A contact reading tells it: hold a surface probe at the same place (--contact), "
    "or shoot a patch of known emissivity there (--patch)."
)


def gun_lines(spot: Spot, calibration: Calibration, why: str, best_distance_mm: float | None) -> list[str]:
    """Say what the surface is, or plainly that it cannot be told and `why`; then the spot and the emissivity.

    `best_distance_mm` is None for a solid plate.
    """
    grill, view = calibration.grill, calibration.view()
    display = grill.display
    assert spot.rail_c is not None and spot.own_std_c is not None and spot.shared_std_c is not None
    assert spot.reading.shown_c is not None
    surface = "surface" if best_distance_mm is None else "rail"
    shown = display.temperature_text(spot.reading.shown_c)
    answer = (
        f"the {surface} is about {display.temperature_text(spot.rail_c)}, "
        f"±{display.margin(spot.own_std_c):.0f} this reading alone, "
        f"±{display.margin(spot.shared_std_c):.0f} shared by all readings (95 %)."
    )
    lines = [
        f"Shown {shown}: " + (f"the {surface} cannot be told from this. {why}" if why else answer),
        f"The spot is {display.length_text(view.spot_mm)} across from {display.length_text(grill.gun.distance_mm)}.",
    ]
    if best_distance_mm is not None:
        share, share_sd = view.share
        lines += [
            f"{percent(share)} of it is rail top, ±{percent(STDS_95 * share_sd)} from shot to shot; "
            "the rest looks into the valley.",
            f"Best distance: about {display.length_text(best_distance_mm)}; "
            "every shot then sees the same share. One contact reading pins the level.",
        ]
    worth = temperature_per_emissivity(
        k_from_c(spot.rail_c), grill.grate.rail_emissivity, k_from_c(grill.surroundings.reflected_c)
    )
    return [
        *lines,
        f"0.01 of emissivity is worth {display.difference(abs(float(worth)) / 100):.1f} {display.degrees} here "
        f"(emissivity taken as {emissivity_text(grill)}).",
    ]


def emissivity_sentence(what: str, true_c: float, emissivity: float, grill: Grill) -> str:
    """Say which emissivity a probe or a patch makes of a reading."""
    return (
        f"By the {what} the surface is {grill.display.temperature_text(true_c)}; the gun agrees with "
        f"an emissivity of {emissivity:.3f}, taken over the whole spot, valley and all."
    )
