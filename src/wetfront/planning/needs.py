"""What a pour has, in the words by which check list and cautions are filtered."""

from collections.abc import Sequence
from dataclasses import dataclass

from wetfront.nouns.element import Beam, Column, DeckSlab, Element, GroundSlab, MassBlock, Pedestal, Slab, Wall
from wetfront.nouns.sheet import PourSheet
from wetfront.nouns.site import Pump

COLD_BELOW_C = 5.0
HOT_FROM_C = 25.0
"""Own rules: when frost, and when heat of people and concrete, come on the list."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Figures of this pour that the list and the cautions name."""

    pump: Pump
    vibrators_count: int
    top_area_m2: float
    samples_count: int
    specimens_count: int
    coldest_air_c: float | None
    hottest_air_c: float | None
    placing_h: float
    joint_places: tuple[str, ...]


def needs_of(sheet: PourSheet, elements: Sequence[Element], facts: Facts) -> frozenset[str]:
    """The tags of one pour."""
    found: set[str] = {facts.pump.kind}
    slabs = [element for element in elements if isinstance(element, Slab | GroundSlab | DeckSlab)]
    if slabs:
        found.add("slab")
    suspended = any(isinstance(element, DeckSlab | Beam) or _on_falsework(element) for element in elements)
    ids = {element.id for element in elements}
    if suspended or any(ids & set(falsework.elements) for falsework in sheet.falsework):
        found.add("falsework")
    if any(isinstance(element, Wall | Column | Pedestal | MassBlock) for element in elements):
        found.add("vertical-form")
    if any(isinstance(element, Wall) for element in elements):
        found.add("wall")
    if sheet.overhead_line:
        found.add("overhead-line")
    if any(pump.standby for pump in sheet.pump):
        found.add("standby")
    if sheet.specification.saw_cut_depth_mm is not None:
        found.add("saw-cut")
    if sheet.specification.finish == "power-trowelled":
        found.add("power-trowel")
    if sheet.joint:
        found.add("joint")
    if facts.coldest_air_c is not None and facts.coldest_air_c < COLD_BELOW_C:
        found.add("cold")
    if facts.hottest_air_c is not None and facts.hottest_air_c >= HOT_FROM_C:
        found.add("hot")
    found.add("trucks" if sheet.site_mixer is None else "site-mixer")
    if sheet.noise_limit:
        found.add("noise")
    return frozenset(found)


def _on_falsework(element: Element) -> bool:
    return isinstance(element, Slab) and element.support == "falsework"
