"""What every weather source can do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, runtime_checkable

if TYPE_CHECKING:
    from datetime import date, datetime

    from alertd.weather import Finding, Forecast, Series


@runtime_checkable
class Source(Protocol):
    """Something that gives forecasts."""

    @property
    def name(self) -> str:
        """Name of the source, as in the configuration."""
        ...

    def get(self, now: datetime) -> tuple[Forecast, tuple[Finding, ...]]:
        """Return the latest forecast that was made at or before an instant.

        Parameters
        ----------
        now : datetime
            Aware.

        Returns
        -------
        tuple of (Forecast, tuple of Finding)
            The forecast without values that cannot be true, and what quality control found.

        Raises
        ------
        SourceUnavailable
            If the source could not be reached or read, or has nothing yet.
        SourceMalformed
            If its answer cannot be trusted.
        """
        ...


@runtime_checkable
class PastSource(Protocol):
    """A source that can be asked what the weather of the last days was."""

    @property
    def name(self) -> str:
        """Name of the source, as in the configuration."""
        ...

    def days_before(self, first: date, now: datetime) -> Series:
        """Return the weather from a day on.

        Parameters
        ----------
        first : date
            Day in UTC.
        now : datetime
            Aware.

        Returns
        -------
        Series
            Of one realization, up to the present hour or beyond.

        Raises
        ------
        SourceUnavailable
            If the source could not be reached or read.
        SourceMalformed
            If its answer cannot be trusted.
        """
        ...
