"""What one key of a mix brief says against another, against the methods' tables and against the rule books."""

import datetime as dt
from collections.abc import Iterable, Sequence
from difflib import get_close_matches

from wetfront.errors import InvalidInput
from wetfront.intake.kinds import Mistakes, Path, shown
from wetfront.intake.rule_checks import check_confirmations
from wetfront.materials import aci_211, bre, is_10262
from wetfront.materials.mix_limits import (
    AIR,
    CUBE,
    CYLINDER,
    LEAST_CEMENT,
    MOST_CEMENT,
    MixLimits,
    mix_limits,
    rules_of,
)
from wetfront.materials.mix_methods import entrained_air_percent, strength_of
from wetfront.materials.mix_sweep import MOST_CANDIDATES
from wetfront.materials.stone_sizes import KNOWN_MM, aci_size, metric_size
from wetfront.nouns.mix_brief import BriefStone, MixBrief, MixMethod
from wetfront.rules import rule

_SLUMPS_MM: dict[MixMethod, tuple[float, float]] = {
    "absolute-volume": (aci_211.SLUMP_ROWS_MM[0][0], aci_211.SLUMP_ROWS_MM[-1][1]),
    "british": (0.0, bre.SLUMP_TO_MM[-1]),
    "indian": (25.0, 200.0),
}
_SPECIMEN: dict[MixMethod, str] = {"absolute-volume": "cylinder", "british": "cube", "indian": "cube"}


def check_brief(brief: MixBrief, mistakes: Mistakes, today: dt.date) -> None:
    """Note every mistake of a brief whose keys are sound one by one."""
    check_confirmations(brief.confirmed, mistakes, today)
    if mistakes.noted:  # what was looked up decides which limits hold
        return
    _check_names(brief, mistakes)
    _check_strength(brief, mistakes)
    _check_needs(brief, mistakes)
    _check_stones(brief, mistakes)
    _check_ranges(brief, mistakes)
    _check_exposure(brief, mistakes)
    _check_sweep(brief, mistakes)


def _check_names(brief: MixBrief, mistakes: Mistakes) -> None:
    for place, method in enumerate(brief.methods):
        if method in brief.methods[:place]:
            mistakes.add(("methods", place), shown(method), "each method once")
    chosen = brief.trial.method
    if chosen is not None and chosen not in brief.methods:
        mistakes.add(("trial", "method"), shown(chosen), f"one of the brief's methods: {', '.join(brief.methods)}")


def _check_strength(brief: MixBrief, mistakes: Mistakes) -> None:
    target = brief.target
    numbers = [key for key in ("cylinder_strength_mpa", "cube_strength_mpa") if getattr(target, key) is not None]
    if target.strength_class:
        known = [cell.word for cell in rule("en", "strength-classes-cylinder").cells]
        if target.strength_class not in known:
            near = get_close_matches(target.strength_class, known, 1)
            allowed = f"one of {', '.join(known)}; or the two strengths in its place"
            mistakes.add(("target", "strength_class"), shown(target.strength_class), allowed, near[0] if near else None)
        for key in numbers:
            mistakes.add(("target", key), shown(getattr(target, key)), "nothing beside strength_class")
        return
    for specimen in dict.fromkeys(_SPECIMEN[method] for method in brief.methods):
        if strength_of(brief, specimen) is None:
            users = [method for method in brief.methods if _SPECIMEN[method] == specimen]
            allowed = f"strength_class, or this strength of {specimen}s, for {', '.join(users)}"
            mistakes.add(("target", f"{specimen}_strength_mpa"), "nothing", allowed)


def _check_needs(brief: MixBrief, mistakes: Mistakes) -> None:
    """Keys that a method cannot do without."""
    needs: dict[MixMethod, Sequence[tuple[Path, object, str]]] = {
        "absolute-volume": (
            (("sand", "fineness_modulus"), brief.sand.fineness_modulus, "the fineness modulus of the sand"),
            (
                ("stone", "dry_rodded_density_kg_per_m3"),
                brief.stone.dry_rodded_density_kg_per_m3,
                "the dry-rodded density of the stone",
            ),
        ),
        "british": (
            (("british",), brief.british, "a table with what you read from the charts"),
            (("sand", "surface"), brief.sand.surface, "crushed or uncrushed"),
            (("stone", "surface"), brief.stone.surface, "crushed or uncrushed"),
        ),
        "indian": (
            (("indian",), brief.indian, "a table with the ratio of the chart or of trials"),
            (("sand", "zone"), brief.sand.zone, "the sand's zone, 1 to 4"),
        ),
    }
    for method in dict.fromkeys(brief.methods):
        for path, value, words in needs[method]:
            if value is None:
                mistakes.add(path, "nothing", f"{words}, for the method {method}")


def _stones(brief: MixBrief) -> Iterable[tuple[Path, BriefStone]]:
    yield ("stone",), brief.stone
    for place, stone in enumerate(brief.sweep.stone if brief.sweep else ()):
        yield ("sweep", "stone", place), stone


def _check_stones(brief: MixBrief, mistakes: Mistakes) -> None:
    for path, stone in _stones(brief):
        size, key = stone.maximum_size_mm, (*path, "maximum_size_mm")
        sizes = ", ".join(f"{each:g}" for each in KNOWN_MM)
        if size not in KNOWN_MM:
            mistakes.add(key, f"{size:g}", f"a nominal size of the tables: {sizes} mm")
        elif path == ("stone",):
            _check_size(brief, size, key, mistakes)
        elif aci_size(size) not in aci_211.SIZES_MM:
            mistakes.add(key, f"{size:g}", "a size of ACI 211.1, by which candidates are made")
        rodded = stone.dry_rodded_density_kg_per_m3
        if rodded is not None and rodded >= 1000 * stone.relative_density:
            allowed = f"less than the grains' own density, {1000 * stone.relative_density:g} kg/m³"
            mistakes.add((*path, "dry_rodded_density_kg_per_m3"), f"{rodded:g}", allowed)
    if brief.section is not None:
        _check_section(brief, mistakes)


