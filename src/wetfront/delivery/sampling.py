"""Which loads were sampled, against the frequency that the specification asks for."""

import math
from collections.abc import Sequence

from wetfront.nouns.delivery import DeliveryRow
from wetfront.nouns.delivery_day import SamplingCheck
from wetfront.nouns.sheet import Sampling

_NOISE_M3 = 1e-9


def sampling_check(rows: Sequence[DeliveryRow], sampling: Sampling, needed_count: int) -> SamplingCheck:
    """Samples of the accepted loads against the rule; the volume counts in the order of the file.

    With one sample for so many m³ each full stretch of that volume should have one begun in it: where one has none, it
    is named, though their number may be enough.
    """
    taken = tuple((row.sample_id, row.number) for row in rows if row.sample_id)
    if sampling.one_sample_per_load:
        rule = "one sample of each load"
        missing = tuple(f"load {row.number}" for row in rows if not row.sample_id)
    elif sampling.one_sample_per_m3 is not None:
        rule = f"one sample for each {sampling.one_sample_per_m3:g} m³"
        missing = _bare_stretches(rows, sampling.one_sample_per_m3)
    else:
        rule = "the sheet gives no frequency; one for the pour is our own rule"
        missing = () if taken or not rows else ("the whole pour",)
    return SamplingCheck(rule=rule, needed_count=needed_count, taken=taken, missing=missing)


def _bare_stretches(rows: Sequence[DeliveryRow], stretch_m3: float) -> tuple[str, ...]:
    """Full stretches of the accepted volume from which no load was sampled."""
    total = sum(row.volume_m3 for row in rows)
    bare = []
    for number in range(math.floor(total / stretch_m3 + _NOISE_M3)):
        low, high = number * stretch_m3, (number + 1) * stretch_m3
        volume, sampled = 0.0, False
        for row in rows:
            reaches = volume < high - _NOISE_M3 and volume + row.volume_m3 > low + _NOISE_M3
            sampled = sampled or (reaches and bool(row.sample_id))
            volume += row.volume_m3
        if not sampled:
            bare.append(f"m³ {low:g} to {high:g}")
    return tuple(bare)
