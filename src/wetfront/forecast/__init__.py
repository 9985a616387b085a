"""A pour that is under way: the plan's own model conditioned on the record, and what can be asked of it."""

from wetfront.forecast.ask import HOSE, compared
from wetfront.forecast.cells import PlacedCells
from wetfront.forecast.coming import Coming
from wetfront.forecast.edges import NOTHING, CellsAhead, EdgeAhead, Standing, StripAhead, standing
from wetfront.forecast.pour import Forecast, Forecaster, forecast_of, forecaster
from wetfront.forecast.stopping import joints_ahead
from wetfront.forecast.views import forecast_view

__all__ = [
    "HOSE",
    "NOTHING",
    "CellsAhead",
    "Coming",
    "EdgeAhead",
    "Forecast",
    "Forecaster",
    "PlacedCells",
    "Standing",
    "StripAhead",
    "compared",
    "forecast_of",
    "forecast_view",
    "forecaster",
    "joints_ahead",
    "standing",
]
