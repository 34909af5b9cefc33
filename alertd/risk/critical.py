"""What a tissue stands today."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.thermal import Tissue

if TYPE_CHECKING:
    from alertd.hardiness import HardinessClass


@dataclass(frozen=True, slots=True)
class CriticalTemperature:
    """The temperature at which damage to a tissue begins.

    Parameters
    ----------
    tissue : Tissue
        Which.
    temperature : float
        [°C]
    at_or_below : bool
        Whether the value itself already counts. The trade protects wood *at or below* its threshold
        and moves pots when the air falls *below* theirs (common practice, no source).
    """

    tissue: Tissue
    temperature: float
    at_or_below: bool


def critical_temperature(
    hardiness_class: HardinessClass, tissue: Tissue, container_threshold: float
) -> CriticalTemperature:
    """Return what a tissue of a hardiness class stands.

    Parameters
    ----------
    hardiness_class : HardinessClass
        Values of the class.
    tissue : Tissue
        Which tissue.
    container_threshold : float
        [°C] For roots of classes that state none.

    Returns
    -------
    CriticalTemperature
        With its sense of comparison.
    """
    if tissue is Tissue.ROOTS:
        roots = container_threshold if hardiness_class.roots is None else hardiness_class.roots
        return CriticalTemperature(tissue, roots, at_or_below=False)
    if tissue is Tissue.WOOD:
        return CriticalTemperature(tissue, hardiness_class.wood, at_or_below=True)
    return CriticalTemperature(tissue, hardiness_class.spring_limit, at_or_below=False)
