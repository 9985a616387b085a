"""The forecast in the nouns of the board."""

import math

import numpy as np

from wetfront.forecast.levels import Z95, Level
from wetfront.forecast.pour import Forecast
from wetfront.nouns.board import Band, ForecastView, Learned
from wetfront.nouns.plan import Moments
from wetfront.placing.core.library import core_name
from wetfront.placing.model import Floats, Lognormal
from wetfront.planning.model import set_factor
from wetfront.planning.steps import band, moments


def as_band(values: Floats) -> Band:
    """5 %, 50 % and 95 % of the members."""
    low, usual, high = band(values)
    return Band(low=low, usual=usual, high=high)


def forecast_view(forecast: Forecast) -> ForecastView:
    """What comes next, in figures."""
    by, outcome, way, record = forecast.by, forecast.outcome, forecast.way, forecast.record
    day = by.situation.day
    finishes = len(by.model.finishing.strip_min) > 0
    waiting = [load for load in record.loads if not load.is_out]
    seen = forecast.model.seen
    on_pump = 0 if seen is None else int((~np.isnan(seen.start_min) & np.isnan(seen.end_min)).sum())
    late = (outcome.end_of_pour_min > day.closes_min) | (outcome.loads_after_closing > 0)
    end = moments(day, outcome.end_of_pour_min)
    return ForecastView(
        members_count=outcome.count,
        end_of_placing=end,
        end_of_finishing=moments(day, outcome.finishing_end_min) if finishes else None,
        remaining_m3=as_band(way.remaining_m3),
        balance_load_m3=as_band(balance_m3(forecast)),
        call_next_by=None if (call := forecast.next_call_min) is None else day.moment(call),
        next_arrival=None if (comes := forecast.next_arrival_min) is None else moments(day, comes),
        on_road_count=0 if forecast.has_ended else forecast.coming.on_road_count,
        waiting_count=max(0, len(waiting) - on_pump),
        chance_of_cold_joint=float((outcome.cold_joint_area_m2 > 0).mean()),
        chance_over_specification=float((outcome.area_over_specification_m2 > 0).mean()),
        chance_out_of_hours=float(late.mean()),
        learned=learned(forecast),
        text=_text(forecast, end),
    )


def _text(forecast: Forecast, end: Moments) -> str:
    if forecast.has_ended:
        return f"placing has ended; {forecast.way.taken_m3:.1f} m³ by the tickets"
    left = as_band(forecast.way.remaining_m3)
    unknown = "" if forecast.way.plants_known else "; not every ticket names its plant: what is on the road is unknown"
    plain = "" if core_name() == "compiled" else "; fewer courses, since the compiled core is not built"
    return (
        f"{forecast.way.taken_m3:.1f} m³ placed, {left.low:.1f} to {left.high:.1f} m³ to come; end between "
        f"{end.early:%H:%M} and {end.late:%H:%M} in nine of ten of {forecast.outcome.count} courses{unknown}{plain}"
    )


def balance_m3(forecast: Forecast) -> Floats:
    """By member: size of the last load to call, by the call-off steps; 0 where no more is called."""
    supply, seen = forecast.model.supply, forecast.model.seen
    coming = 0.0
    if seen is not None:
        coming = float(seen.volume_m3[np.isnan(seen.end_min)].sum())
    missing = np.maximum(forecast.way.remaining_m3 - coming, 0.0)
    missing = np.where(missing < 1e-6, 0.0, missing)
    rest = missing - supply.load_m3 * np.floor(missing / supply.load_m3 - 1e-9).clip(min=0)
    step = supply.call_off_step_m3
    sized = np.ceil(rest / step - 1e-9) * step if step else np.full(len(rest), supply.load_m3)
    sized = np.clip(sized, supply.smallest_load_m3, supply.load_m3)
    return np.where(missing > 0, sized, 0.0)


def learned(forecast: Forecast) -> tuple[Learned, ...]:
    """What the day has taught: each quantity of a load as planned and as it looks now, and the wastage."""
    model, share = forecast.by.model, forecast.by.model.day_share
    plant = model.supply.plants[0]
    rate = float(np.average(model.cells.rate_m3_per_h, weights=model.cells.volume_m3))
    levels = forecast.way.levels
    found = [
        Learned(
            name=title,
            unit=unit,
            planned=_law(law, Level(), 0.0, by),
            now=_law(law, levels[name], share, by),
            seen_count=levels[name].seen_count,
        )
        for name, title, unit, law, by in (
            ("batching", "batching", "min", plant.batching_min, 1.0),
            ("haul", "road to the site", "min", plant.haul_min, 1.0),
            ("return", "way back to the plant", "min", plant.return_min, 1.0),
            ("speed", "placing rate", "m³/h", model.site.speed, rate),
        )
    ]
    found.append(_setting(forecast))
    mean, sd = model.site.wastage, model.site.wastage_sd
    now_mean, now_sd = forecast.way.wastage
    found.append(
        Learned(
            name="wastage",
            unit="%",
            planned=_normal(100 * mean, 100 * sd),
            now=_normal(100 * now_mean, 100 * now_sd),
            seen_count=len(forecast.record.measured),
        )
    )
    return tuple(found)


def _setting(forecast: Forecast) -> Learned:
    """Time to the initial set at 20 °C of a load whose temperature is known."""
    by, level, share = forecast.by, forecast.way.levels["set"], forecast.by.model.day_share
    usual_h = by.situation.mix.initial_set_at_20c_h * set_factor(by.situation, by.candidate)
    spread = by.clock.own_spread

    def band_of(level: Level, share: float) -> Band:
        mean, deviation = math.sqrt(share) * level.mean, math.sqrt(share * level.deviation**2 + 1 - share)
        low, usual, high = (usual_h * math.exp(-spread * (mean + z * deviation)) for z in (Z95, 0.0, -Z95))
        return Band(low=low, usual=usual, high=high)

    return Learned(
        name="initial set at 20 °C",
        unit="h",
        planned=band_of(Level(), 0.0),
        now=band_of(level, share),
        seen_count=level.seen_count,
    )


def _law(law: Lognormal, level: Level, share: float, by: float) -> Band:
    """A load's figure, its level as it is known: prediction for the next one."""
    variance = math.log1p(law.cv**2)
    mean = math.log(law.mean) - variance / 2 + math.sqrt(variance * share) * level.mean
    spread = math.sqrt(variance * (share * level.deviation**2 + 1 - share))
    low, usual, high = (by * math.exp(mean + z * spread) for z in (-Z95, 0.0, Z95))
    return Band(low=low, usual=usual, high=high)


def _normal(mean: float, deviation: float) -> Band:
    return Band(low=mean - Z95 * deviation, usual=mean, high=mean + Z95 * deviation)
