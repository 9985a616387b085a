"""What can hurt on this pour, one line each. The local law, the operator and the designer always rule."""

from collections.abc import Sequence

from wetfront.nouns.element import Element
from wetfront.nouns.sheet import PourSheet
from wetfront.planning.needs import Facts
from wetfront.planning.reach import LineDistance

# In the order in which they are printed: what kills first.
_LINES: tuple[tuple[str, str], ...] = (
    (
        "vertical-form",
        "Form: never faster than the permitted rise; a colder or slower-setting mix or a faster pump ends what the "
        "form was designed for. Form watch stays; stop at the first movement.",
    ),
    (
        "falsework",
        "Falsework: nobody under the deck while placing; no heaps over the permitted height; stop at the first "
        "movement.",
    ),
    (
        "boom",
        "Hose after any stop or move: everyone back from the hose until it flows; restart away from the work. No "
        "coupling or stiff end on the end hose.",
    ),
    ("line", "Line after any stop: everyone back until it flows; never open a coupling under pressure."),
    (
        "boom",
        "Cleaning out with air: the plug leaves like a shot. Water where possible, end of line secured, area clear.",
    ),
    ("boom", "Outriggers: load known, mats level, away from an excavation by at least its depth."),
    ("skip", "Skip: lift plan by the appointed person; nobody under it, nobody between skip and form."),
    (
        "",
        "Wet concrete burns (pH 12 to 13), without pain at first: rinse at once with clean water, 15 min, no vinegar.",
    ),
    (
        "site-mixer",
        "Mixer: never a hand or tool into a turning drum; to clean or clear it stop, lock off, keep the key.",
    ),
    ("site-mixer", "Cement dust: open bags low, slowly and upwind, with a dust mask. No water by eye."),
    ("trucks", "Trucks reverse to the hopper only with the marshal; walking route apart from the trucks."),
    ("falsework", "Edges and openings: edge protection and covers stay on until the concrete carries them."),
    ("vertical-form", "Ladders and platforms on the form: guard rails on, hose never pulled from an open edge."),
    ("saw-cut", "Saw cutting: water or extraction against silica dust, and a mask by the local rule."),
    ("", "Vibrator leads in the wet: residual-current device tested today."),
    ("noise", "Noise: ears protected at machines, vibrators, trowels; neighbours' limits stand on the plan."),
    ("hot", "Heat: water and shade, relief every two hours, eyes on the last hour of a long shift."),
    ("cold", "Frost: no concrete on frozen ground or forms; watch for slips on iced decks."),
    ("standby", "Standby plant helps only where it reaches and if its call-out was confirmed today."),
)
LONG_SHIFT_H = 10.0


def cautions(
    sheet: PourSheet, elements: Sequence[Element], needs: frozenset[str], facts: Facts, lines: Sequence[LineDistance]
) -> tuple[str, ...]:
    """The lines that apply, with this pour's figures where it has any."""
    found = [
        f"Overhead line {line.voltage_kv:g} kV: stretched boom of {line.pump} comes to {line.least_distance_m:.1f} m "
        f"in plan; agreed least distance {line.agreed_m:g} m. Local law and the line's owner rule."
        for line in lines
    ]
    if "boom" in needs and not sheet.overhead_line:
        found.append("Overhead lines: none in the sheet. Look up before the boom goes up.")
    found += [text for need, text in _LINES if not need or need in needs]
    ids = {element.id for element in elements}
    for falsework in sheet.falsework:
        if ids & set(falsework.elements):
            found.append(
                f"Falsework of {', '.join(falsework.elements)}: heap at most {falsework.permitted_heap_mm:g} mm from "
                f"the soffit, designed for {falsework.designed_for_thickness_mm:g} mm of concrete."
            )
    if facts.placing_h > LONG_SHIFT_H:
        found.append(f"Placing takes {facts.placing_h:.1f} h: plan relief; mistakes come in the last hours.")
    if facts.pump.outrigger_largest_load_kn is not None and facts.pump.kind == "boom":
        found.append(
            f"Outrigger load of {facts.pump.id} up to {facts.pump.outrigger_largest_load_kn:g} kN: ground value wanted."
        )
    return tuple(found)
