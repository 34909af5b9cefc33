"""Temperatures of the ground and snow on it, as lines and as JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64, in_unit, instant_text, temperature_text, to_datetime64
from alertd.messages import when_text

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from numpy.typing import NDArray

    from alertd.alerts import Decision, Garden


def ground_facts(decision: Decision, garden: Garden) -> list[dict[str, object]]:
    """Return the temperatures of the ground that models state, as JSON values.

    Parameters
    ----------
    decision : Decision
        With the forecasts that carry them.
    garden : Garden
        Gives the unit.

    Returns
    -------
    list of dict
        By source and layer, with the name of the model, because what a depth means depends on it: depths [m], median
        of the realizations now (or at the first hour ahead) and lowest median ahead, in the configuration's unit.
    """
    return [
        {
            "source": each.source,
            "model": each.model,
            "top": each.depth[0],
            "bottom": each.depth[1],
            "temperature": round(in_unit(each.present, garden.units), 2),
            "minimum": round(in_unit(each.lowest, garden.units), 2),
            "until": instant_text(each.until),
        }
        for each in _layers(decision)
    ]


def ground_lines(decision: Decision, garden: Garden) -> list[str]:
    """Return the temperatures of the ground that models state, for reading.

    Parameters
    ----------
    decision : Decision
        With the forecasts that carry them.
    garden : Garden
        Unit and local time.

    Returns
    -------
    list of str
        A line for each source that states any.
    """
    texts: dict[tuple[str, str, datetime], list[str]] = {}
    for each in _layers(decision):
        present, lowest = (temperature_text(value, garden.units) for value in (each.present, each.lowest))
        text = f"{_depth_text(*each.depth)} {present} (lowest {lowest})"
        texts.setdefault((each.source, each.model, each.until), []).append(text)
    return [
        f"ground by {source}, model {model}, until {when_text(until, decision.now, garden.site)}: {'; '.join(layers)}"
        for (source, model, until), layers in texts.items()
    ]


def snow_facts(decision: Decision) -> list[dict[str, object]]:
    """Return the depth of snow that sources state for now, as JSON values.

    Parameters
    ----------
    decision : Decision
        With the forecasts that state it.

    Returns
    -------
    list of dict
        By source: median of the realizations [m] now and the deepest ahead.
    """
    return [
        {"source": source, "surface_snow_thickness": round(present, 3), "maximum": round(deepest, 3)}
        for source, present, deepest in _snow(decision)
    ]


def snow_lines(decision: Decision) -> list[str]:
    """Return the depth of snow that sources state for now, for reading.

    Parameters
    ----------
    decision : Decision
        With the forecasts that state it.

    Returns
    -------
    list of str
        A line for each source that has snow, now or ahead.
    """
    return [
        f"snow by {source}: {100 * present:.0f} cm, deepest ahead {100 * deepest:.0f} cm"
        for source, present, deepest in _snow(decision)
        if deepest > 0.0
    ]


class _Layer:
    """One layer of the ground by one source."""

    def __init__(
        self, source: str, model: str, depth: tuple[float, float], known: NDArray[np.float64], until: datetime
    ) -> None:
        self.source, self.model, self.depth, self.until = source, model, depth, until
        self.present, self.lowest = float(known[0]), float(known.min())


def _layers(decision: Decision) -> Iterator[_Layer]:
    for forecast in decision.outlook.used:
        soil = forecast.soil
        if soil is None:
            continue
        for depth, values in zip(soil.depths, soil.values, strict=True):
            known, times = _ahead(values, soil.times, decision.now)
            if known.size:
                yield _Layer(forecast.source, soil.model, depth, known, from_datetime64(times[-1]))


def _snow(decision: Decision) -> Iterator[tuple[str, float, float]]:
    for forecast in decision.outlook.used:
        values = forecast.series.variables.get("surface_snow_thickness")
        if values is not None:
            known, _ = _ahead(values, forecast.series.times, decision.now)
            if known.size:
                yield forecast.source, float(known[0]), float(known.max())


def _ahead(
    values: NDArray[np.float64], times: NDArray[np.datetime64], now: datetime
) -> tuple[NDArray[np.float64], NDArray[np.datetime64]]:
    """Return the median of the realizations at the times of the running hour and later, where there is any."""
    begin = to_datetime64(now) - np.timedelta64(3600, "s")
    is_told = (times > begin) & ~np.isnan(values).all(axis=0)
    return np.nanmedian(values[:, is_told], axis=0) if is_told.any() else np.array([]), times[is_told]


def _depth_text(top: float, bottom: float) -> str:
    """Return a depth below the surface, a level or a layer."""
    if top == bottom:
        return "at the surface" if top == 0.0 else f"{100 * top:.0f} cm"
    return f"{100 * top:.0f} to {100 * bottom:.0f} cm"
