"""Forecasts of the Norwegian Meteorological Institute (MET Norway) for any place on Earth."""

from .explain import explain_failure
from .parse import LocationForecast, parse_locationforecast
from .source import CREDITS, DEFAULT_BASE_URL, MetNorwaySource

__all__ = [
    "CREDITS",
    "DEFAULT_BASE_URL",
    "LocationForecast",
    "MetNorwaySource",
    "explain_failure",
    "parse_locationforecast",
]
