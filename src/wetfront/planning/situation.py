"""One pour with all that holds for every candidate: day, weather, quantities, plant, forms, limits of the rate."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from wetfront.errors import InvalidInput
from wetfront.materials.admixture_classes import with_proposal
from wetfront.nouns.element import Element
from wetfront.nouns.mix import Mix, MixOption
from wetfront.nouns.sheet import Pour, PourSheet
from wetfront.nouns.site import Plant, Pump
from wetfront.planning.candidate import Candidate, Means, OrderChoice, Pattern
from wetfront.planning.day import Day, DayWeather
from wetfront.planning.form_pressure import Form, FormLimit, form_limit, form_of
from wetfront.planning.gangs import CREW, GangBlock, gang_blocks
from wetfront.takeoff.geometry import footprint, on_site
from wetfront.takeoff.lattice import lattice_of
from wetfront.takeoff.order import rounded_up_to_step
from wetfront.takeoff.shapes import TakeOff, take_off

COLD_QUANTILE = 1.645
"""Form pressure is checked with concrete as cold as 5 % of the loads (own rule)."""
COLD_WEATHERS = 0.05
"""Where weathers are drawn, on a morning as cold as in this share of them (own rule)."""
LAYERS_FOR_PRESSURE_MM = 500.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Volumes:
    """What one pour takes, line by line [m³]; known without any weather."""

    quantities: TakeOff
    wastage_m3: float
    """Mean."""
    wastage_spread_m3: float
    """Standard deviation."""
    extra_m3: float
    """This pour's part of the sheet's measured extras."""
    priming_m3: float
    lost_line_m3: float
    """Content of line and hopper, where it does not go into the work."""
    rounding_step_m3: float

    @property
    def net_m3(self) -> float:
        """By drawing."""
        return self.quantities.volume_m3

    @property
    def gross_m3(self) -> float:
        """What is to be ordered, before rounding."""
        return self.net_m3 + self.wastage_m3 + self.extra_m3 + self.priming_m3 + self.lost_line_m3

    @property
    def order_m3(self) -> float:
        """Rounded up to the call-off step of the plant."""
        return rounded_up_to_step(round(self.gross_m3, 9), self.rounding_step_m3)

    def loads_count(self, load_m3: float) -> int:
        """Loads of the order, the last one perhaps a part load."""
        return max(1, math.ceil(self.order_m3 / load_m3 - 1e-9))

    def with_pumps(self, count: int) -> "Volumes":
        """The same with so many pumps: each is primed and loses what is left in its line."""
        return replace(self, priming_m3=self.priming_m3 * count, lost_line_m3=self.lost_line_m3 * count)


def volumes_of(sheet: PourSheet, pour: Pour) -> Volumes:
    """Take-off, wastage and what pump and line take."""
    quantities, pump, allowance = take_off(pour_elements(sheet, pour)), pump_of(sheet, pour), sheet.allowance
    return Volumes(
        quantities=quantities,
        wastage_m3=quantities.volume_m3 * allowance.wastage_percent / 100,
        wastage_spread_m3=quantities.volume_m3 * allowance.wastage_spread_percent / 100,
        extra_m3=extra_of_pour(sheet, quantities.volume_m3),
        priming_m3=pump.priming_m3,
        lost_line_m3=pump.line_and_hopper_content_m3 if allowance.line_content_lost else 0.0,
        rounding_step_m3=allowance.rounding_step_m3,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """Fixed for one pour. Frozen and free of open handles, so that it can be sent to a worker."""

    sheet: PourSheet
    pour: Pour
    elements: tuple[Element, ...]
    outlines: Mapping[str, tuple[tuple[tuple[float, float], ...], ...]]
    """Plan outlines on site by element; elements without a place are missing."""
    distance_m: Mapping[str, float]
    """From the pump to the farthest corner of each element; 0 where its place is not given."""
    day: Day
    weather: DayWeather
    mix: Mix
    pump: Pump
    main_plants: tuple[Plant, ...]
    volumes: Volumes
    forms: tuple[tuple[Form, float], ...]
    """Forms whose pressure is checked, with the smallest plan area of a level."""
    mix_options: tuple[str, ...]
    split_at: str = ""
    """The agreed joint at which a larger pour was split: this is one of its two parts."""
    limits_cache: dict[str, tuple[FormLimit, ...]] = field(default_factory=dict, compare=False, repr=False)
    gangs_cache: dict[str, tuple[GangBlock, ...]] = field(default_factory=dict, compare=False, repr=False)

    @property
    def net_m3(self) -> float:
        """By drawing."""
        return self.volumes.net_m3

    @property
    def extra_m3(self) -> float:
        """This pour's part of the sheet's measured extras."""
        return self.volumes.extra_m3

    @property
    def lost_line_m3(self) -> float:
        """Content of line and hopper, where it does not go into the work."""
        return self.volumes.lost_line_m3

    @property
    def gross_m3(self) -> float:
        """What is to be ordered, before rounding."""
        return self.volumes.gross_m3

    @property
    def order_m3(self) -> float:
        """Rounded up to the call-off step of the plant."""
        return self.volumes.order_m3

    def loads_count(self, load_m3: float) -> int:
        """Loads of the order, the last one perhaps a part load."""
        return self.volumes.loads_count(load_m3)

    @property
    def usual_haul_min(self) -> float:
        """Usual trip from the first main plant."""
        return self.main_plants[0].travel_loaded_min.usual

    @property
    def lead_min(self) -> float:
        """From the first batching to the first concrete, as usual."""
        plant = self.main_plants[0]
        return plant.batching_min + plant.travel_loaded_min.usual + self.sheet.trucks.position_and_check_min

    @property
    def round_trip_min(self) -> float:
        """Without the discharge."""
        return self.lead_min + self.sheet.trucks.washout_min + self.main_plants[0].return_min

    @property
    def planned_start_min(self) -> float | None:
        """What the site has pencilled in."""
        planned = self.pour.planned_start_local
        return None if planned is None else self.day.in_hours(planned)

    @property
    def start_between_min(self) -> tuple[float, float]:
        """Hours, plant opening, noise of placing and the sheet's own choice. Never before the hours open."""
        # No truck comes in before the hours open, and it takes its time to get into place.
        low = self.day.opens_min + self.sheet.trucks.position_and_check_min
        low = max(low, self.day.wall(self.main_plants[0].opens_local) + self.lead_min)
        low = max(low, self.quiet_until(low))
        high = self.day.closes_min
        chosen = self.sheet.choices.start_between_local
        if chosen is not None:
            low, high = max(low, self.day.in_hours(chosen[0])), min(high, self.day.in_hours(chosen[1]))
        return low, max(low, high)

    def quiet_until(self, low: float) -> float:
        """End of the limits in the morning that placing would break."""
        level = self.level_db("placing")
        if level is None:
            return low
        broken = [
            end for start, end, limit in self.day.noise if start <= low < end <= self.day.closes_min and limit < level
        ]
        return max(broken, default=low)

    def level_db(self, activity: str) -> float | None:
        """Level of an activity at the neighbour's face, if the sheet gives one."""
        levels = [source.level_db for source in self.sheet.noise_source if source.activity == activity]
        return max(levels, default=None)

    def option(self, name: str) -> MixOption | None:
        """An option of the mix by its id; None for the mix as it is."""
        return next((option for option in self.mix.option if option.id == name), None)

    def plant_temperature_c(self, option_id: str, cooler_by_c: float = 0.0) -> float:
        """Mean concrete temperature when loading."""
        option = self.option(option_id)
        return self.mix.temperature_at_plant_c - cooler_by_c - (option.cooler_by_c if option else 0.0)

    def lowest_concrete_c(self, option_id: str, cooler_by_c: float = 0.0) -> float:
        """For form pressure: a load as cold as 5 % of them, or the air on the morning where that is colder still."""
        plant = self.plant_temperature_c(option_id, cooler_by_c) - COLD_QUANTILE * self.mix.temperature_spread_c
        hours = (self.weather.minutes >= self.day.opens_min) & (self.weather.minutes <= self.day.closes_min)
        coldest = float(self.weather.air_c[hours].min())
        if self.weather.drawn is not None:
            weathers = self.weather.drawn.members.air_c[:, hours].min(axis=1)
            coldest = min(coldest, float(np.quantile(weathers, COLD_WEATHERS)))
        # On the way a drum takes a quarter of the difference in an hour (ACI 306R, from memory).
        on_the_way = 0.25 * (self.usual_haul_min + 30.0) / 60.0
        return plant + on_the_way * min(0.0, coldest - plant)

    def form_limits(self, option_id: str = "", cooler_by_c: float = 0.0) -> tuple[FormLimit, ...]:
        """What each form permits with this concrete; empty where the sheet gives no formwork figures."""
        return self.form_limits_at(option_id, self.lowest_concrete_c(option_id, cooler_by_c))

    def form_limits_at(self, option_id: str, lowest_c: float) -> tuple[FormLimit, ...]:
        """What each form permits with concrete as cold as that."""
        if self.sheet.formwork is None:
            return ()
        key = f"{option_id}|{lowest_c}"
        if key not in self.limits_cache:
            self.limits_cache[key] = tuple(
                form_limit(
                    form,
                    self.sheet.formwork,
                    self.sheet.specification,
                    self.mix,
                    self.option(option_id),
                    lowest_c,
                    area,
                )
                for form, area in self.forms
            )
        return self.limits_cache[key]

    def gang_blocks(self, gang: str) -> tuple[GangBlock, ...]:
        """A gang of the sheet by the hour."""
        if gang not in self.gangs_cache:
            self.gangs_cache[gang] = gang_blocks(self.sheet, self.day, gang)
        return self.gangs_cache[gang]

    @property
    def own_means(self) -> Means:
        """What the sheet fixes where it opens nothing: the mix as it is, one pump, the pour's vibrators, the gang."""
        return Means(vibrators_count=self.vibrators_count)

    def rate_caps(self, means: Means | None = None) -> tuple[tuple[str, float], ...]:
        """Who allows which placing rate [m³/h], lowest first; of a gang that changes by the hour its best one."""
        means = means or self.own_means
        who = f"pump {self.pump.id}" if self.sheet.site_mixer is None else f"carrying by {self.pump.kind}"
        who = who if means.pumps_count == 1 else f"{who} × {means.pumps_count}"
        caps = [(who, self.pump.planned_output_m3_per_h * means.pumps_count)]
        best = max(block.capacity_m3_per_h for block in self.gang_blocks(means.gang))
        if best < math.inf:
            caps.append(("placing gang" if means.gang == CREW else f"placing gang {means.gang}", best))
        vibration = self.vibration_rate_m3_per_h(means.vibrators_count)
        if vibration is not None:
            caps.append(("vibrators", vibration))
        in_forms = self.form_rates(means.mix_option, means.cooler_by_c)
        limits = self.form_limits(means.mix_option, means.cooler_by_c)
        closed = [limit for limit in limits if in_forms.get(limit.element) == 0]
        caps += [(f"rise in {limit.element} by {limit.governs}", 0.0) for limit in closed]
        if in_forms and not closed and len(in_forms) == len(self.elements):
            # Nothing but forms: the pour goes as fast as the widest one permits, each form no faster than its own rise.
            widest = max(in_forms, key=lambda name: (in_forms[name], name))
            by = next(limit.governs for limit in limits if limit.element == widest)
            caps.append((f"rise in {widest} by {by}", in_forms[widest]))
        return tuple(sorted(caps, key=lambda cap: (cap[1], cap[0])))

    def form_rates(self, option_id: str = "", cooler_by_c: float = 0.0) -> dict[str, float]:
        """Highest rate in each form that limits it [m³/h]: permitted rise, cut to 0.05 m/h, on its least plan area."""
        return {
            limit.element: math.floor(20 * limit.highest_rise_m_per_h + 1e-9) / 20 * limit.least_plan_area_m2
            for limit in self.form_limits(option_id, cooler_by_c)
            if limit.highest_rise_m_per_h is not None
        }

    def highest_rate(self, means: Means | None = None) -> tuple[float, str]:
        """Highest placing rate and who limits it."""
        name, rate = self.rate_caps(means)[0]
        return rate, name

    def vibration_rate_m3_per_h(self, vibrators_count: int | None = None) -> float | None:
        """What the working vibrators compact, the strongest first; None where the sheet names none."""
        rates = sorted(
            (vibrator.rate_m3_per_h for vibrator in self.sheet.vibrator for _ in range(vibrator.count_working)),
            reverse=True,
        )
        if not rates:
            return None
        count = self.vibrators_count if vibrators_count is None else vibrators_count
        if count > len(rates):
            rates += [rates[0]] * (count - len(rates))
        return sum(rates[:count])

    @property
    def vibrators_count(self) -> int:
        """Working in this pour."""
        there = sum(vibrator.count_working for vibrator in self.sheet.vibrator)
        return self.pour.vibrators_count or there

    def candidate(
        self,
        order: OrderChoice,
        start_min: float,
        interval_min: float,
        trucks_count: int,
        load_m3: float,
        rate_m3_per_h: float,
        means: Means | None = None,
        pattern: Pattern = "constant",
    ) -> Candidate:
        """A candidate with this sheet's plants."""
        means = means or self.own_means
        return Candidate(
            start_min=start_min,
            interval_min=interval_min,
            trucks_count=trucks_count,
            load_m3=load_m3,
            rate_m3_per_h=rate_m3_per_h,
            vibrators_count=means.vibrators_count,
            order=order,
            mix_option=means.mix_option,
            plants=tuple(plant.id for plant in self.main_plants),
            pattern=pattern,
            pumps_count=means.pumps_count,
            gang=means.gang,
            cooler_by_c=means.cooler_by_c,
        )


