"""What must hold for every weather over columns, mulch, wraps and rooms."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.site import CoverBuild, CoverFill, CoverMaterial, MulchBuild, MulchMaterial, StoreKind
from alertd.thermal.column import Layer, column_of
from alertd.thermal.column_flow import solve_column
from alertd.thermal.film import Film
from alertd.thermal.ground import GARDEN_LOAM
from alertd.thermal.mulch import MULCHES, GroundWeather, stem_under_mulch
from alertd.thermal.store_room import inside_store_room
from alertd.thermal.wrap import CoverWeather, under_wrap

HOURS = 48
few = settings(max_examples=25, deadline=None)
air = st.lists(st.floats(-45.0, 30.0), min_size=HOURS, max_size=HOURS)
mulches = st.sampled_from(sorted(MulchMaterial))
covers = st.builds(
    CoverBuild,
    material=st.sampled_from(sorted(CoverMaterial)),
    diameter=st.floats(0.2, 2.0),
    height=st.floats(0.3, 3.0),
    is_closed_at_ground=st.booleans(),
    skirt=st.floats(0.0, 1.5),
    fill=st.none() | st.sampled_from(sorted(CoverFill)),
)


def over_ground(temperature, snow=0.0):
    field = np.atleast_2d(np.asarray(temperature, dtype=float))
    return GroundWeather(field, field - 4.0, np.full(field.shape, 15.0), np.full(field.shape, snow), 12)


def round_wrap(temperature, wind):
    field = np.atleast_2d(np.asarray(temperature, dtype=float))
    return CoverWeather(field, field - 4.0, np.full(field.shape, 15.0), np.full(field.shape, wind), 12)


@few
@given(air, mulches, st.floats(0.0, 20.0), st.integers(0, HOURS - 1))
def test_colder_air_never_warms_a_stem(temperature, material, colder_by, hour):
    colder = np.array(temperature)
    colder[hour:] -= colder_by
    stem = stem_under_mulch(over_ground([temperature, colder]), MulchBuild(material, 0.08))
    assert (stem[1] <= stem[0] + 1e-9).all()


@few
@given(st.floats(-40.0, -3.0), mulches, st.floats(0.03, 0.3), st.floats(0.02, 0.2))
def test_more_mulch_is_never_colder_in_a_cold_spell(coldest, material, depth, more):
    spell = over_ground(np.concatenate([np.full(24, 4.0), np.full(72, coldest)]))
    thin, thick = (stem_under_mulch(spell, MulchBuild(material, each)).min() for each in (depth, depth + more))
    # Cells of another size move the front a little: see the unit test of half the cells.
    assert thick >= thin - 0.3


@few
@given(air, st.sampled_from(sorted(MulchMaterial)), st.floats(0.01, 0.3), st.floats(0.0, 1e6))
def test_no_jump_breaks_a_column_and_no_heat_is_lost(temperature, material, depth, conductance):
    column = column_of([Layer(MULCHES[material], depth), Layer(GARDEN_LOAM, 0.5)], cell=0.02)
    start = column.enthalpy(np.full((len(column.size), 1), 3.0))
    weather = np.array([temperature])
    solved = solve_column(column, Film(weather, np.full(weather.shape, conductance)), 8.0, start, [0.0, depth])
    assert np.isfinite(solved.temperature).all()
    lowest, highest = min(weather.min(), 3.0), max(weather.max(), 8.0)
    assert (solved.temperature >= lowest - 1e-9).all()
    assert (solved.temperature <= highest + 1e-9).all()
    gained = ((solved.enthalpy - start) * column.size).sum()
    assert abs(gained - solved.heat[0]) <= 1e-10 * (np.abs(start) * column.size).sum()


@few
@given(air, covers, st.floats(0.0, 20.0), st.floats(0.0, 15.0))
def test_colder_air_never_warms_the_inside_of_a_wrap(temperature, cover, wind, colder_by):
    colder = np.array(temperature)
    colder[20:] -= colder_by
    inside = under_wrap(round_wrap([temperature, colder], wind), cover).inside
    assert np.isfinite(inside).all()
    assert (inside[1] <= inside[0] + 1e-9).all()


@few
@given(air, covers, st.floats(0.0, 20.0))
def test_a_cover_that_harms_in_any_hour_of_the_coldest_night_says_why(temperature, cover, wind):
    weather = round_wrap(temperature, wind)
    told = under_wrap(weather, cover)
    outside = weather.air_temperature[0, 12:]
    harmed = told.inside[0] < outside
    for told_by in (outside, told.inside[0]):
        if harmed[told_by.argmin()]:
            assert told.reason is not None
    if not harmed.any():
        assert told.reason is None


@few
@given(air, st.sampled_from(sorted(StoreKind)), st.floats(600.0, 1e7))
def test_a_room_stays_between_the_extremes_outside_and_the_ground(temperature, kind, constant):
    field = np.array([temperature])
    inside = inside_store_room(field, 12, kind, time_constant=constant)
    assert (inside >= min(field.min(), 8.0) - 1e-9).all()
    assert (inside <= max(field.max(), 8.0) + 1e-9).all()
