"""A pour that is under way: the plan's own model conditioned on the record, and what can be asked of it."""

from wetfront.forecast.advice import advice_of, surface_now
from wetfront.forecast.ask import compared
from wetfront.forecast.cells import PlacedCells
from wetfront.forecast.pour import Forecast, Forecaster, forecast_of, forecaster
from wetfront.forecast.stopping import joints_ahead
from wetfront.forecast.views import edge_views, finish_views, forecast_view

__all__ = [
    "Forecast",
    "Forecaster",
    "PlacedCells",
    "advice_of",
    "compared",
    "edge_views",
    "finish_views",
    "forecast_of",
    "forecast_view",
    "forecaster",
    "joints_ahead",
    "surface_now",
]