def pour_elements(sheet: PourSheet, pour: Pour) -> tuple[Element, ...]:
    """The elements of one pour in the sheet's order."""
    return tuple(element for element in sheet.element if element.id in pour.elements)


def pump_of(sheet: PourSheet, pour: Pour) -> Pump:
    """The pump that this pour names."""
    return next(pump for pump in sheet.pump if pump.id == pour.pump)


def main_plants(sheet: PourSheet, mix: str) -> tuple[Plant, ...]:
    """Plants that supply this mix without being a reserve; the reserves where there is no other."""
    approved = [plant for plant in sheet.plant if not plant.mixes or mix in plant.mixes]
    if not approved:
        raise InvalidInput("mix", f"mix {mix} is approved at no plant of the sheet")
    return tuple(plant for plant in approved if not plant.standby) or tuple(approved)


def extra_of_pour(sheet: PourSheet, net_m3: float) -> float:
    """A sheet's extras shared over its pours by net volume: they stand once for the whole sheet."""
    if not sheet.allowance.extra_m3:
        return 0.0
    whole = sum(take_off(pour_elements(sheet, pour)).volume_m3 for pour in sheet.pour)
    return sheet.allowance.extra_m3 * net_m3 / whole


def outlines_of(elements: Sequence[Element]) -> dict[str, tuple[tuple[tuple[float, float], ...], ...]]:
    """Outer plan outlines on site of the elements that have a place."""
    found = {}
    for element in elements:
        if element.at_m is None:
            continue
        shape: Any = on_site(element, footprint(element))
        parts = list(shape.geoms) if hasattr(shape, "geoms") else [shape]
        found[element.id] = tuple(tuple((float(x), float(y)) for x, y in part.exterior.coords[:-1]) for part in parts)
    return found


