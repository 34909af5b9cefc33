"""What a configuration comes to in a running daemon, and whether another can take its place."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.config import build_services, load
from alertd.core import ConfigurationError, Problem
from alertd.delivery import RelaySettings, judging_apart
from alertd.watch import Watch, readership

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from alertd.config import Loaded, Services
    from alertd.delivery import Channel
    from alertd.sources import Source
    from alertd.store import Store
    from alertd.watch import Readership

_RESTART = "put the old value back, or start alertd anew"


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A configuration with all that is made of it before anything runs.

    Parameters
    ----------
    loaded : Loaded
        The configuration.
    services : Services
        What is asked.
    watch : Watch
        What evaluates.
    """

    loaded: Loaded
    services: Services
    watch: Watch

    @property
    def readership(self) -> Readership:
        """Who reads, and by which channels."""
        return self.watch.readership

    @property
    def channels(self) -> dict[str, Channel]:
        """Ways to reach people, by name."""
        return {channel.name: channel for channel in self.loaded.channels}

    @property
    def others(self) -> dict[str, tuple[str, ...]]:
        """Every recipient with the names of the channels."""
        return {recipient.name: recipient.channels for recipient in self.loaded.recipients}

    @property
    def relay_settings(self) -> RelaySettings:
        """How hard to try."""
        delivery = self.loaded.delivery
        return RelaySettings(
            deadline=delivery.deadline,
            first_retry=delivery.first_retry,
            max_retry=delivery.max_retry,
            max_tries=delivery.max_tries,
            lasts=delivery.give_up_after,
        )


def arrange(
    loaded: Loaded, store: Store, sources: Sequence[Source] | None = None, before: Arrangement | None = None
) -> Arrangement:
    """Make all that a configuration needs; nothing is asked and nothing runs yet.

    Parameters
    ----------
    loaded : Loaded
        The configuration.
    store : Store
        What is remembered.
    sources : sequence of Source, optional
        In place of those that the configuration names.
    before : Arrangement, optional
        What runs; its services, which know when each host may be asked again, and its last good forecasts are kept
        if nothing about them has changed.

    Returns
    -------
    Arrangement
        Ready to take the place of another.
    """
    is_same = before is not None and _asked(loaded) == _asked(before.loaded)
    services = before.services if before is not None and is_same else build_services(loaded, store)
    asked = services.sources if sources is None else sources
    watch = Watch(loaded.garden, asked, readership(loaded), store)
    if before is not None and (is_same or sources is not None):
        watch.remember(before.watch)
    return Arrangement(loaded, services, watch)


def rearrange(
    before: Arrangement, environ: Mapping[str, str], store: Store, sources: Sequence[Source] | None = None
) -> Arrangement:
    """Read the configuration anew and make all that it needs, while what was made before goes on.

    Parameters
    ----------
    before : Arrangement
        What runs.
    environ : mapping of str to str
        The environment.
    store : Store
        What is remembered.
    sources : sequence of Source, optional
        In place of those that the configuration names.

    Returns
    -------
    Arrangement
        Ready to take the place of `before`.

    Raises
    ------
    ConfigurationError
        If the configuration cannot be used, or changes what cannot change while the daemon runs.
    """
    with judging_apart([channel.url for channel in before.loaded.channels]) as judge:
        loaded = load(before.loaded.path, environ, judge)
    problems = fixed_for_life(before.loaded, loaded)
    if problems:
        raise ConfigurationError(problems)
    return arrange(loaded, store, sources, before)


def fixed_for_life(running: Loaded, wanted: Loaded) -> list[Problem]:
    """Return what a configuration changes that cannot change while the daemon runs.

    The database holds the alerts and letters that must not be lost, and an address at which devices are heard can
    be in use by somebody else, which is only known once the old one has been given up.

    Parameters
    ----------
    running, wanted : Loaded
        The configuration in use, and the one to take its place.

    Returns
    -------
    list of Problem
        Empty if it can take its place.
    """
    problems = []
    if wanted.database != running.database:
        what = f"the database is {running.database} and cannot change while alertd runs"
        problems.append(Problem("state.database", what, _RESTART))
    if wanted.observations.push != running.observations.push:
        what = "the address and token of devices cannot change while alertd runs"
        problems.append(Problem("observations.push", what, _RESTART))
    return problems


def digest(path: Path) -> str | None:
    """Return the SHA-256 of the configuration file; it may have been taken away since it was read."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return None


def _asked(loaded: Loaded) -> tuple[object, ...]:
    """Return all of a configuration that services are made of."""
    polling = loaded.polling
    return (
        loaded.sources,
        loaded.garden.site,
        polling.request_deadline,
        polling.proxies_from_environment,
        loaded.observations.nearest_stations,
    )
