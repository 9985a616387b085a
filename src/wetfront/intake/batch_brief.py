"""Read a batch brief, and tell all its mistakes at once."""

from pathlib import Path

from wetfront.errors import InvalidInput
from wetfront.intake.heap_checks import check_aggregate
from wetfront.intake.kinds import Mistakes
from wetfront.intake.one_file import Inputs, read_one_file
from wetfront.materials.admixture import WATER_COUNTS_ABOVE_L_PER_M3, admixture_dose
from wetfront.materials.site_batch import least_mixing_min, mixer_batches
from wetfront.nouns.batch import BatchBrief

WHAT = "a batch brief (TOML)"
MOST_AGGREGATES, MOST_ADMIXTURES = 6, 4


def read_batch_brief(path: Path) -> tuple[BatchBrief, Inputs]:
    """The checked brief in `path` and the hash of the file. SheetError holds every mistake."""
    return read_one_file(path, WHAT, BatchBrief, cross_check_batch)


def cross_check_batch(brief: BatchBrief, mistakes: Mistakes) -> None:
    """What one table of the brief says of another."""
    by_volume = brief.measure.by == "volume"
    for key, entries, most in (
        ("aggregate", brief.aggregate, MOST_AGGREGATES),
        ("admixture", brief.admixture, MOST_ADMIXTURES),
    ):
        if len(entries) > most:
            mistakes.add((key,), f"{len(entries)} entries", f"at most {most}: more do not fit on a card")
        _each_once(key, [entry.id for entry in entries], mistakes)
    for place, aggregate in enumerate(brief.aggregate):
        check_aggregate(aggregate, ("aggregate", place), mistakes, by_volume=by_volume)
    if by_volume and brief.work == "structural" and not brief.measure.volume_approved_by.strip():
        mistakes.add(
            ("measure", "by"),
            "'volume' for structural work",
            "weight; by volume only small non-structural work, or where measure.volume_approved_by names who decided",
        )
    _water(brief, mistakes)
    _mixer(brief, mistakes)


def _each_once(key: str, names: list[str], mistakes: Mistakes) -> None:
    for place, name in enumerate(names):
        if name in names[:place]:
            mistakes.add((key, place, "id"), repr(name), "an id that no other entry has")


def _water(brief: BatchBrief, mistakes: Mistakes) -> None:
    mix = brief.mix
    ratio = mix.water_kg_per_m3 / mix.cement_kg_per_m3
    if mix.max_water_cement_ratio is not None and ratio > mix.max_water_cement_ratio + 1e-9:
        allowed = f"at most max_water_cement_ratio × cement, {mix.max_water_cement_ratio * mix.cement_kg_per_m3:.0f}"
        mistakes.add(("mix", "water_kg_per_m3"), f"{mix.water_kg_per_m3:g} ({ratio:.2f} of the cement)", allowed)
    if mix.slump_limits_mm is not None and mix.slump_limits_mm[0] >= mix.slump_limits_mm[1]:
        low, high = mix.slump_limits_mm
        mistakes.add(("mix", "slump_limits_mm"), f"{low:g} to {high:g}", "the lower limit first, then the upper")
    total = sum(entry.dose_percent for entry in brief.admixture)
    if total > 5.0 + 1e-9:
        mistakes.add(
            ("admixture",), f"{total:g} % together", "at most 5 % of the cement (50 g/kg, EN 206, from memory)"
        )
    litres = sum(
        admixture_dose(mix.cement_kg_per_m3, entry.dose_percent, 1.0, entry.density_kg_per_l).admixture_l_per_m3
        for entry in brief.admixture
    )
    if litres > WATER_COUNTS_ABOVE_L_PER_M3 + 1e-9:
        for place, entry in enumerate(brief.admixture):
            if entry.solids_percent is None:
                allowed = f"a number: the admixtures are {litres:.1f} l/m³, over 3, so their water counts"
                mistakes.add(("admixture", place, "solids_percent"), "nothing", allowed)


def _mixer(brief: BatchBrief, mistakes: Mistakes) -> None:
    mixer = brief.mixer
    try:
        batches = mixer_batches(
            brief.required_volume_m3,
            mixer.output_m3,
            brief.mix.cement_kg_per_m3,
            mixer.cement_bag_kg,
            brief.waste_percent,
        )
    except InvalidInput as error:
        key = "cement_bag_kg" if error.key == "cement_bag_kg" else "output_m3"
        found = f"{getattr(mixer, key):g}"
        most = mixer.output_m3 * brief.mix.cement_kg_per_m3
        mistakes.add(("mixer", key), found, f"at most {most:.0f} kg, the cement of a full batch; or weigh the cement")
        return
    least = least_mixing_min(batches.batch_volume_m3)
    if mixer.mixing_min < least - 1e-9:
        mistakes.add(
            ("mixer", "mixing_min"), f"{mixer.mixing_min:g}", f"at least {least:g} min for a batch of this size"
        )
    if mixer.cycle_min <= mixer.mixing_min:
        mistakes.add(("mixer", "cycle_min"), f"{mixer.cycle_min:g}", f"over mixing_min, {mixer.mixing_min:g}")
