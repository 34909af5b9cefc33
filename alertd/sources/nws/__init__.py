"""The US National Weather Service: forecasts of a grid, observations of stations, warnings."""

from .alerts import NwsAlert, NwsAlerts, NwsAlertSource, parse_alerts
from .gridpoint import GridForecast, parse_gridpoint
from .hourly import parse_hourly
from .observations import Measured, NwsObservationSource, StationReport, parse_observation
from .points import GridCell, Mapping, PointSource, parse_points
from .problems import explain
from .source import NwsSource
from .stations import Station, parse_stations
from .warned import WarnedSource

__all__ = [
    "GridCell",
    "GridForecast",
    "Mapping",
    "Measured",
    "NwsAlert",
    "NwsAlertSource",
    "NwsAlerts",
    "NwsObservationSource",
    "NwsSource",
    "PointSource",
    "Station",
    "StationReport",
    "WarnedSource",
    "explain",
    "parse_alerts",
    "parse_gridpoint",
    "parse_hourly",
    "parse_observation",
    "parse_points",
    "parse_stations",
]
