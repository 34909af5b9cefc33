"""Cells of a root ball."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

#: [m] Width of rings, and height of the layers at both ends; measured against a grid of 0.25 cm they keep the coldest
#: shell of 15 to 60 L within 0.2 °C. Cells of a fixed size and not a fixed number: with the latter a larger pot may
#: come out colder than a smaller one.
_RING = 0.015
_LAYER = 0.018

#: At least so many rings and layers, for small pots.
_FEWEST_RINGS, _FEWEST_LAYERS = 10, 12

#: By how much each layer is higher than the one nearer to the end, and at most, in units of the first.
_GROWTH, _LARGEST = 1.2, 2.2

#: [m] Outermost part of the root ball, where most fine roots are.
SHELL_THICKNESS = 0.02


@dataclass(frozen=True, slots=True)
class Container:
    """The inside of a pot: a truncated cone.

    Parameters
    ----------
    radius_top, radius_bottom, height : float
        [m] Of the root ball.

    Raises
    ------
    ValueError
        If one is not finite or not above 0.
    """

    radius_top: float
    radius_bottom: float
    height: float

    def __post_init__(self) -> None:
        """Refuse what holds nothing."""
        lengths = (self.radius_top, self.radius_bottom, self.height)
        if not all(math.isfinite(length) and length > 0.0 for length in lengths):
            message = f"no container: {self}"
            raise ValueError(message)

    @property
    def volume(self) -> float:
        """Volume [m3]."""
        top, bottom = self.radius_top, self.radius_bottom
        return math.pi * self.height / 3.0 * (top * top + top * bottom + bottom * bottom)


@dataclass(frozen=True, slots=True)
class Grid:
    """Layers from the bottom up, in each as many rings from the axis out.

    Surfaces of constant share of the radius bound the rings; the term by which a cone's slope couples the two
    directions is dropped (about 7 degrees: 1 to 2 % of the flux, derived).

    Parameters
    ----------
    n_layers, n_rings : int
        Of cells.
    heights : numpy.ndarray
        [m] Edges of layers from the bottom, shape (n_layers + 1,).
    radii : numpy.ndarray
        [m] Of the pot at the middle of each layer, shape (n_layers,).
    volumes : numpy.ndarray
        [m3] shape (n_layers, n_rings).
    radial : numpy.ndarray
        [m] Area of each inner face between rings by the distance of the middles of its cells, shape
        (n_layers, n_rings - 1).
    axial : numpy.ndarray
        [m] Likewise between layers, shape (n_layers - 1, n_rings).
    wall, top, bottom : numpy.ndarray
        [m2] Areas of the outer faces, shape (n_layers,), (n_rings,), (n_rings,).
    """

    n_layers: int
    n_rings: int
    heights: NDArray[np.float64]
    radii: NDArray[np.float64]
    volumes: NDArray[np.float64]
    radial: NDArray[np.float64]
    axial: NDArray[np.float64]
    wall: NDArray[np.float64]
    top: NDArray[np.float64]
    bottom: NDArray[np.float64]

    @property
    def ring_widths(self) -> NDArray[np.float64]:
        """Width of the rings of each layer [m], shape (n_layers,)."""
        return self.radii / self.n_rings


def grid_of(container: Container) -> Grid:
    """Return the cells of a container.

    Parameters
    ----------
    container : Container
        Any.

    Returns
    -------
    Grid
        15, 25 and 60 L have 10 x 11, 11 x 12 and 14 x 15 rings and layers.
    """
    bottom, top, height = container.radius_bottom, container.radius_top, container.height
    radius = (bottom + top) / 2.0
    n_rings = max(_FEWEST_RINGS, math.ceil(radius / _RING - 1e-9))
    layers = _layers(height)
    edges = np.concatenate([[0.0], np.cumsum(layers)])
    edges[-1] = height
    at_edges = bottom + (top - bottom) * edges / height
    lower, upper = at_edges[:-1], at_edges[1:]
    radii = (lower + upper) / 2.0
    shares = np.linspace(0.0, 1.0, n_rings + 1)
    rings = np.pi * np.diff(shares**2)
    slant = math.hypot(1.0, (top - bottom) / height)
    return Grid(
        n_layers=layers.size,
        n_rings=n_rings,
        heights=edges,
        radii=radii,
        volumes=np.outer(layers / 3.0 * (lower * lower + lower * upper + upper * upper), rings),
        radial=2.0 * np.pi * np.outer(layers, np.arange(1.0, n_rings)),
        axial=np.outer(at_edges[1:-1] ** 2 / ((layers[1:] + layers[:-1]) / 2.0), rings),
        wall=2.0 * np.pi * radii * layers * slant,
        top=top**2 * rings,
        bottom=bottom**2 * rings,
    )


def _layers(height: float) -> NDArray[np.float64]:
    """Return the heights of layers, growing from both ends to the middle [m]."""
    first = min(_LAYER, height / _FEWEST_LAYERS)
    end: list[float] = []
    layer = first
    while 2.0 * (sum(end) + layer) < height:
        end.append(layer)
        layer = min(layer * _GROWTH, _LARGEST * first)
    rest = height - 2.0 * sum(end)
    n_middle = round(rest / layer)
    middle = [rest / n_middle] * n_middle if n_middle else []
    layers = np.array([*end, *middle, *reversed(end)])
    return layers * (height / float(layers.sum()))  # a rest too thin for a layer is shared by all
