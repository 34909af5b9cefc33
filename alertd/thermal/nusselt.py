"""How much better than resting air moving air takes heat from a surface: Nusselt numbers of textbooks."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from .air import PRANDTL

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from .air import Numbers


def nusselt_cylinder_in_wind(reynolds: Numbers, prandtl: float = PRANDTL) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a cylinder across the wind.

    Parameters
    ----------
    reynolds : float or numpy.ndarray
        [1] With the diameter as length; for Re Pr above 0.2.
    prandtl : float
        [1] Of the fluid; of air unless stated.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    Churchill & Bernstein 1977, J. Heat Transfer 99:300, equation 10; seen in the source of the package ht 1.2.
    """
    re = np.asarray(reynolds, dtype=np.float64)
    laminar = (
        0.62 * np.sqrt(re) * math.pow(prandtl, 1.0 / 3.0) / math.pow(1.0 + math.pow(0.4 / prandtl, 2.0 / 3.0), 0.25)
    )
    return 0.3 + laminar * (1.0 + (re / 282000.0) ** 0.625) ** 0.8


def nusselt_plate_in_wind(reynolds: Numbers, prandtl: float = PRANDTL) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a flat plate along the wind.

    Parameters
    ----------
    reynolds : float or numpy.ndarray
        [1] With the length of the plate; for Re from 10 to 1e7.
    prandtl : float
        [1] Of the fluid; of air unless stated.

    Returns
    -------
    numpy.ndarray
        [1]

    Notes
    -----
    The root of the sum of the squares of the laminar and of the turbulent number: outdoor wind is never quite laminar.

    References
    ----------
    Laminar 0.664 Re^(1/2) Pr^(1/3) (Pohlhausen), turbulent 0.036 Re^(4/5) Pr^(1/3) (Kreith); both seen in the source of
    the package ht 1.2. Their sum of squares: VDI Heat Atlas 2010, from memory.
    """
    re = np.asarray(reynolds, dtype=np.float64)
    return math.pow(prandtl, 1.0 / 3.0) * np.hypot(0.664 * np.sqrt(re), 0.036 * re**0.8)


def nusselt_horizontal_cylinder(rayleigh: Numbers, prandtl: float = PRANDTL) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a horizontal cylinder in still air.

    Parameters
    ----------
    rayleigh : float or numpy.ndarray
        [1] With the diameter as length; for Ra up to 1e12.
    prandtl : float
        [1] Of the fluid; of air unless stated.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    Churchill & Chu 1975, Int. J. Heat Mass Transfer 18:1049; seen in the source of the package ht 1.2.
    """
    ra = np.asarray(rayleigh, dtype=np.float64)
    return (0.6 + 0.387 * ra ** (1.0 / 6.0) / math.pow(1.0 + math.pow(0.559 / prandtl, 9.0 / 16.0), 8.0 / 27.0)) ** 2


def nusselt_vertical_plate(rayleigh: Numbers, prandtl: float = PRANDTL) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a vertical plate in still air.

    Parameters
    ----------
    rayleigh : float or numpy.ndarray
        [1] With the height as length; for Ra from 0.1 to 1e12. Holds for vertical cylinders too, unless they are thin.
    prandtl : float
        [1] Of the fluid; of air unless stated.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    Churchill & Chu 1975, Int. J. Heat Mass Transfer 18:1323, equation 9; seen in the source of the package ht 1.2.
    """
    ra = np.asarray(rayleigh, dtype=np.float64)
    return (0.825 + 0.387 * ra ** (1.0 / 6.0) / math.pow(1.0 + math.pow(0.492 / prandtl, 9.0 / 16.0), 8.0 / 27.0)) ** 2


def nusselt_horizontal_plate(rayleigh: Numbers, *, is_warmer: bool | NDArray[np.bool_]) -> NDArray[np.float64]:
    """Return the mean Nusselt number of a plate that faces up, in still air.

    Parameters
    ----------
    rayleigh : float or numpy.ndarray
        [1] With a quarter of the diameter (area by perimeter) as length; up to 1e10.
    is_warmer : bool or numpy.ndarray
        Whether the plate is warmer than the air. Then air rises from it, else a cold pool lies on it.

    Returns
    -------
    numpy.ndarray
        [1]

    References
    ----------
    McAdams 1954, Heat Transmission; seen in the source of the package ht 1.2.
    """
    ra = np.asarray(rayleigh, dtype=np.float64)
    laminar = np.sqrt(np.sqrt(ra))
    warm = np.where(ra <= 1e7, 0.54 * laminar, 0.15 * np.cbrt(ra))  # noqa: PLR2004
    return np.where(is_warmer, warm, 0.27 * laminar)
