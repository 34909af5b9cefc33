"""How a store room follows the air outside, as lines and as JSON."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from alertd.core import difference_in_unit, temperature_text

if TYPE_CHECKING:
    from alertd.alerts import Garden
    from alertd.thermal import RoomFit

_HOUR, _DAY = 3600.0, 24.0

#: Time constants that a log should last [1], as `RoomFit.is_settled` has it.
_CONSTANTS = 3.0

#: From which share of the air's own changes on a room is said to follow it [1]. Assumed.
_FOLLOWS = 0.9


def room_facts(fit: RoomFit) -> dict[str, object]:
    """Return a fitted room as JSON values.

    Parameters
    ----------
    fit : RoomFit
        The room.

    Returns
    -------
    dict
        ``time_constant_s``, ``outside_share`` [1], ``warmth_degC``, ``rms_K``, ``hours``, ``kind``, ``is_settled``.
    """
    return {
        "time_constant_s": round(fit.time_constant),
        "outside_share": round(fit.outside_share, 3),
        "warmth_degC": round(fit.warmth, 2),
        "rms_K": round(fit.rms, 2),
        "hours": fit.hours,
        "kind": fit.kind.value,
        "is_settled": fit.is_settled,
    }


def room_lines(fit: RoomFit, garden: Garden) -> list[str]:
    """Return a fitted room for reading.

    Parameters
    ----------
    fit : RoomFit
        The room.
    garden : Garden
        Gives the unit.

    Returns
    -------
    list of str
        How it follows, and what to write into the configuration, or for how long to go on reading.
    """
    symbol, hours = garden.units.symbol, max(round(fit.time_constant / _HOUR), 1)
    rms = difference_in_unit(fit.rms, garden.units)
    read = f"From {fit.hours} hours of both thermometers"
    if not fit.is_settled:
        more = "are both thermometers where they should be, and is one of them outside?"
        if fit.hours < _CONSTANTS * hours:
            wanted = math.ceil(_CONSTANTS * hours / _DAY)
            more = f"read on until you have {wanted} days, with a change of weather among them."
        return [f"{read} it cannot be told how the room follows: {more}"]
    lines = [f"{read}: the room follows the air outside in {hours} h. What that leaves is {rms:.1f} {symbol} (rms)."]
    if fit.outside_share < _FOLLOWS:
        rest = temperature_text(fit.warmth, garden.units)
        lines.append(
            f"It changes by {fit.outside_share:.2f} of what the air changes, and would rest at {rest} in air of "
            f"{temperature_text(0.0, garden.units)}: ground or house warm it."
        )
    build = f'{{ kind = "{fit.kind.value}", time_constant = "{hours}h" }}'
    return [*lines, f"Write it into each group that winters there: store = {build}"]
