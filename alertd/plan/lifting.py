"""How much one person should lift."""

from __future__ import annotations

#: Load constant [kg]. Source: Revised NIOSH Lifting Equation (CCOHS, Calculating RWL, seen).
LOAD_CONSTANT = 23.0

#: Kilograms in a pound avoirdupois. By definition (1959 agreement, from memory).
KILOGRAMS_PER_POUND = 0.45359237

#: Mass of a litre of moist substrate with its share of pot and tree [kg/L]. Assumed.
POT_MASS_PER_LITRE = 1.1

#: Lifting a pot from the ground at arm's length: reach 40 cm, hands at 20 cm, lift 60 cm, poor grip.
#: Assumed as the usual way in which a pot is lifted.
POT_LIFT = {"horizontal": 40.0, "vertical": 20.0, "distance": 60.0, "coupling": 0.9}


def recommended_weight_limit(
    horizontal: float,
    vertical: float,
    distance: float,
    asymmetry: float = 0.0,
    frequency: float = 1.0,
    coupling: float = 1.0,
) -> float:
    """Return the load that most people can lift without raised risk.

    Parameters
    ----------
    horizontal : float
        [cm] Reach from the ankles to the hands; less than 25 counts as 25.
    vertical : float
        [cm] Height of the hands above the floor.
    distance : float
        [cm] Height of the lift; less than 25 counts as 25.
    asymmetry : float
        [degrees] Twist of the body.
    frequency, coupling : float
        Multipliers for how often and with what grip, 0 to 1.

    Returns
    -------
    float
        [kg]

    Raises
    ------
    ValueError
        If a length is negative or a multiplier is outside 0 to 1.

    References
    ----------
    Waters, Putz-Anderson, Garg 1994, Applications Manual for the Revised NIOSH Lifting Equation; multipliers as
    in CCOHS, Calculating RWL (seen); the asymmetry formula from memory.

    Examples
    --------
    >>> round(recommended_weight_limit(40.0, 20.0, 60.0, coupling=0.9), 2)
    9.67
    """
    if min(horizontal, vertical, distance, asymmetry) < 0.0:
        message = "lengths [cm] and angles [degrees] must not be negative"
        raise ValueError(message)
    if not (0.0 <= frequency <= 1.0 and 0.0 <= coupling <= 1.0):
        message = "multipliers must be within 0 to 1"
        raise ValueError(message)
    return (
        LOAD_CONSTANT
        * (25.0 / max(horizontal, 25.0))
        * max(1.0 - 0.003 * abs(vertical - 75.0), 0.0)
        * (0.82 + 4.5 / max(distance, 25.0))
        * max(1.0 - 0.0032 * asymmetry, 0.0)
        * frequency
        * coupling
    )


def pot_mass(container_volume: float) -> float:
    """Return the mass of a moist pot [kg] of a volume [L]; assumed, about that of water."""
    return POT_MASS_PER_LITRE * container_volume


def people_per_pot(container_volume: float) -> int:
    """Return how many people should share one pot.

    Parameters
    ----------
    container_volume : float
        [L]

    Returns
    -------
    int
        At least 1; the mass over the recommended weight limit of a lift from the ground, rounded up.
    """
    limit = recommended_weight_limit(**POT_LIFT)
    return max(1, int(-(-pot_mass(container_volume) // limit)))