def _with_proposals(mix: Mix) -> Mix:
    """The mix with the set-time factors that are proposed for options of which only the admixture's class is told."""
    return replace(mix, option=tuple(with_proposal(option, mix) for option in mix.option))


def situation_of(sheet: PourSheet, pour: Pour, day: Day, weather: DayWeather) -> Situation:
    """Everything that holds for all candidates of one pour on one day."""
    elements = pour_elements(sheet, pour)
    pump, mix = pump_of(sheet, pour), _with_proposals(sheet.mix[pour.mix])
    outlines = outlines_of(elements)
    distance = {
        element.id: max(
            (math.dist(pump.position_m, point) for outline in outlines.get(element.id, ()) for point in outline),
            default=0.0,
        )
        for element in elements
    }
    return Situation(
        sheet=sheet,
        pour=pour,
        elements=elements,
        outlines=outlines,
        distance_m=distance,
        day=day,
        weather=weather,
        mix=mix,
        pump=pump,
        main_plants=main_plants(sheet, pour.mix),
        volumes=volumes_of(sheet, pour),
        forms=tuple(_forms(elements)) if sheet.formwork is not None else (),
        mix_options=("", *(option.id for option in mix.option)),
    )


def _forms(elements: Sequence[Element]) -> list[tuple[Form, float]]:
    """Forms with the smallest plan area of any level: there the concrete rises fastest."""
    found = []
    for element in elements:
        form = form_of(element)
        if form is None:
            continue
        one = replace(element, count=1)  # several alike are filled one after the other, not all at once
        cells = lattice_of([one], cell_size_m=1.0, layer_mm=LAYERS_FOR_PRESSURE_MM)
        area = np.bincount(cells.layer, weights=cells.plan_area_m2)
        found.append((form, float(area.min())))
    return found
