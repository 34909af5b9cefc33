"""Weather on a time axis: types, files, quality, uncertainty."""

from .series import CANONICAL_UNITS, Forecast, Series

__all__ = ["CANONICAL_UNITS", "Forecast", "Series"]
