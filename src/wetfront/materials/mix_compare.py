"""What the methods differ in on one target, and why, in words that name their own numbers."""

from collections.abc import Sequence

from wetfront.nouns.mix_design import Difference, MethodMix

SHORT = {"absolute-volume": "ACI", "british": "BRE", "indian": "IS"}


def differences(mixes: Sequence[MethodMix]) -> tuple[Difference, ...]:
    """One entry a quantity in which at least two methods differ to the printed digit; none for a single method."""
    if len(mixes) < 2:
        return ()
    rows = (
        ("strength aimed at", "target_strength_mpa", 1, "MPa", _why_target(mixes)),
        ("water", "water_kg_per_m3", 0, "kg/m³", _WATER),
        ("water/cement ratio", "water_cement_ratio", 2, "", _why_ratio(mixes)),
        ("cement", "cement_kg_per_m3", 0, "kg/m³", "Water over ratio: it follows the two rows above."),
        ("sand of the aggregate", "sand_percent", 0, "%", _SAND),
        ("air counted", "air_content_percent", 1, "%", _AIR),
        ("volume of the parts", "parts_volume_m3", 3, "m³", _YIELD),
    )
    found = []
    for what, key, digits, unit, why in rows:
        values = [round(float(getattr(mix, key)), digits) for mix in mixes]
        if max(values) > min(values):
            told = ", ".join(f"{_short(mix)} {value:.{digits}f}" for mix, value in zip(mixes, values, strict=True))
            found.append(Difference(what=what, spread=f"{told} {unit}".strip(), why=why))
    return tuple(found)


_WATER = (
    "ACI by slump row and size; BRE by slump column, type of sand (2/3) and stone (1/3); IS from 50 mm slump, + 3 % "
    "for each 25 mm more. All less the admixture's reduction."
)
_SAND = "ACI fills up with sand after the dry-rodded stone; BRE takes the chart's share; IS the zone's, by the ratio."
_AIR = "ACI and IS count the air that stays trapped; BRE counts only entrained air."
_YIELD = "1.000 where a method fills the volume; a chart's density or an uncounted admixture moves it: measure it."


def _short(mix: MethodMix) -> str:
    return SHORT[mix.method]


def _why_target(mixes: Sequence[MethodMix]) -> str:
    told = [
        f"{_short(mix)} {mix.target_strength_mpa - mix.specified_strength_mpa:+.2f} on "
        f"{mix.specified_strength_mpa:g} MPa {mix.specimen}s ({mix.margin_from})"
        for mix in mixes
    ]
    end = " Cylinders and cubes do not compare as numbers." if len({mix.specimen for mix in mixes}) > 1 else ""
    return f"{'; '.join(told)}.{end}"


def _why_ratio(mixes: Sequence[MethodMix]) -> str:
    told = ", ".join(f"{_short(mix)} {mix.ratio_for_strength:.2f} ({mix.governed_by} governs)" for mix in mixes)
    return f"for strength {told}. ACI by its table for cylinders, BRE and IS by your readings for cubes."
