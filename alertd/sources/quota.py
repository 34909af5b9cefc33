"""What a free service lets one address ask, counted before asking. Pure arithmetic."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from alertd.core import as_utc, instant_text

#: Variables that one call of Open-Meteo holds. Source: Open-Meteo's page on prices, seen as quoted by its issues.
VARIABLES_IN_ONE_CALL = 10

#: [days] Length that one call of Open-Meteo holds. Source: the same.
DAYS_IN_ONE_CALL = 14

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class Quota:
    """How many calls the hosts of one domain allow together.

    Parameters
    ----------
    domain : str
        Like ``open-meteo.com``: holds for it and all hosts below, except those whose name begins with ``customer-``,
        which are paid for.
    per_minute, per_hour, per_day : float
        [calls] in each minute, hour and day of UTC.
    """

    domain: str
    per_minute: float
    per_hour: float
    per_day: float

    def covers(self, host: str) -> bool:
        """Return whether a host, with or without port, belongs to this quota."""
        name = host.rpartition(":")[0] or host
        return name == self.domain or (name.endswith(f".{self.domain}") and not name.startswith("customer-"))


#: The free tier for one address. Source: Open-Meteo's terms and server source (counters start anew with each UTC
#: minute, hour and day), seen. The 300 000 calls a month follow from those of a day.
OPEN_METEO_FREE = Quota("open-meteo.com", 600.0, 5_000.0, 10_000.0)


def call_weight(n_locations: int, n_variables: int, n_days: float, n_members: int = 1) -> float:
    """Return what one request to Open-Meteo costs.

    Parameters
    ----------
    n_locations, n_variables, n_members : int
        At least 1.
    n_days : float
        [days] from first to last, positive.

    Returns
    -------
    float
        [calls] locations x max(1, variables x members / 10 x max(1, days / 14)).

    Raises
    ------
    ValueError
        If one of them is too small.

    References
    ----------
    Open-Meteo, rule for the weight of calls, in its own server source, seen.

    Examples
    --------
    51 members of 3 variables at one place for 10 days:

    >>> round(call_weight(1, 3, 10, 51), 1)
    15.3
    """
    if min(n_locations, n_variables, n_members) < 1 or not n_days > 0.0:
        message = (
            f"a request of {n_locations} locations, {n_variables} variables, {n_members} members and {n_days} days "
            "asks for nothing"
        )
        raise ValueError(message)
    length = max(1.0, n_days / DAYS_IN_ONE_CALL)
    return n_locations * max(1.0, n_variables * n_members / VARIABLES_IN_ONE_CALL * length)


class _Window(NamedTuple):
    """One minute, hour or day: its name, its length, and how much it allows."""

    name: str
    length: timedelta
    limit: float


@dataclass(frozen=True, slots=True)
class Spent:
    """What was asked of one quota in the running minute, hour and day.

    Parameters
    ----------
    windows : tuple of int
        Number of the minute, hour and day since 1970.
    calls : tuple of float
        [calls] in each.
    """

    windows: tuple[int, ...] = (0, 0, 0)
    calls: tuple[float, ...] = (0.0, 0.0, 0.0)

    def at(self, quota: Quota, now: datetime) -> Spent:
        """Return what still counts at an instant; a clock that was set back starts anew as well."""
        windows = tuple((as_utc(now) - _EPOCH) // window.length for window in _windows(quota))
        calls = tuple(
            spent if before == window else 0.0
            for spent, before, window in zip(self.calls, self.windows, windows, strict=True)
        )
        return Spent(windows, calls)

    def plus(self, weight: float) -> Spent:
        """Return the sum after another request.

        Parameters
        ----------
        weight : float
            [calls] that it costs.
        """
        return Spent(self.windows, tuple(spent + weight for spent in self.calls))


def refusal(quota: Quota, spent: Spent, weight: float, now: datetime) -> str:
    """Return why a request would ask too much.

    Parameters
    ----------
    quota : Quota
        What is allowed.
    spent : Spent
        What was asked before.
    weight : float
        [calls] that the request costs.
    now : datetime
        Aware.

    Returns
    -------
    str
        One phrase for a person, or ``""`` if the request may be made.
    """
    current = spent.at(quota, now)
    for window, number, calls in reversed(list(zip(_windows(quota), current.windows, current.calls, strict=True))):
        if weight > window.limit:
            return (
                f"quota: one request costs {weight:.1f} calls, and {quota.domain} allows {window.limit:.0f} in a "
                f"{window.name}; ask for fewer places, variables or members"
            )
        if calls + weight > window.limit:
            start = instant_text(_EPOCH + (number + 1) * window.length)
            return (
                f"quota: the {window.limit:.0f} calls that {quota.domain} allows in a {window.name} are used up; "
                f"it is asked again after {start}"
            )
    return ""


def _windows(quota: Quota) -> tuple[_Window, ...]:
    return (
        _Window("minute", timedelta(minutes=1), quota.per_minute),
        _Window("hour", timedelta(hours=1), quota.per_hour),
        _Window("day", timedelta(days=1), quota.per_day),
    )
