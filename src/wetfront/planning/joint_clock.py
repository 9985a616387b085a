"""When placed concrete can no longer be joined, by its own temperature and age: the planner's clock, read backwards."""

import math
from dataclasses import dataclass, field

import numpy as np

from wetfront.hydration.setting import HALVING_K, maturity_rate
from wetfront.placing.model import Concrete, FinishingWork, Floats
from wetfront.planning.candidate import Candidate
from wetfront.planning.model import FINISH_OPENS_AT, concrete, pour_model
from wetfront.planning.situation import Situation
from wetfront.planning.thermal import CLOCK_TIMES_MIN, clock_at_fresh, fresh_temperature_c, own_spread

Z = (1.6448536269514722, 0.0, -1.6448536269514722)
"""Quick, usual and slow setting: 5 %, 50 % and 95 % of the moments."""


@dataclass(frozen=True, slots=True, eq=False)
class JointClock:
    """The clock of one pour. Minutes count from local midnight of the pour's day."""

    situation: Situation
    concrete: Concrete
    finishing: FinishingWork
    expected_c: float
    """Concrete when it is placed, as planned."""
    tables_cache: dict[float, Floats] = field(default_factory=dict, repr=False)

    @property
    def own_spread(self) -> float:
        """Spread of the setting of concrete whose temperature is known: standard deviation of its logarithm."""
        return own_spread(self.situation)

    @property
    def bleed_share(self) -> float:
        """Of the final set on the finishers' cautious clock, bleeding is over at this: half of the initial set (own
        rule, `FINISH_OPENS_AT`)."""
        mix = self.situation.mix
        return mix.initial_set_at_20c_h / mix.final_set_at_20c_h * FINISH_OPENS_AT["hand-floated"]

    @property
    def bleed_clock_min(self) -> float:
        """What that clock shows when bleeding is over."""
        return self.finishing.latest_clock_min * self.bleed_share

    def reached_min(
        self, clock_min: float, placed_min: Floats, batched_min: float, fresh_c: float | None
    ) -> tuple[Floats, Floats, Floats]:
        """When cells placed then show `clock_min` on their clocks: early, usual, late; infinite beyond the forecast.

        `fresh_c`: as measured; None where nobody did, then the planned temperature with its spread holds.
        """
        known = fresh_c if fresh_c is not None else self.expected_c
        table = self._table(known)
        times = CLOCK_TIMES_MIN
        at_placing = np.interp(placed_min, times, table)
        age = self._rate(known) * np.maximum(placed_min - batched_min, 0.0)
        spread = self.own_spread if fresh_c is not None else self.concrete.set_factor_sd
        found = []
        for z in Z:
            still = np.maximum(clock_min / math.exp(z * spread) - age, 0.0)
            when = np.interp(at_placing + still, table, times)
            found.append(np.where(at_placing + still > table[-1], np.inf, np.maximum(when, placed_min)))
        return found[0], found[1], found[2]

    def join_until_min(
        self, placed_min: Floats, batched_min: float, fresh_c: float | None
    ) -> tuple[Floats, Floats, Floats]:
        """The last moment for joining, 30 min before the initial set kept: early, usual, late."""
        return self.reached_min(self.concrete.set_limit_min, placed_min, batched_min, fresh_c)

    def chance_set(self, at_min: float, placed_min: float, batched_min: float, fresh_c: float | None) -> float:
        """Probability that this concrete can no longer be joined at that moment."""
        shown = self.shown_min(at_min, placed_min, batched_min, fresh_c)
        if shown <= 0:
            return 0.0
        spread = self.own_spread if fresh_c is not None else self.concrete.set_factor_sd
        if spread <= 0:
            return 1.0 if shown > self.concrete.set_limit_min else 0.0
        return 0.5 * math.erfc(math.log(self.concrete.set_limit_min / shown) / spread / math.sqrt(2.0))

    def shown_min(self, at_min: float, placed_min: float, batched_min: float, fresh_c: float | None) -> float:
        """What the clock of this concrete usually shows at that moment."""
        known = fresh_c if fresh_c is not None else self.expected_c
        table = self._table(known)
        passed = np.diff(np.interp(np.array([placed_min, at_min]), CLOCK_TIMES_MIN, table))[0]
        return float(passed) + self._rate(known) * max(placed_min - batched_min, 0.0)

    def _table(self, fresh_c: float) -> Floats:
        if fresh_c not in self.tables_cache:
            self.tables_cache[fresh_c] = clock_at_fresh(self.situation, fresh_c)
        return self.tables_cache[fresh_c]

    def _rate(self, fresh_c: float) -> float:
        energy = self.situation.mix.activation_energy_j_per_mol
        return max(float(maturity_rate(fresh_c, energy)), float(2.0 ** ((fresh_c - 20.0) / HALVING_K)))


def joint_clock(situation: Situation, candidate: Candidate) -> JointClock:
    """The clock of a decision."""
    return JointClock(
        situation=situation,
        concrete=concrete(situation, candidate),
        finishing=pour_model(situation, candidate).finishing,
        expected_c=fresh_temperature_c(situation, candidate),
    )
