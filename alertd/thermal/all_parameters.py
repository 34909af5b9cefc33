"""Every number of the models that a person may measure."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .parameters import Parameter

#: The parameters of all models, each module's own ones joined to the others.
ALL_PARAMETERS: tuple[Parameter, ...] = ()

#: The same by name.
KNOWN_PARAMETERS: dict[str, Parameter] = {parameter.name: parameter for parameter in ALL_PARAMETERS}
