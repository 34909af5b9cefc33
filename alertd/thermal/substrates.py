"""What pots are filled with: mixes by name, and how heat moves in them at some moisture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from alertd.site import Wetness

from .medium import Medium

if TYPE_CHECKING:
    from collections.abc import Mapping

#: Conductivity of water and of ice a little below 0 °C [W/(m K)]. Source: Moene & van Dam, Transport in the
#: Atmosphere-Vegetation-Soil Continuum, table 2.2, for water (seen); ice from memory, 2.2 to 2.5.
_WATER_CONDUCTIVITY, _ICE_CONDUCTIVITY = 0.57, 2.22

#: Heat capacity of water and of ice by volume of water [J/(m3 K)], latent heat of freezing by the same [J/m3]. Sources:
#: table 2.2 of Moene & van Dam for the first (seen), the others from memory.
_WATER_CAPACITY, _ICE_CAPACITY, _LATENT_HEAT = 4.18e6, 1.94e6, 3.34e8

#: Water by volume that is bound so tightly that it does not freeze [1]. Assumed.
NEVER_FROZEN = 0.04

#: No mix is drier than this by volume [1]. Assumed: air-dry peat.
DRIEST = 0.06


@dataclass(frozen=True, slots=True)
class Mix:
    """A substrate, whatever its moisture.

    Parameters
    ----------
    porosity : float
        [1] Pores by volume: the most water that it can hold.
    dry_conductivity : float
        [W/(m K)] When it has dried out.
    solid_conductivity : float
        [W/(m K)] Of what it is made of.
    dry_capacity : float
        [J/(m3 K)] Of its solids, by volume of the whole.
    kappa_unfrozen, kappa_frozen : float
        [1] How soon moisture bridges the grains, in the formula of Cote and Konrad.
    water : mapping of Wetness to tuple of (float, float, float)
        [1] Water by volume when a person calls it dry, moist or wet: value, one standard deviation below and above.
    provenance : str
        Where its numbers come from.
    """

    porosity: float
    dry_conductivity: float
    solid_conductivity: float
    dry_capacity: float
    kappa_unfrozen: float
    kappa_frozen: float
    water: Mapping[Wetness, tuple[float, float, float]]
    provenance: str


#: Bark and peat, the usual filling of nursery pots.
POTTING_MIX = Mix(
    porosity=0.85,
    dry_conductivity=0.06,
    solid_conductivity=0.25,
    dry_capacity=0.30e6,
    kappa_unfrozen=0.60,
    kappa_frozen=0.25,
    water={Wetness.DRY: (0.20, 0.15, 0.27), Wetness.MOIST: (0.35, 0.27, 0.43), Wetness.WET: (0.50, 0.43, 0.57)},
    provenance=(
        "organic solids of Moene & van Dam, table 2.2 (seen), and the kappas of Cote & Konrad 2005 for organic fibrous "
        "soils (from memory); porosity, dry conductivity and moisture assumed"
    ),
)

#: Mixes by the name that people give them.
MIXES: Mapping[str, Mix] = {
    "potting_mix": POTTING_MIX,
    "bark_mix": Mix(
        porosity=0.80,
        dry_conductivity=0.07,
        solid_conductivity=0.25,
        dry_capacity=0.40e6,
        kappa_unfrozen=0.60,
        kappa_frozen=0.25,
        water={Wetness.DRY: (0.15, 0.11, 0.21), Wetness.MOIST: (0.28, 0.21, 0.35), Wetness.WET: (0.42, 0.35, 0.49)},
        provenance=(
            "as potting mix; that coarse bark holds less water and weighs more is common practice, no source; its "
            "numbers are assumed"
        ),
    ),
    "mineral_mix": Mix(
        porosity=0.55,
        dry_conductivity=0.15,
        solid_conductivity=2.0,
        dry_capacity=0.95e6,
        kappa_unfrozen=1.90,
        kappa_frozen=0.85,
        water={Wetness.DRY: (0.12, 0.08, 0.17), Wetness.MOIST: (0.25, 0.18, 0.32), Wetness.WET: (0.38, 0.32, 0.44)},
        provenance=(
            "clay of Moene & van Dam, table 2.2, for the dry conductivity (seen), the kappas of Cote & Konrad 2005 for "
            "silt and clay (from memory); the rest assumed, a garden loam loosened with grit and compost"
        ),
    ),
    "peat": Mix(
        porosity=0.90,
        dry_conductivity=0.04,
        solid_conductivity=0.25,
        dry_capacity=0.25e6,
        kappa_unfrozen=0.60,
        kappa_frozen=0.25,
        water={Wetness.DRY: (0.25, 0.18, 0.33), Wetness.MOIST: (0.45, 0.36, 0.54), Wetness.WET: (0.65, 0.56, 0.72)},
        provenance=(
            "peat soil of Moene & van Dam, table 2.2, for porosity, dry conductivity and capacity (seen), the kappas "
            "of Cote & Konrad 2005 for organic fibrous soils (from memory); moisture assumed"
        ),
    ),
}


def medium_of(water_content: float, conductivity_factor: float = 1.0, mix: Mix = POTTING_MIX) -> Medium:
    """Return a mix of some moisture.

    Parameters
    ----------
    water_content : float
        [1] By volume, `DRIEST` up to the porosity.
    conductivity_factor : float
        [1] By which the conductivity differs from the formula's; above 0.
    mix : Mix
        What it is made of.

    Returns
    -------
    Medium
        At 0.45 the usual mix has 0.24 W/(m K) and 2.2 MJ/(m3 K) unfrozen; peat soil has 0.27 and 2.1 (Moene & van Dam,
        seen).

    Raises
    ------
    ValueError
        If the mix cannot be so dry or so wet, or the factor is not above 0.

    Notes
    -----
    Conductivity by the normalised form of Cote and Konrad 2005, International Journal of Heat and Mass Transfer
    48:3431 (from memory): dry + (saturated - dry) kappa S / (1 + (kappa - 1) S), S the saturation; the saturated one
    is the geometric mean of solids and of water or ice. It leaves out water that moves, and vapour.
    """
    if not DRIEST <= water_content <= mix.porosity:
        message = f"the water content must be {DRIEST:g} to {mix.porosity:g} of the volume, not {water_content:g}"
        raise ValueError(message)
    saturation = water_content / mix.porosity

    def conductivity(pores: float, kappa: float) -> float:
        saturated = mix.solid_conductivity ** (1.0 - mix.porosity) * pores**mix.porosity
        weight = kappa * saturation / (1.0 + (kappa - 1.0) * saturation)
        return float(mix.dry_conductivity + (saturated - mix.dry_conductivity) * weight) * conductivity_factor

    return Medium(
        conductivity_unfrozen=conductivity(_WATER_CONDUCTIVITY, mix.kappa_unfrozen),
        conductivity_frozen=conductivity(_ICE_CONDUCTIVITY, mix.kappa_frozen),
        heat_capacity_unfrozen=mix.dry_capacity + _WATER_CAPACITY * water_content,
        heat_capacity_frozen=mix.dry_capacity + _ICE_CAPACITY * water_content,
        latent_heat=_LATENT_HEAT * (water_content - NEVER_FROZEN),
    )
