"""A site mixer as a supply of the one placing model.

A drum is charged, mixes, and is emptied into barrows, dumpers or skips that carry the concrete to the work and come
back. In the model each drum is a plant with no way to go, a batch is a load, and the carriers are the pump: the rate at
which they carry is the rate of the discharge. Rules, all our own:

- Carriers that together hold less than a batch empty the drum at their own pace: it is held until its last concrete is
  taken (one batch a drum).
- Carriers that hold whole batches free the drum when its cycle ends, and each batch that they hold waits in them (one
  batch more, never more than there are drums).
- The way to the work costs no rate, since it is in the carriers' round. It makes the concrete older: limits of age and
  setting are shortened by it.
"""

import math
from dataclasses import dataclass

from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.site import SiteMixer
from wetfront.rules import rule

AGE_RULE = ("en", "delivery-time-not-agitated")
"""Book and rule of the age limit where the sheet gives none."""
OWN_AGE = Source("the project's own age limit", Provenance.INPUT)


@dataclass(frozen=True, slots=True)
class MixerSupply:
    """The figures by which a site mixer enters the placing model."""

    drum_min: float
    """In which a drum is not free, without the emptying where the carriers set its pace."""
    batches_under_way: int
    """In drums and carriers together."""
    carrying_rate_m3_per_h: float
    mixing_rate_m3_per_h: float
    """Of all drums, when nothing waits."""


def mixer_supply(mixer: SiteMixer, batch_m3: float) -> MixerSupply:
    """What drums and carriers give with batches of this size."""
    held = mixer.carriers_count * mixer.carrier_m3
    carried = math.floor(held / batch_m3 + 1e-9)
    carrying = min(held / mixer.round_min, batch_m3 * mixer.mixers_count / mixer.emptying_min) * 60
    return MixerSupply(
        drum_min=mixer.cycle_min - (0.0 if carried else mixer.emptying_min),
        batches_under_way=mixer.mixers_count + min(mixer.mixers_count, carried),
        carrying_rate_m3_per_h=carrying,
        mixing_rate_m3_per_h=mixer.mixers_count * batch_m3 / mixer.cycle_min * 60,
    )


def age_limit(mixer: SiteMixer) -> tuple[float, Source]:
    """Minutes from charging the drum until the concrete is placed, and whose limit that is."""
    own = mixer.longest_mixing_to_placed_min
    if own is not None:
        return own, OWN_AGE
    found = rule(*AGE_RULE)
    if found.high is None:
        raise ValueError(f"{found.name} gives no longest time")
    return found.high, found.cited
