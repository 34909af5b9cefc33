"""What a configuration comes to once it is checked."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import time
    from pathlib import Path

    from alertd.alerts import Garden
    from alertd.delivery import Channel
    from alertd.site import QuietHours
    from alertd.sources import PushSettings
    from alertd.store import Retention


@dataclass(frozen=True, slots=True)
class Recipient:
    """Somebody who is told.

    Parameters
    ----------
    name : str
        Unique.
    channels : tuple of str
        Names of channels in order: the next is used when one fails.
    groups : tuple of str
        Ids of the groups that the person is told about, in the order of the garden.
    quiet_hours : QuietHours or None
        In which messages wait that can.
    digest : datetime.time or None
        Local time of day of the daily digest.
    digest_when_calm : bool
        Whether the digest comes on days without any open matter, too.
    escalates_to : str
        Name of the recipient who is told when this one does not answer; ``""`` for nobody.
    """

    name: str
    channels: tuple[str, ...]
    groups: tuple[str, ...]
    quiet_hours: QuietHours | None = None
    digest: time | None = None
    digest_when_calm: bool = True
    escalates_to: str = ""


@dataclass(frozen=True, slots=True)
class SourceSpec:
    """A source of forecasts as the configuration has it.

    Parameters
    ----------
    name : str
        Unique.
    kind : str
        One of the kinds of the configuration.
    weight : float
        Among the other sources.
    path : Path or None
        Of a file, absolute.
    credits : str or None
        In place of the kind's own.
    base_url, status_url : str or None
        In place of the public addresses.
    model : str or None
        Of Open-Meteo.
    days : int or None
        How far ahead Open-Meteo is asked.
    non_commercial : bool
        Whether the use is non-commercial.
    api_key : str or None
        Key of a paid service; not shown.
    station : str or None
        Of MOSMIX.
    """

    name: str
    kind: str
    weight: float = 1.0
    path: Path | None = None
    credits: str | None = None
    base_url: str | None = None
    status_url: str | None = None
    model: str | None = None
    days: int | None = None
    non_commercial: bool = False
    api_key: str | None = field(default=None, repr=False)
    station: str | None = None


@dataclass(frozen=True, slots=True)
class ObservationSpec:
    """Thermometers as the configuration has them.

    Parameters
    ----------
    file : Path or None
        Weather CSV that one thermometer writes on, absolute.
    station : str
        Name of that thermometer.
    push : PushSettings or None
        Where devices hand over values.
    nearest_stations : bool
        Whether public stations are asked.
    """

    file: Path | None = None
    station: str = "thermometer"
    push: PushSettings | None = None
    nearest_stations: bool = False


@dataclass(frozen=True, slots=True)
class Polling:
    """How often sources are asked.

    Parameters
    ----------
    every : timedelta
        Pause between two looks.
    stale_after : timedelta
        A forecast older than this by its own reference time is not trusted; also in `Garden`.
    request_deadline : timedelta
        How long one request to a service may take.
    proxies_from_environment : bool
        Whether proxies that the environment names are used.
    non_commercial : bool
        Whether the use is said to be non-commercial.
    """

    every: timedelta
    stale_after: timedelta
    request_deadline: timedelta = timedelta(seconds=20)
    proxies_from_environment: bool = False
    non_commercial: bool = False


@dataclass(frozen=True, slots=True)
class DeliverySettings:
    """How hard messages are tried.

    Parameters
    ----------
    deadline : timedelta
        How long one send may take.
    first_retry, max_retry : timedelta
        Pause after the first failure, and the longest one.
    max_tries : int
        Tries on one channel before the next takes over.
    give_up_after : timedelta
        A message that no channel has taken for so long is given up and reported.
    """

    deadline: timedelta
    first_retry: timedelta
    max_retry: timedelta
    max_tries: int
    give_up_after: timedelta = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class StatusSpec:
    """How others learn that the program lives and fares well.

    Parameters
    ----------
    listen : tuple of str and int, or None
        IP address and port at which it answers.
    heartbeat : str or None
        Address that is called after each good look; a secret, not shown.
    test_message : str
        How often Test messages are written: off, weekly or monthly.
    """

    listen: tuple[str, int] | None = None
    heartbeat: str | None = field(default=None, repr=False)
    test_message: str = "off"


@dataclass(frozen=True, slots=True)
class Loaded:
    """A checked configuration.

    Parameters
    ----------
    path : Path
        The file that it was read from, absolute.
    garden : Garden
        What the pure core needs.
    channels : tuple of Channel
        Ways to reach people, in the order of the file.
    recipients : tuple of Recipient
        People, in the order of the file.
    sources : tuple of SourceSpec
        Where forecasts come from, in the order of the file; where it names none, as the position suggests.
    observations : ObservationSpec
        Thermometers near the trees.
    polling : Polling
        How often to look.
    delivery : DeliverySettings
        How hard to try.
    status : StatusSpec
        How others learn that it lives.
    database : Path
        Where to remember, absolute.
    retention : Retention
        For how long.
    warnings : tuple of str
        What can be used and should not stay so, one line each.
    digest : str
        SHA-256 of the very bytes of the file that were read, 64 hexadecimal digits. What the environment changed on top
        is not in it.
    """

    path: Path
    garden: Garden
    channels: tuple[Channel, ...]
    recipients: tuple[Recipient, ...]
    sources: tuple[SourceSpec, ...]
    observations: ObservationSpec
    polling: Polling
    delivery: DeliverySettings
    status: StatusSpec
    database: Path
    retention: Retention
    warnings: tuple[str, ...]
    digest: str
