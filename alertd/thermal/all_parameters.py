"""Every number of the models that a person may measure."""

from __future__ import annotations

from .cover import COVER_PARAMETERS
from .mulch import MULCH_PARAMETERS
from .pots import POT_PARAMETERS
from .store_room import STORE_PARAMETERS
from .wood import WOOD_PARAMETERS

#: The parameters of all models but for those that a group's tables say, like the diameter of a branch.
ALL_PARAMETERS = tuple(
    {
        parameter.name: parameter
        for parameter in (
            *POT_PARAMETERS,
            *WOOD_PARAMETERS,
            *COVER_PARAMETERS,
            *MULCH_PARAMETERS,
            *STORE_PARAMETERS,
        )
        if parameter.name != "diameter"
    }.values()
)

#: The same by name.
KNOWN_PARAMETERS = {parameter.name: parameter for parameter in ALL_PARAMETERS}
