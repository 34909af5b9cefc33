"""What the numbers of the models can be at all, whatever somebody measured."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from .pots import POSSIBLE
from .substrates import DRIEST, MIXES

if TYPE_CHECKING:
    from .parameters import Parameter
    from .substrates import Mix

#: Least and most of numbers whose unit says too little. Assumed: frosty lawns and warm stone for what the ground is
#: colder by, bare twigs in any night for what they were colder by; a ridge has more wind than the forecast.
_BY_NAME = {"ground_colder_by": (-10.0, 20.0), "reference_undercooling": (0.0, 10.0), "wind_share": (0.0, 2.0)}

#: The same by unit. Assumed: ground and rooms of gardens with a winter, differences between things that stand
#: together, and anything from fresh snow to ice.
_BY_UNIT = {"Cel": (-20.0, 25.0), "K": (-30.0, 30.0), "kg/m3": (20.0, 917.0)}

#: Of numbers of which neither name nor unit says more: how many times the largest usual one, or the smallest part of
#: the smallest. Assumed: beyond that the unit is likely wrong.
_FARTHEST = 10.0


def possible_range(parameter: Parameter, mix: Mix | None = None) -> tuple[float, float]:
    """Return the least and the most that a number of the models can be.

    Parameters
    ----------
    parameter : Parameter
        With the usual range.
    mix : Mix or None
        What the pots are filled with: it bounds the water that they hold; ``None`` for any that there is.

    Returns
    -------
    tuple of (float, float)
        In the parameter's own unit; shares are 0 to 1.
    """
    if parameter.name == "water_content":
        return DRIEST, max(each.porosity for each in (MIXES.values() if mix is None else (mix,)))
    known = POSSIBLE.get(parameter.name, _BY_NAME.get(parameter.name, _BY_UNIT.get(parameter.unit)))
    if known is not None:
        return known
    if parameter.low < 0.0:
        return -math.inf, math.inf
    if parameter.unit == "1" and parameter.high <= 1.0:
        return 0.0, 1.0
    return parameter.low / _FARTHEST, parameter.high * _FARTHEST
