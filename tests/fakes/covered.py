"""Invented groups of wood, and what models say of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from alertd.site import Growing, Protection, TreeGroup
from alertd.thermal import DRAWS, Tissue
from alertd.thermal.wood_model import wood_felt

FIGS = TreeGroup("figs", "the figs", Growing.IN_GROUND, 3, "fig", "fig", Protection.WRAP)


def ring_of(mulch, **more):
    """Return figs in rings of mulch."""
    return replace(FIGS, protection=Protection.MULCH_RING, mulch_build=mulch, **more)


def bent_under(mulch, **more):
    """Return figs that are bent down under mulch."""
    return replace(FIGS, protection=Protection.BEND_AND_MULCH, mulch_build=mulch, **more)


def wrapped_in(cover, **more):
    """Return figs in a wrap."""
    return replace(FIGS, cover_build=cover, **more)


def wood_in(group, weather, *, is_in_place=True, limit=50.0):
    """Return what the wood of a group feels in weather as `forcing_of_nights` gives it."""
    forcing, times = weather
    return wood_felt(group, Tissue.WOOD, forcing, times, limit=limit, is_in_place=is_in_place)


def told(felt):
    """Return what a model says of each realization without its own uncertainty."""
    return felt.exposure.temperature[DRAWS // 2 :: DRAWS]


def lowest(felt):
    """Return the lowest of it."""
    return float(np.nanmin(told(felt)))
