"""Point forecasts (MOSMIX) of the German weather service (Deutscher Wetterdienst) for one of its stations."""

from .archive import read_kml
from .explain import explain_failure
from .parse import StationForecast, parse_station_forecast
from .source import CREDITS, DEFAULT_BASE_URL, LARGEST_DISTANCE, MosmixSource

__all__ = [
    "CREDITS",
    "DEFAULT_BASE_URL",
    "LARGEST_DISTANCE",
    "MosmixSource",
    "StationForecast",
    "explain_failure",
    "parse_station_forecast",
    "read_kml",
]