def _check_size(brief: MixBrief, size: float, key: Path, mistakes: Mistakes) -> None:
    if "absolute-volume" in brief.methods and aci_size(size) not in aci_211.SIZES_MM:
        mistakes.add(key, f"{size:g}", "a size of ACI 211.1, for the method absolute-volume")
    metric = [method for method in brief.methods if method != "absolute-volume"]
    if metric and metric_size(size) not in is_10262.SIZES_MM:
        mistakes.add(key, f"{size:g}", f"10, 20 or 40 mm (9.5, 19, 37.5), for the method {' and '.join(metric)}")


def _check_section(brief: MixBrief, mistakes: Mistakes) -> None:
    section = brief.section
    if section is None:
        return
    try:
        largest = aci_211.maximum_aggregate_size(
            section.narrowest_form_mm, section.slab_depth_mm, section.clear_bar_spacing_mm
        )
    except InvalidInput as error:
        mistakes.add(("section",), "an empty table", error.message)
        return
    if brief.stone.maximum_size_mm > largest.maximum_aggregate_size_mm + 1e-9:
        bound = f"at most {largest.maximum_aggregate_size_mm:g} mm by the {largest.governed_by} (ACI 318, 26.4.2.1)"
        mistakes.add(("stone", "maximum_size_mm"), f"{brief.stone.maximum_size_mm:g}", bound)


def _check_ranges(brief: MixBrief, mistakes: Mistakes) -> None:
    slump = brief.target.slump_mm
    wanted: dict[MixMethod, None] = dict.fromkeys(brief.methods)
    if brief.sweep is not None:
        wanted["absolute-volume"] = None
    for method in wanted:
        low, high = _SLUMPS_MM[method]
        if not low <= slump <= high:
            mistakes.add(("target", "slump_mm"), f"{slump:g}", f"from {low:g} to {high:g} mm, for the method {method}")
    modulus, moduli = brief.sand.fineness_modulus, aci_211.FINENESS_MODULI
    if "absolute-volume" in brief.methods and modulus is not None and not moduli[0] <= modulus <= moduli[-1]:
        allowed = f"from {moduli[0]:.2f} to {moduli[-1]:.2f}, for the method absolute-volume"
        mistakes.add(("sand", "fineness_modulus"), f"{modulus:g}", allowed)


def _check_exposure(brief: MixBrief, mistakes: Mistakes) -> None:
    target = brief.target
    try:
        limits = mix_limits(target, brief.stone.maximum_size_mm, rules_of(brief))
    except InvalidInput as error:
        given = getattr(target, error.key, ())
        mistakes.add(("target", error.key), ", ".join(map(shown, given)) or "nothing", error.message)
        return
    _check_limits(brief, limits, mistakes)
    _check_air(brief, limits, mistakes)


def _check_limits(brief: MixBrief, limits: MixLimits, mistakes: Mistakes) -> None:
    least, most = limits.governing(LEAST_CEMENT), limits.governing(MOST_CEMENT)
    if least is not None and most is not None and least.value > most.value + 1e-9:
        allowed = f"not below the least: {least.text} ({least.source})"
        mistakes.add(("target", "maximum_cement_kg_per_m3"), f"{most.value:g}", allowed)
    for limit_key, specimen in ((CYLINDER, "cylinder"), (CUBE, "cube")):
        limit = limits.governing(limit_key)
        key = "strength_class" if brief.target.strength_class else f"{specimen}_strength_mpa"
        try:
            given = strength_of(brief, specimen)
        except InvalidInput:  # an unknown class: told already
            continue
        if limit is not None and given is not None and given < limit.value - 1e-9:
            found = shown(brief.target.strength_class) if brief.target.strength_class else f"{given:g}"
            mistakes.add(("target", key), found, f"{limit.text} ({limit.source})")


def _check_air(brief: MixBrief, limits: MixLimits, mistakes: Mistakes) -> None:
    least = limits.governing(AIR)
    if least is None:
        return
    asked = f"{least.text} ({least.source})"
    if not brief.target.air_entrained:
        mistakes.add(("target", "air_entrained"), "false", f"true: the exposure asks for {asked}")
        return
    try:
        air = entrained_air_percent(brief)
    except InvalidInput:  # a size without an air content: told already
        return
    if air < least.value - 1e-9:
        found = f"{shown(brief.target.frost_exposure)}, which is {air:g} % with this stone"
        mistakes.add(("target", "frost_exposure"), found, f"one that gives {asked}")


def _check_sweep(brief: MixBrief, mistakes: Mistakes) -> None:
    sweep = brief.sweep
    if sweep is None:
        return
    count = len(sweep.water_cement_ratios) * len(sweep.sand_percents)
    for key in ("stone", "cement", "admixture"):
        options = getattr(sweep, key)
        count *= max(1, len(options))
        names = [option.name for option in options]
        for place, name in enumerate(names):
            if name in names[:place]:
                mistakes.add(("sweep", key, place, "name"), shown(name), "a name that no other option has")
    if count > MOST_CANDIDATES:
        mistakes.add(("sweep",), f"{count} candidates", f"at most {MOST_CANDIDATES} candidates")
    if not brief.target.strength_class and brief.target.cylinder_strength_mpa is None:
        allowed = "strength_class, or the strength of cylinders, by which candidates are judged"
        mistakes.add(("target", "cylinder_strength_mpa"), "nothing", allowed)
