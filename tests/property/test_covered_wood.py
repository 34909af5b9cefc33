"""What must hold for wood under covers whatever the weather and the cover."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.site import CoverBuild, CoverFill, CoverMaterial, MulchBuild, MulchMaterial, Place
from alertd.thermal.forcing import forcing_of
from tests.fakes.cold_nights import series_of, split
from tests.fakes.covered import FIGS, bent_under, lowest, ring_of, told, wood_in, wrapped_in

few = settings(max_examples=12, deadline=None)
DAYS = 5
mulches = st.builds(MulchBuild, st.sampled_from(sorted(MulchMaterial)), st.floats(0.02, 0.3), st.booleans())
covers = st.builds(
    CoverBuild,
    material=st.sampled_from(sorted(CoverMaterial)),
    diameter=st.floats(0.3, 3.0),
    height=st.floats(0.3, 3.0),
    is_closed_at_ground=st.booleans(),
    skirt=st.floats(0.0, 1.5),
    fill=st.none() | st.sampled_from(sorted(CoverFill)),
)
groups = st.builds(wrapped_in, covers) | st.builds(ring_of, mulches) | st.builds(bent_under, mulches)
places = st.builds(Place, wall_view=st.floats(0.0, 0.6), hollow_offset=st.floats(-5.0, 0.0))
nights = st.lists(st.floats(-25.0, 2.0), min_size=3, max_size=3)
winds, clouds = st.floats(0.0, 10.0), st.floats(0.0, 1.0)


def weather_of(minima, wind, cloud, *, colder_by=0.0, from_hour=0):
    lows = np.repeat(np.array([0.0] * DAYS + minima), 24)
    hours = np.arange(lows.size)
    air = lows + 7.0 * (1.0 - np.cos(2.0 * np.pi * (hours - 18) / 24.0)) / 2.0
    dew_point = air - 3.0
    air[24 * DAYS + from_hour :] -= colder_by
    whole = series_of(air, wind=wind, cloud=cloud)
    whole.variables["dew_point_temperature"][:] = np.minimum(dew_point, air - 3.0)
    past, ahead = split(whole, DAYS)
    return forcing_of(40.0, 0.0, ahead, past), ahead.times


@few
@given(groups, places, nights, winds, clouds, st.floats(0.0, 15.0), st.integers(0, 60))
def test_colder_air_never_warms_covered_wood(group, place, minima, wind, cloud, colder_by, hour):
    standing = replace(group, place=place)
    usual = told(wood_in(standing, weather_of(minima, wind, cloud)))
    colder = told(wood_in(standing, weather_of(minima, wind, cloud, colder_by=colder_by, from_hour=hour)))
    assert (colder <= usual + 1e-6).all()


@few
@given(st.sampled_from([ring_of, bent_under]), mulches, st.floats(0.02, 0.2), st.floats(-25.0, -4.0), winds)
def test_more_mulch_is_never_colder_in_a_cold_spell(build, mulch, more, night, wind):
    spell = weather_of([night] * 3, wind, 1.0)
    thin, thick = (wood_in(build(replace(mulch, depth=each)), spell) for each in (mulch.depth, mulch.depth + more))
    # Cells of another size move the front of the frost a little.
    assert lowest(thick) >= lowest(thin) - 0.4


@few
@given(groups, places, nights, winds, clouds)
def test_a_cover_in_place_never_harms_without_the_model_saying_why(group, place, minima, wind, cloud):
    weather = weather_of(minima, wind, cloud)
    standing = replace(group, place=place)
    covered, bare = wood_in(standing, weather), wood_in(replace(FIGS, place=place), weather, is_in_place=False)
    if lowest(covered) < lowest(bare) - 1e-9:
        assert covered.remarks


@few
@given(covers, places, nights, winds, clouds)
def test_no_wrap_is_credited_with_more_than_ten_degrees_fahrenheit(cover, place, minima, wind, cloud):
    weather = weather_of(minima, wind, cloud)
    bare = told(wood_in(replace(FIGS, place=place), weather, is_in_place=False))
    gained = told(wood_in(wrapped_in(cover, place=place), weather)) - bare
    is_generous = cover.skirt >= 0.5 or cover.fill is not None
    assert gained.max() <= (5.6 if is_generous else 2.8) + 1e-9
