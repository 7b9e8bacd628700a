"""The cautions, once and plain, for every command that tells a cook to do something hot or to eat something.

They do not replace local food and fire codes, the organiser's rules or a licensed gas fitter.

References
----------
USDA Food Safety and Inspection Service, "Safe Minimum Internal Temperature Chart": beef steaks, roasts and
chops 145 °F and 3 minutes of rest; ground beef 160 °F; and its advice to cook mechanically tenderised beef
by the label.

ISO 13732-1:2006, burn thresholds of hot surfaces (bare metal, 1 s: 65 to 70 °C, from memory).

IEC 60825-1, classes of lasers.
"""

from heatmap.units import Display

WHOLE_CUT_SAFE_C = (145.0 - 32.0) / 1.8  # USDA FSIS
GROUND_SAFE_C = (160.0 - 32.0) / 1.8  # USDA FSIS

BELOW_WHOLE_CUT = (
    "USDA FSIS advises 145 °F (63 °C) and 3 minutes of rest for whole cuts of beef; the target is below "
    "that. Eating it is your choice, and serving it may not be allowed: the local food code and the "
    "organiser's rules come first."
)
REST_WHOLE_CUT = "USDA FSIS: whole cuts at 145 °F (63 °C) rest 3 minutes before they are cut or eaten."
GROUND = (
    "Ground meat must reach 160 °F (71 °C) all through (USDA FSIS); this target does not, and no sear makes it safe."
)
GROUND_REACHED = "Ground meat must reach 160 °F (71 °C) all through (USDA FSIS): check with a probe."
TENDERISED = (
    "Tenderised or injected meat carries what was on its surface inside: follow the cooking temperature "
    "and rest on its label."
)
ONLY_A_FORECAST = (
    "These seconds are a forecast. Check the centre of every piece with a clean probe before it is served."
)
HOT_SURFACES = (
    "Rails at searing heat burn skin at a touch, far faster than you can pull away: long tongs, dry "
    "gloves, no loose sleeves, children and animals away."
)
GAS = (
    "Gas: open the lid before lighting, light at once, and shut the cylinder at the first smell of gas; "
    "leave fittings and regulators to a licensed fitter."
)
GREASE_FIRE = (
    "Grease fire: shut the gas and close the lid, never water; keep a class K, B or ABC extinguisher and a way out."
)
CARBON_MONOXIDE = (
    "Charcoal and gas give off carbon monoxide: never indoors, in a garage or in a tent, lit or cooling down."
)
LASER = "The gun's laser can hurt eyes, also off shiny metal: never at a face, and off when you are not aiming."

AT_THE_GRILL = (LASER, HOT_SURFACES, GAS, GREASE_FIRE, CARBON_MONOXIDE)


def in_short(kind: str, peak_c: float, display: Display) -> str:
    """Return the caution about a piece that is to reach this centre [°C], in one line."""
    if kind == "ground":
        return f"Ground meat must reach {display.temperature_text(GROUND_SAFE_C)} all through: probe it."
    if kind == "tenderised or injected":
        return "Tenderised or injected: cook by its label; probe every centre."
    if peak_c < WHOLE_CUT_SAFE_C - 0.01:
        return f"Below USDA's {display.temperature_text(WHOLE_CUT_SAFE_C)}: your choice; probe every centre."
    return "Rest it 3 minutes before it is cut; probe every centre."


def for_food(kind: str, peak_c: float) -> tuple[str, ...]:
    """Return the food-safety cautions for a kind of food that is to reach a centre temperature.

    Parameters
    ----------
    kind : str
        ``"whole cut"``, ``"ground"`` or ``"tenderised or injected"``.
    peak_c : float
        The highest the centre is expected to reach [°C].

    Returns
    -------
    tuple of str
        Sentences, the most pressing first.
    """
    if kind == "ground":
        return (GROUND if peak_c < GROUND_SAFE_C - 0.01 else GROUND_REACHED, ONLY_A_FORECAST)
    below = (BELOW_WHOLE_CUT,) if peak_c < WHOLE_CUT_SAFE_C - 0.01 else ()
    if kind == "tenderised or injected":
        return (TENDERISED, *below, ONLY_A_FORECAST)
    return (*(below or (REST_WHOLE_CUT,)), ONLY_A_FORECAST)
