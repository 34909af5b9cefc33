"""Weather on a time axis: types, files, quality, uncertainty."""

from .binding import bind_minima, unbound_minima
from .coverage import longest_gap, usable_times
from .csv_format import WeatherTable, parse_weather_csv, weather_csv_columns
from .csv_writer import write_forecast_archive_csv, write_weather_csv
from .dressing import DRESSED_REALIZATIONS, ERROR_BY_LEAD_TIME, default_error, dress, dress_forecast
from .finding import Check, Finding
from .freeze_dates import FreezeDates, freeze_dates
from .hourly import at_hours, forecast_with_hours, hourly_axis, own_step, with_hours
from .lapse import STANDARD_LAPSE_RATE, at_elevation, minima_at_elevation
from .lead_times import forecasts_by_lead_day
from .merge import Merged, merge, realization_counts
from .observation import LONGEST_KEPT, Observation, Observed, observed_weather
from .past import KEPT_AHEAD, PAST_LENGTH, kept_text, parse_kept, past_weather, weather_to_keep
from .public_warning import PublicWarning
from .quality import PHYSICAL_RANGE, QualityReport, check_quality
from .quality_settings import QualitySettings
from .series import CANONICAL_UNITS, Forecast, PeriodMinimum, Series
from .soil import SoilTemperatures
from .units import UNITS, Conversion
from .winters import Winter, winters

__all__ = [
    "CANONICAL_UNITS",
    "DRESSED_REALIZATIONS",
    "ERROR_BY_LEAD_TIME",
    "KEPT_AHEAD",
    "LONGEST_KEPT",
    "PAST_LENGTH",
    "PHYSICAL_RANGE",
    "STANDARD_LAPSE_RATE",
    "UNITS",
    "Check",
    "Conversion",
    "Finding",
    "Forecast",
    "FreezeDates",
    "Merged",
    "Observation",
    "Observed",
    "PeriodMinimum",
    "PublicWarning",
    "QualityReport",
    "QualitySettings",
    "Series",
    "SoilTemperatures",
    "WeatherTable",
    "Winter",
    "at_elevation",
    "at_hours",
    "bind_minima",
    "check_quality",
    "default_error",
    "dress",
    "dress_forecast",
    "forecast_with_hours",
    "forecasts_by_lead_day",
    "freeze_dates",
    "hourly_axis",
    "kept_text",
    "longest_gap",
    "merge",
    "minima_at_elevation",
    "observed_weather",
    "own_step",
    "parse_kept",
    "parse_weather_csv",
    "past_weather",
    "realization_counts",
    "unbound_minima",
    "usable_times",
    "weather_csv_columns",
    "weather_to_keep",
    "winters",
    "with_hours",
    "write_forecast_archive_csv",
    "write_weather_csv",
]
