"""What the service is asked for."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from alertd.sources.position import coordinate_text
from alertd.sources.quota import call_weight
from alertd.sources.request import Request

from .parse import LEAD_DAYS
from .refusals import blocked_until, explain
from .variables import VARIABLES

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from alertd.site import Site

    from .access import Access, Endpoint
    from .models import Model

#: Models are run every 1 to 6 h and the service says nothing about when to ask again. Source: seen.
FORECAST_PAUSE = timedelta(hours=1)

#: The status costs nothing; a run is noticed so much later. Assumed.
STATUS_PAUSE = timedelta(minutes=30)

#: Past weather and old forecasts do not change; reanalyses grow by a day each day. Assumed.
HISTORY_PAUSE = timedelta(days=1)

#: Calls that the status costs: none by the service's documentation (seen), but a weight must be positive.
STATUS_WEIGHT = 0.001

#: How far the forecast endpoint (16) and the ensemble endpoint (35) look ahead [days]. Source: seen.
LARGEST_FORECAST_DAYS, LARGEST_ENSEMBLE_DAYS = 16, 35


def place_parameters(site: Site) -> tuple[tuple[str, str], ...]:
    """Return the parameters that say where, and in which units and times the answer shall be.

    Parameters
    ----------
    site : Site
        Position and elevation; the service brings temperatures to the elevation.

    Returns
    -------
    tuple of (str, str)
        Names and values.
    """
    return (
        ("latitude", coordinate_text(site.latitude)),
        ("longitude", coordinate_text(site.longitude)),
        ("elevation", coordinate_text(site.elevation)),
        ("timezone", "GMT"),
        ("timeformat", "unixtime"),
        ("temperature_unit", "celsius"),
        ("wind_speed_unit", "ms"),
        ("precipitation_unit", "mm"),
    )


def forecast_request(name: str, site: Site, access: Access, endpoint: Endpoint, model: Model, days: int) -> Request:
    """Return the request for a forecast of one model.

    Parameters
    ----------
    name : str
        Name of the source.
    site : Site
        Where.
    access : Access
        How the service is reached.
    endpoint : Endpoint
        Of forecasts or of ensembles.
    model : Model
        Which one.
    days : int
        How many, today included.

    Returns
    -------
    Request
        For all variables that alertd knows and the model's own soil temperatures.
    """
    variables = (*VARIABLES.values(), *(layer.variable for layer in model.soil))
    parameters = (
        *place_parameters(site),
        ("hourly", ",".join(variables)),
        ("models", model.name),
        ("forecast_days", str(days)),
    )
    weight = call_weight(1, len(variables), days, model.realizations)
    return _request(f"{name}:{endpoint.host}", access, endpoint, parameters, FORECAST_PAUSE, weight)


def status_request(name: str, access: Access, model: Model) -> Request:
    """Return the request for when a model was last run.

    Parameters
    ----------
    name : str
        Name of the source.
    access : Access
        How the service is reached.
    model : Model
        One with a status.

    Returns
    -------
    Request
        A cheap one.
    """
    url, credentials = access.status_url(model.status), access.credentials()
    return Request(
        f"{name}:status:{model.status}", url, credentials, pause=STATUS_PAUSE, weight=STATUS_WEIGHT, explain=explain
    )


def history_request(
    name: str,
    site: Site,
    access: Access,
    endpoint: Endpoint,
    model: Model,
    span: tuple[date, date],
    lead_days: Sequence[int] = (),
) -> Request:
    """Return the request for past weather, or for old forecasts of it.

    Parameters
    ----------
    name : str
        Name of the source.
    site : Site
        Where.
    access : Access
        How the service is reached.
    endpoint : Endpoint
        Of the archive or of previous runs.
    model : Model
        Which one.
    span : tuple of (date, date)
        First and last day, UTC, both included.
    lead_days : sequence of int
        Lead times of old forecasts [days]; empty for past weather itself.

    Returns
    -------
    Request
        For all variables that alertd knows, of past weather; for air temperature alone, of old forecasts.

    Raises
    ------
    ValueError
        If the span ends before it begins, or a lead time is not offered.
    """
    first, last = span
    if last < first:
        message = f"the span ends on {last}, before it begins on {first}"
        raise ValueError(message)
    unknown = sorted(set(lead_days) - set(LEAD_DAYS))
    if unknown:
        message = f"lead times of {unknown} days are not offered; choose from {LEAD_DAYS[0]} to {LEAD_DAYS[-1]}"
        raise ValueError(message)
    temperature = VARIABLES["air_temperature"]
    variables = [f"{temperature}_previous_day{days}" for days in lead_days] or list(VARIABLES.values())
    parameters = (
        *place_parameters(site),
        ("hourly", ",".join(variables)),
        ("models", model.name),
        ("start_date", first.isoformat()),
        ("end_date", last.isoformat()),
    )
    weight = call_weight(1, len(variables), (last - first).days + 1)
    return _request(f"{name}:{endpoint.host}", access, endpoint, parameters, HISTORY_PAUSE, weight)


def _request(
    key: str,
    access: Access,
    endpoint: Endpoint,
    parameters: tuple[tuple[str, str], ...],
    pause: timedelta,
    weight: float,
) -> Request:
    """Return a request of an endpoint, with one stored answer: that to the last question."""
    asked = (*parameters, *access.credentials())
    url = access.url(endpoint)
    return Request(key, url, asked, pause=pause, weight=weight, explain=explain, held_until=blocked_until)
