"""Thermometers near the trees: what they say is collected and kept."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

from alertd.core import SourceError
from alertd.sources import ThermometerFile, ThermometerServer
from alertd.weather import Observation

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import datetime

    from alertd.config import ObservationSpec
    from alertd.sources import NwsObservationSource, StationReport
    from alertd.store import Store

_logger = logging.getLogger(__name__)


class Thermometers:
    """Collects what thermometers say, and keeps it in the store.

    Parameters
    ----------
    spec : ObservationSpec
        Which ones there are.
    stations : NwsObservationSource or None
        Public ones near the site.
    store : Store
        Keeps observations.
    clock : callable
        Returns the present as aware UTC.
    """

    def __init__(
        self,
        spec: ObservationSpec,
        stations: NwsObservationSource | None,
        store: Store,
        clock: Callable[[], datetime],
    ) -> None:
        self._spec = spec
        self._file = _file(spec)
        self._server = None if spec.push is None else ThermometerServer(spec.push, store.keep_observations, clock)
        self._stations = stations
        self._store = store
        self._clock = clock
        self._trouble: dict[str, str] = {}

    @property
    def port(self) -> int | None:
        """The port at which devices hand over values, if any."""
        return None if self._server is None else self._server.port

    def use(self, spec: ObservationSpec, stations: NwsObservationSource | None) -> None:
        """Ask another file and other stations from the next round on.

        Parameters
        ----------
        spec : ObservationSpec
            Which ones there are; where devices hand over values stays as it was.
        stations : NwsObservationSource or None
            Public ones near the site.
        """
        if (spec.file, spec.station) != (self._spec.file, self._spec.station):
            self._file = _file(spec)
        self._spec = spec
        self._stations = stations

    def start(self) -> None:
        """Let devices hand over values from now on.

        Raises
        ------
        OSError
            If the address cannot be used.
        """
        if self._server is not None:
            self._server.start()

    def stop(self) -> None:
        """Take no more values."""
        if self._server is not None:
            self._server.stop()

    def collect(self) -> None:
        """Keep what is new in the file, and what public stations report.

        Raises
        ------
        StoreError
            If the store cannot be written.
        """
        now = self._clock()
        file, stations = self._file, self._stations
        if file is not None:
            try:
                for remark in file.collect(now, self._store.keep_observations):
                    _logger.warning("thermometer %s: %s", file.station, remark)
                self._say(file.station, "")
            except SourceError as error:
                self._say(file.station, str(error))
        if stations is not None:
            try:
                reports = stations.get(now)
                self._say(stations.name, "")
            except SourceError as error:
                self._say(stations.name, str(error))
            else:
                self._store.keep_observations([each for report in reports for each in _observations(report)], now)

    def _say(self, name: str, trouble: str) -> None:
        """Log a trouble when it begins or changes, and its end."""
        before = self._trouble.get(name, "")
        if trouble and trouble != before:
            _logger.warning("thermometer %s: %s", name, trouble)
        elif before and not trouble:
            _logger.info("thermometer %s: works again", name)
        self._trouble[name] = trouble


def _file(spec: ObservationSpec) -> ThermometerFile | None:
    return None if spec.file is None else ThermometerFile(spec.station, spec.file)


def _observations(report: StationReport) -> list[Observation]:
    """Return what a public station reports, at its own elevation."""
    air = report.measured.air_temperature
    if air is None:
        return []
    return [Observation(report.station.identifier, report.measured.time, air, report.retrieved)]
