"""Temperatures of the file: which are believable, and what they are in °C."""

from __future__ import annotations

from typing import TYPE_CHECKING

from alertd.core import TemperatureUnit, celsius, celsius_difference, difference_in_unit, in_unit

from .checks import RULE_NAMES
from .outline import nearest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from .findings import Draft, Findings

#: [°C] Believable critical temperatures by key; outside them the unit or the sign is likely wrong. Assumed.
BELIEVABLE_TEMPERATURES = {
    "wood": (-60.0, 5.0),
    "roots": (-40.0, 5.0),
    "root_zone": (-30.0, 5.0),
    "spring_limit": (-20.0, 5.0),
    "threshold": (-30.0, 5.0),
}

#: [°C] Believable differences by key. Assumed.
BELIEVABLE_DIFFERENCES = {"margin": (-10.0, 10.0), "hysteresis": (0.0, 10.0)}
BELIEVABLE_CREDIT = (0.0, 30.0)

#: [°C] Believable temperatures that a store room is kept above. Assumed: from a light frost to a living room.
BELIEVABLE_KEPT_ABOVE = (-5.0, 25.0)

#: [°C] Believable differences of how trees stand. Assumed.
BELIEVABLE_STANDING = {
    ("cover", "measured_gain"): (-5.0, 25.0),
    ("place", "wall_warmer_by"): (0.0, 20.0),
    ("place", "hollow_offset"): (-15.0, 0.0),
}

#: [°C] What a protection in place gains. A wrap, 5 °F: common practice, no source. Mulch ring, 10 °F, and bent and
#: buried, 15 °F: assumed; straw 4 in deep gained 11.1 °C at the ground in the coldest night of Vincennes, Indiana,
#: 27 December 2017 to 6 January 2018 (Purdue Vegetable Crops Hotline, seen). The others gain nothing that is relied on.
DEFAULT_CREDITS = {
    "store": 0.0,
    "cluster": 0.0,
    "wrap": celsius_difference(5.0, TemperatureUnit.FAHRENHEIT),
    "mulch_ring": celsius_difference(10.0, TemperatureUnit.FAHRENHEIT),
    "bend_and_mulch": celsius_difference(15.0, TemperatureUnit.FAHRENHEIT),
    "none": 0.0,
}

#: [°C] 15 °F: common practice, no source.
DEFAULT_CONTAINER_THRESHOLD = celsius(15.0, TemperatureUnit.FAHRENHEIT)

_Place = tuple[str | int, ...]


def check_temperatures(draft: Draft, findings: Findings) -> None:
    """Note temperatures and differences that cannot be meant, like 15 °C for 15 °F.

    Parameters
    ----------
    draft : Draft
        The configuration. Where its `units` are wrong or misspelt, nothing can be judged.
    findings : Findings
        Takes problems.
    """
    units = draft.value(("units",), TemperatureUnit.CELSIUS)
    is_misspelt = "units" not in draft.raw and nearest("units", draft.raw) is not None
    if units is None or is_misspelt:
        return
    unit = TemperatureUnit(units)
    for path, (low, high) in _temperature_places(draft):
        value = draft.value(path, None)
        if value is not None and not low <= celsius(value, unit) <= high:
            _refuse(path, value, unit, (in_unit(low, unit), in_unit(high, unit)), findings)
    for path, (low, high) in _difference_places(draft):
        value = draft.value(path, None)
        if value is not None and not low <= celsius_difference(value, unit) <= high:
            bounds = (difference_in_unit(low, unit), difference_in_unit(high, unit))
            _refuse(path, value, unit, bounds, findings)


def _temperature_places(draft: Draft) -> Iterator[tuple[_Place, tuple[float, float]]]:
    for name in draft.sound.get("classes", {}):
        for key in ("wood", "roots", "root_zone", "spring_limit"):
            yield ("classes", name, key), BELIEVABLE_TEMPERATURES[key]
    yield ("rules", "container_roots", "threshold"), BELIEVABLE_TEMPERATURES["threshold"]
    for position, _ in draft.entries("groups"):
        yield ("groups", position, "store", "kept_above"), BELIEVABLE_KEPT_ABOVE


def _difference_places(draft: Draft) -> Iterator[tuple[_Place, tuple[float, float]]]:
    for rule in RULE_NAMES:
        for key, bounds in BELIEVABLE_DIFFERENCES.items():
            yield ("rules", rule, key), bounds
    for protection in DEFAULT_CREDITS:
        yield ("rules", "credits", protection), BELIEVABLE_CREDIT
    for position, _ in draft.entries("groups"):
        for keys, bounds in BELIEVABLE_STANDING.items():
            yield ("groups", position, *keys), bounds


def _refuse(path: _Place, value: float, unit: TemperatureUnit, bounds: tuple[float, float], findings: Findings) -> None:
    low, high = (round(bound, 1) for bound in bounds)
    what = f"{value:g} {unit.symbol} cannot be meant"
    findings.refuse(path, what, f"give {low:g} to {high:g} {unit.symbol}, or correct `units`")
