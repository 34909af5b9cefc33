"""What must hold for every weather round a mulch ring, and for every log of a store room."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.thermal.film import Film
from alertd.thermal.medium import Medium
from alertd.thermal.ring import stem_in_ring
from alertd.thermal.room_fit import LONGEST, SHORTEST, fit_room

HOURS = 72
few = settings(max_examples=30)
air = st.lists(st.floats(-45.0, 40.0), min_size=HOURS, max_size=HOURS)


def wet(conductivity, better_frozen, capacity, latent_heat, point, width):
    """Return a medium whose conductivity changes where its water freezes."""
    return Medium(conductivity, conductivity * better_frozen, capacity, 0.7 * capacity, latent_heat, point, width)


# Without water nothing changes at the freezing point; a medium that did change there would let colder air, which lames
# the conduction of one ring, keep warmth in the next.
dry = st.builds(
    lambda conductivity, capacity: Medium(conductivity, conductivity, capacity, capacity, 0.0),
    *(
        st.floats(0.04, 0.6),
        st.floats(1e5, 4e6),
    ),
)
media = dry | st.builds(
    wet,
    st.floats(0.04, 0.6),
    st.floats(1.0, 1.6),
    st.floats(2e5, 4e6),
    st.floats(4e7, 2e8),
    st.floats(-2.0, 0.0),
    st.floats(0.3, 2.0),
)


@few
@given(air, media, st.floats(0.03, 0.4), st.floats(0.0, 1e6), st.floats(-20.0, 20.0))
def test_no_jump_takes_a_stem_beyond_the_extremes_around_it(temperature, medium, thickness, conductance, start):
    field = np.array([temperature])
    stem = stem_in_ring(Film(field, np.full(field.shape, conductance)), medium, thickness, start)
    assert (stem >= min(field.min(), start) - 1e-9).all()
    assert (stem <= max(field.max(), start) + 1e-9).all()


@few
@given(air, media, st.floats(0.03, 0.4), st.floats(0.0, 20.0), st.integers(0, HOURS - 1))
def test_colder_air_never_warms_a_stem_in_a_ring(temperature, medium, thickness, colder_by, hour):
    colder = np.array(temperature)
    colder[hour:] -= colder_by
    field = np.array([temperature, colder])
    stem = stem_in_ring(Film(field, np.full(field.shape, 15.0)), medium, thickness, 3.0)
    assert (stem[1] <= stem[0] + 1e-9).all()


@few
@given(media, st.floats(0.03, 0.2), st.floats(0.03, 0.2), st.floats(-40.0, -3.0))
def test_a_thicker_ring_is_never_colder_in_a_cold_spell(medium, thickness, more, coldest):
    field = np.full((1, HOURS), coldest)
    film = Film(field, np.full(field.shape, 12.0))
    thin, thick = (stem_in_ring(film, medium, each, 3.0, cells=4).min() for each in (thickness, thickness + more))
    assert thick >= thin - 1e-6


@few
@given(
    st.lists(st.floats(-40.0, 40.0), min_size=60, max_size=60),
    st.lists(st.floats(-40.0, 40.0) | st.just(np.nan), min_size=60, max_size=60),
)
def test_whatever_was_logged_a_fit_is_finite_and_no_room_amplifies_the_outside(outside, inside):
    readings = np.array(inside)
    readings[:48] = np.nan_to_num(readings[:48])
    found = fit_room(np.array(outside), readings)
    assert 0.0 <= found.outside_share <= 1.0
    assert SHORTEST <= found.time_constant <= LONGEST
    assert np.isfinite([found.warmth, found.rms]).all()
