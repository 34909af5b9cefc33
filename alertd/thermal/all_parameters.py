"""Every number of the models that a person may measure."""

from __future__ import annotations

from .covers import COVER_PARAMETERS, GROUND_PARAMETERS, MULCH_PARAMETERS, STORE_PARAMETERS
from .pots import POT_PARAMETERS
from .wood import WOOD_PARAMETERS

#: The parameters of all models but for those that a group's tables say, like the diameter of a branch.
ALL_PARAMETERS = (
    *POT_PARAMETERS,
    *(parameter for parameter in WOOD_PARAMETERS if parameter.name != "diameter"),
    *COVER_PARAMETERS,
    *MULCH_PARAMETERS,
    *GROUND_PARAMETERS,
    *STORE_PARAMETERS,
)

#: The same by name.
KNOWN_PARAMETERS = {parameter.name: parameter for parameter in ALL_PARAMETERS}
