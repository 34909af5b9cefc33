"""Checks of what a group says about how its trees stand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from alertd.site import Substrate
from alertd.thermal.all_parameters import KNOWN_PARAMETERS
from alertd.thermal.parameters import with_unit
from alertd.thermal.possible import possible_range
from alertd.thermal.substrates import MIXES

from .outline import nearest, shown

if TYPE_CHECKING:
    from collections.abc import Mapping

    from .findings import Draft, Findings

#: The protections that each table belongs to.
_BELONGS_TO = {"cover": ("wrap",), "mulch": ("mulch_ring", "bend_and_mulch"), "store": ("store",)}

#: [cm3] in a litre. By definition.
_LITRE = 1000.0

#: Litres that a pot may be said to hold beyond its measured size: people round, and measure inside or outside. Assumed.
_ROUNDING = 1.1


def check_standing(position: int, group: Mapping[str, Any], draft: Draft, findings: Findings) -> None:
    """Note what cannot be so, or would be said in vain.

    Parameters
    ----------
    position : int
        Of the group in the file.
    group : mapping
        Its keys that have the right types.
    draft : Draft
        The configuration.
    findings : Findings
        Takes problems.
    """
    path = ("groups", position)
    _check_tables(path, group, findings)
    _check_size(path, group, findings)
    place = group.get("place") or {}
    if "wall_warmer_by" in place and not draft.has(*path, "place", "wall_view"):
        mend = "add wall_view, about 0.3 close beside a wall, or remove it"
        findings.refuse((*path, "place", "wall_warmer_by"), "says nothing without wall_view", mend)
    _check_sensor(path, group, draft, findings)
    substrate = (group.get("pot") or {}).get("substrate", Substrate.POTTING_MIX.value)
    for name, value in (group.get("measured") or {}).items():
        _check_measured((*path, "measured", name), name, value, substrate, findings)


def _check_tables(path: tuple[str | int, ...], group: Mapping[str, Any], findings: Findings) -> None:
    if group.get("growing") == "in_ground" and "pot" in group:
        findings.refuse((*path, "pot"), "is for containers only", "remove it")
    for table, protections in _BELONGS_TO.items():
        protection = group.get("protection")
        if table in group and protection is not None and protection not in protections:
            mend = f"remove it, or change the protection to {' or '.join(protections)}"
            findings.refuse((*path, table), f'says nothing for a group whose protection is "{protection}"', mend)


def _check_size(path: tuple[str | int, ...], group: Mapping[str, Any], findings: Findings) -> None:
    pot = group.get("pot") or {}
    litres, diameter, height = group.get("litres"), pot.get("top_diameter_cm"), pot.get("height_cm")
    if litres is None or diameter is None or height is None:
        return
    largest = math.pi / 4.0 * diameter**2 * height / _LITRE
    if litres > largest * _ROUNDING:
        what = f"a pot {diameter:g} cm wide and {height:g} cm high holds no {litres:g} litres, {largest:.3g} at most"
        findings.refuse((*path, "litres"), what, "measure again; pot.top_diameter_cm and pot.height_cm may be left out")


def _check_sensor(path: tuple[str | int, ...], group: Mapping[str, Any], draft: Draft, findings: Findings) -> None:
    sensor = (group.get("store") or {}).get("sensor")
    if sensor is None or draft.has("observations", "push"):
        return
    where = (*path, "store", "sensor")
    if not draft.has("observations", "file"):
        what = f"{shown(sensor)} can tell nothing: no thermometer is read"
        findings.refuse(where, what, "add an observations section with file or push")
        return
    station = draft.value(("observations", "station"), "thermometer")
    if station is not None and sensor != station:
        mend = f'use "{station}", or let devices hand over values with observations.push'
        findings.refuse(where, f"{shown(sensor)} is not the thermometer that writes observations.file", mend)


def _check_measured(path: tuple[str | int, ...], name: str, value: float, substrate: str, findings: Findings) -> None:
    parameter = KNOWN_PARAMETERS.get(name)
    if parameter is None:
        near = nearest(name, KNOWN_PARAMETERS)
        mend = f'did you mean "{near}"?' if near else "remove it; `alertd schema` names all that can be measured"
        findings.refuse(path, "is no number of the models", mend)
        return
    least, most = possible_range(parameter, MIXES[substrate])
    if not least <= value <= most:
        what, possible = (with_unit(text, parameter.unit) for text in (f"{value:g}", f"{least:g} to {most:g}"))
        mend = f"give {possible}; usual is {parameter.low:g} to {parameter.high:g}"
        findings.refuse(path, f"{what} cannot be", mend)
