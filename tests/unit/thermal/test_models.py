"""What models say of whole groups, from what their people know and a forecast."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from alertd.site import (
    CoverBuild,
    CoverFill,
    Growing,
    Insulation,
    MulchBuild,
    MulchMaterial,
    Place,
    PotStanding,
    Protection,
    StandsOn,
    StoreKind,
    StoreRoom,
    TreeGroup,
)
from alertd.thermal import Model, ModelMemory, Models, ModelWeather, Tissue
from alertd.thermal.forcing import forcing_of
from alertd.thermal.wrap import COLDER_THAN_AIR
from alertd.weather import Series
from tests.fakes.garden import make_garden

SITE = make_garden().site
START = np.datetime64("2026-01-20T18:00:00", "s")
HOUR = np.timedelta64(3600, "s")
POTS = TreeGroup("pots", "the pots", Growing.CONTAINER, 12, "fig", "fig", Protection.CLUSTER, 25.0)
WOOD = TreeGroup("figs", "the figs", Growing.IN_GROUND, 3, "fig", "fig", Protection.WRAP)


def air(hours, minimum, maximum):
    """Return air with its minimum at 12:00 UTC, sunrise at the site."""
    clock = np.array([(18 + hour) % 24 for hour in hours])
    return (minimum + maximum) / 2 + (maximum - minimum) / 2 * np.cos(2 * np.pi * (clock - 21) / 24)


def series(hours, minimum, maximum, n=1, **more):
    offsets = np.linspace(-1.5, 1.5, n)[:, None] if n > 1 else np.zeros((1, 1))
    temperature = air(hours, minimum, maximum)[None, :] + offsets
    values = {"air_temperature": temperature}
    for name, value in more.items():
        values[name] = np.full(temperature.shape, float(value))
    if "wind_speed" in more:
        values["dew_point_temperature"] = temperature - 4.0
    return Series(START + np.array(hours) * HOUR, values)


def weather(minimum=-13.0, maximum=-4.0, *, past=True, n=5, wind=1.0, cloud=10.0, snow=0.0):
    more = {"wind_speed": wind, "cloud_area_fraction": cloud, "surface_snow_thickness": snow}
    before = series(range(-6 * 24, 0), 0.0, 7.0, **more) if past else None
    return ModelWeather(SITE, series(range(96), minimum, maximum, n, **more), before)


def roots(group=POTS, when=None, *, is_in_place=False):
    models = Models(group, when or weather(), 0.2)
    return models.felt(Tissue.ROOTS, -3.0, -5.0, is_in_place=is_in_place)


def wood(group=WOOD, when=None, *, tissue=Tissue.WOOD, limit=-8.0, is_in_place=False):
    return Models(group, when or weather(), 0.2).felt(tissue, limit, -12.2, is_in_place=is_in_place)


def litres(volume):
    return roots(replace(POTS, container_volume=volume))


def test_larger_pots_stay_warmer_and_all_follow_the_nights():
    small, middle, large = litres(15.0), litres(40.0), litres(100.0)
    assert small.minimum < middle.minimum < large.minimum
    assert small.minimum < -7.0
    assert -13.0 < large.minimum < -0.1
    assert small.medians["shell"].min() < small.medians["core"].min()
    assert small.medians["frozen_share"].max() > large.medians["frozen_share"].max()
    assert small.medians["hours_below"][-1] > large.medians["hours_below"][-1]
    assert small.exposure.temperature.shape == (25, 96)


def test_pots_pushed_together_stay_warmer_and_so_do_those_in_a_blanket_or_mulch():
    alone = roots().minimum
    assert roots(is_in_place=True).minimum > alone
    for standing in (PotStanding(insulation=Insulation.BUBBLE_WRAP), PotStanding(together=12), PotStanding(mulch=0.1)):
        assert roots(replace(POTS, pot=standing)).minimum > alone


def test_what_a_pot_stands_on_matters():
    on = {under: roots(replace(POTS, pot=PotStanding(stands_on=under))).minimum for under in StandsOn}
    assert on[StandsOn.FEET] < on[StandsOn.SOIL]


def test_snow_keeps_the_cold_off():
    assert roots(when=weather(snow=0.3)).minimum > roots().minimum


def test_numbers_that_nobody_measured_make_the_range_and_measured_ones_do_not():
    said = roots()
    assert {"water_content", "pot_wind_share", "sky_deviation"} <= {each.parameter.name for each in said.assumed}
    assert said.spread > 0.5
    known = tuple((each.parameter.name, each.parameter.value) for each in said.used)
    sure = roots(replace(POTS, parameters=known))
    assert sure.assumed == ()
    assert sure.spread == pytest.approx(0.5)
    assert sure.minimum_high - sure.minimum_low < said.minimum_high - said.minimum_low


def test_mild_weather_needs_no_solving():
    said = roots(when=weather(3.0, 12.0, wind=4.0, cloud=90.0))
    assert said.is_bound
    assert said.minimum > -3.0


def test_what_was_asked_for_is_kept():
    models = Models(POTS, weather(), 0.2)
    first = models.felt(Tissue.ROOTS, -3.0, -5.0, is_in_place=False)
    assert models.felt(Tissue.ROOTS, -3.0, -5.0, is_in_place=False) is first


def test_without_the_days_before_people_are_told_so():
    said = roots(when=weather(past=False))
    assert said.remarks == (
        "Nothing is known of the weather of the 10 days before; it is taken to have been as on the first known day.",
    )
    assert roots().remarks == ()


def test_a_forecast_without_any_temperature_says_nothing():
    empty = series(range(4), 0.0, 1.0)
    nothing = Series(empty.times, {"air_temperature": np.full((1, 4), np.nan)})
    assert Models(POTS, ModelWeather(SITE, nothing, None), 0.2).felt(Tissue.ROOTS, 0.0, -5.0, is_in_place=False) is None
    with pytest.raises(ValueError, match="no forecast of the air temperature"):
        forcing_of(40.0, -75.0, nothing, None)


def test_hours_that_a_realization_does_not_tell_stay_unknown():
    ahead = weather().ahead
    ahead.air_temperature[1, 50:] = np.nan
    said = roots(when=ModelWeather(SITE, ahead, None))
    rows = said.exposure.temperature[5:10]
    assert np.isnan(rows[:, 51:]).all()
    assert not np.isnan(rows[:, :50]).any()


def test_weather_that_no_source_tells_is_named():
    bare = ModelWeather(SITE, series(range(96), -13.0, -4.0), None)
    assert roots(when=bare).missing == ("wind_speed", "cloud_area_fraction", "dew_point_temperature")
    assert wood(when=bare) is None, "nothing is known beside the air"


def test_bare_wood_is_colder_than_the_air_would_make_it_in_calm_clear_nights_only():
    calm, windy = wood(), wood(when=weather(wind=6.0, cloud=100.0))
    assert calm.minimum < windy.minimum
    assert -13.0 < windy.minimum < -11.0
    assert not calm.is_bound
    assert wood(limit=-30.0).is_bound


def test_a_wall_warms_and_a_hollow_chills():
    usual = wood().minimum
    assert wood(replace(WOOD, place=Place(wall_view=0.35))).minimum > usual
    assert wood(replace(WOOD, place=Place(hollow_offset=-3.0))).minimum < usual - 0.5


def test_a_narrow_wrap_gains_little_and_says_so_where_it_is_colder_inside():
    said = wood(is_in_place=True, limit=0.0)
    assert said.remarks == (COLDER_THAN_AIR,)
    assert wood(is_in_place=True, when=weather(wind=5.0, cloud=100.0), limit=0.0).remarks == ()


def test_a_wide_or_filled_wrap_gains_no_more_than_practice_knows():
    bare = wood(limit=0.0)
    for cover, most in ((CoverBuild(skirt=0.6), 10 / 1.8), (CoverBuild(fill=CoverFill.STRAW), 10 / 1.8)):
        covered = wood(replace(WOOD, cover_build=cover), is_in_place=True, limit=0.0)
        assert 2.0 < covered.minimum - bare.minimum <= most + 0.3
    loose = wood(
        replace(WOOD, cover_build=CoverBuild(skirt=0.6, is_closed_at_ground=False)), is_in_place=True, limit=0.0
    )
    closed = wood(replace(WOOD, cover_build=CoverBuild(skirt=0.6)), is_in_place=True, limit=0.0)
    assert loose.minimum <= closed.minimum
    measured = wood(replace(WOOD, cover_build=CoverBuild(measured_gain=4.0)), is_in_place=True, limit=0.0)
    assert measured.minimum == pytest.approx(bare.minimum + 4.0, abs=0.5)


def test_stems_under_mulch_hardly_feel_the_night_and_wet_leaves_are_the_worst():
    bent = replace(WOOD, protection=Protection.BEND_AND_MULCH)
    minima = {
        material: wood(replace(bent, mulch_build=MulchBuild(material, 0.15)), is_in_place=True, limit=20.0).minimum
        for material in MulchMaterial
    }
    assert min(minima.values()) == minima[MulchMaterial.WET_LEAVES]
    assert minima[MulchMaterial.STRAW] > 0.0
    assert minima[MulchMaterial.STRAW] > minima[MulchMaterial.WOOD_CHIPS]


def test_growth_is_judged_like_wood():
    assert wood(tissue=Tissue.GROWTH, limit=0.0).exposure.tissue is Tissue.GROWTH


def test_numbers_of_wood_that_were_measured_add_nothing():
    sure = wood(replace(WOOD, parameters=(("wind_share", 0.4), ("sky_view", 0.5))))
    assert {"wind_share", "sky_view"}.isdisjoint(each.parameter.name for each in sure.assumed)
    assert sure.spread < wood().spread


def test_pots_in_store_follow_the_room_and_what_its_thermometer_says():
    room = StoreRoom(kind=StoreKind.SHED, sensor="shed")
    group = replace(POTS, protection=Protection.STORE, store_room=room)
    without = roots(group, is_in_place=True)
    assert without.model is Model.STORE_ROOM
    assert without.minimum > roots(group).minimum, "in store"
    told = {}
    for degrees in (-6.0, 4.0):
        told[degrees] = roots(group, replace_sensors(weather(), shed=degrees), is_in_place=True)
    assert told[-6.0].medians["air"][0] < told[4.0].medians["air"][0]
    elsewhere = roots(group, replace_sensors(weather(), cellar=-6.0), is_in_place=True)
    assert elsewhere.minimum == without.minimum


def test_a_room_that_has_become_colder_by_its_thermometer_is_computed_anew():
    group = replace(POTS, protection=Protection.STORE, store_room=StoreRoom(kind=StoreKind.SHED, sensor="shed"))
    memory, said = ModelMemory(timedelta(days=2)), []
    for degrees in (3.0, 3.1, -4.0):
        when = replace_sensors(weather(), shed=degrees)
        when.memory = memory
        said.append(roots(group, when, is_in_place=True))
    assert said[1].minimum == said[0].minimum
    assert said[2].minimum < said[0].minimum


def replace_sensors(when, **sensors):
    """Return the weather with what own thermometers say."""
    return ModelWeather(when.site, when.ahead, when.past, sensors)
