"""From the bytes of an answer to weather. Pure; raises nothing but SourceMalformed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.weather import Series, SoilTemperatures

from .columns import columns_of, times_of
from .document import check_place, document_of, refuse, shown
from .variables import VARIABLES

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from .columns import Key
    from .document import Asked
    from .models import Model

#: Lead times of previous runs that the service offers [days]. Source: its documentation, seen.
LEAD_DAYS = (1, 2, 3, 4, 5, 6, 7)

#: [°C] Temperatures of the ground further from zero cannot be true. Assumed: deserts reach about 80 °C (from memory).
LARGEST_SOIL_TEMPERATURE = 90.0


@dataclass(frozen=True, slots=True)
class ParsedForecast:
    """What an answer says of one model.

    Parameters
    ----------
    series : Series
        shape (n_realizations, n_times); the control first, then the members that have values.
    soil : SoilTemperatures or None
        On the same realizations and times; None if the answer holds none.
    notes : tuple of str
        What a person should know of the answer.
    """

    series: Series
    soil: SoilTemperatures | None
    notes: tuple[str, ...] = ()


def parse_forecast(body: bytes, asked: Asked, model: Model) -> ParsedForecast:
    """Return the forecast in the answer to a request for one model.

    Parameters
    ----------
    body : bytes
        Of an answer of the forecast, ensemble or archive endpoint.
    asked : Asked
        The place that was asked for.
    model : Model
        The model that was asked for.

    Returns
    -------
    ParsedForecast
        Values in canonical units, without times at the end for which there is no air temperature.

    Raises
    ------
    SourceMalformed
        If the answer is none, is about something else than was asked, or holds nothing but missing values.
    """
    times, columns, notes = _read(body, asked, (model,))
    by_realization = {}
    for key, values in columns.items():
        if key.model not in {"", model.name, model.answered_as}:
            refuse(f"the answer is of the model {key.model}, not of {model.name}")
        if (key.variable, key.realization) in by_realization:
            refuse(f"the answer has {key.variable} both with and without the name of a model")
        if key.lead_days == 0:
            by_realization[key.variable, key.realization] = values
    return _forecast(times, by_realization, model, notes)


def parse_models(body: bytes, asked: Asked, models: Sequence[Model]) -> dict[str, ParsedForecast]:
    """Return the forecasts in the answer to a request for several models.

    If only one of them covers the place, the service leaves its name out, and nobody can tell which it is.

    Parameters
    ----------
    body : bytes
        The answer's body.
    asked : Asked
        The place that was asked for.
    models : sequence of Model
        Those that were asked for, at least two.

    Returns
    -------
    dict of str to ParsedForecast
        By the name that the model was asked by; models that do not cover the place are not there.

    Raises
    ------
    SourceMalformed
        As in :func:`parse_forecast`, or if an array does not say of which of the asked models it is.
    """
    times, columns, notes = _read(body, asked, models)
    names = {name: model for model in models for name in (model.name, model.answered_as) if name}
    by_model: dict[str, dict[tuple[str, int], NDArray[np.float64]]] = defaultdict(dict)
    for key, values in columns.items():
        if not key.model:
            refuse(f"{key.variable} is of an unknown model: several were asked for and the answer names none")
        if key.model not in names:
            refuse(f"the answer is of the model {key.model}, which was not asked for")
        name = names[key.model].name
        if (key.variable, key.realization) in by_model[name]:
            refuse(f"the answer has {key.variable} of {name} twice")
        if key.lead_days == 0:
            by_model[name][key.variable, key.realization] = values
    if not by_model:
        refuse(f"the answer has no {VARIABLES['air_temperature']}")
    asked_models = {model.name: model for model in models}
    return {name: _forecast(times, columns, asked_models[name], notes) for name, columns in by_model.items()}


def parse_previous_runs(body: bytes, asked: Asked, model: Model) -> tuple[tuple[int, Series], ...]:
    """Return what was forecast a day, two days and so on before each time.

    Parameters
    ----------
    body : bytes
        Of an answer of the endpoint for previous runs.
    asked : Asked
        The place that was asked for.
    model : Model
        The model that was asked for.

    Returns
    -------
    tuple of (int, Series)
        Lead time [days], shortest first, and the values forecast so long before; 0 is the latest forecast.
        Lead times without any air temperature are not there.

    Raises
    ------
    SourceMalformed
        As in :func:`parse_forecast`.
    """
    times, columns, _ = _read(body, asked, (model,))
    by_lead: dict[int, dict[tuple[str, int], NDArray[np.float64]]] = defaultdict(dict)
    for key, values in columns.items():
        if key.model not in {"", model.name, model.answered_as}:
            refuse(f"the answer is of the model {key.model}, not of {model.name}")
        if (key.variable, key.realization) in by_lead[key.lead_days]:
            refuse(f"the answer has {key.variable} both with and without the name of a model")
        by_lead[key.lead_days][key.variable, key.realization] = values
    temperature = VARIABLES["air_temperature"]
    present = {
        lead_days: of_lead
        for lead_days, of_lead in sorted(by_lead.items())
        if any(name == temperature and not np.isnan(values).all() for (name, _), values in of_lead.items())
    }
    if not present:
        refuse("the answer holds nothing but missing values of air temperature")
    return tuple((lead_days, _series(times, of_lead)[0]) for lead_days, of_lead in present.items())


def _read(
    body: bytes, asked: Asked, models: Iterable[Model]
) -> tuple[NDArray[np.datetime64], dict[Key, NDArray[np.float64]], tuple[str, ...]]:
    """Return times, arrays and notes of an answer about the asked place."""
    document = document_of(body)
    note = check_place(document, asked)
    hourly, units = document.get("hourly"), document.get("hourly_units")
    if not isinstance(hourly, dict) or not isinstance(units, dict):
        refuse("the answer has no hourly values with units")
    times = times_of(hourly, units)
    soil = frozenset(layer.variable for model in models for layer in model.soil)
    return times, columns_of(hourly, units, times.size, soil), (note,) if note else ()


def _forecast(
    times: NDArray[np.datetime64],
    columns: Mapping[tuple[str, int], NDArray[np.float64]],
    model: Model,
    notes: tuple[str, ...],
) -> ParsedForecast:
    """Return the forecast of one model."""
    series, realizations = _series(times, columns)
    layers = [layer for layer in model.soil if any(variable == layer.variable for variable, _ in columns)]
    values = [_stack(columns, layer.variable, realizations, series.n_times) for layer in layers]
    values = [np.where(np.abs(of_layer) > LARGEST_SOIL_TEMPERATURE, np.nan, of_layer) for of_layer in values]
    has_soil = any(not np.isnan(of_layer).all() for of_layer in values)
    depths = tuple((layer.top, layer.bottom) for layer in layers)
    soil = SoilTemperatures(model.name, depths, series.times, np.stack(values)) if has_soil else None
    if len(realizations) < model.realizations:
        notes += (f"{len(realizations)} of the {model.realizations} realizations of {model.name} have values",)
    return ParsedForecast(series, soil, notes)


def _series(
    times: NDArray[np.datetime64], columns: Mapping[tuple[str, int], NDArray[np.float64]]
) -> tuple[Series, tuple[int, ...]]:
    """Return a series without its empty end, and the realizations that have an air temperature."""
    name = VARIABLES["air_temperature"]
    members = {realization: values for (variable, realization), values in columns.items() if variable == name}
    if not members:
        refuse(f"the answer has no {shown(name)}")
    realizations = tuple(sorted(number for number, values in members.items() if not np.isnan(values).all()))
    if not realizations:
        refuse("the answer holds nothing but missing values of air temperature")
    present = np.any([~np.isnan(members[number]) for number in realizations], axis=0)
    n_times = int(np.flatnonzero(present)[-1]) + 1
    variables = {
        standard_name: values
        for standard_name, variable in VARIABLES.items()
        if not np.isnan(values := _stack(columns, variable, realizations, n_times)).all()
    }
    return Series(times[:n_times], variables), realizations


def _stack(
    columns: Mapping[tuple[str, int], NDArray[np.float64]], variable: str, realizations: tuple[int, ...], n_times: int
) -> NDArray[np.float64]:
    """Return a variable's values, shape (n_realizations, n_times), NaN where a realization has none."""
    missing = np.full(n_times, np.nan)
    return np.stack([columns.get((variable, number), missing)[:n_times] for number in realizations])
