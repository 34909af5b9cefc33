"""What every weather source can do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, runtime_checkable

if TYPE_CHECKING:
    from datetime import datetime

    from alertd.weather import Finding, Forecast


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
