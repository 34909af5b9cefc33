import numpy as np
import pytest

from alertd.site import Insulation, StandsOn
from alertd.thermal.convection import wall_film_coefficient
from alertd.thermal.sky import radiative_coefficient
from alertd.thermal.surroundings import surroundings_of
from tests.fakes.cold_nights import forcing_of_nights, pot_with

NIGHT = [-10.0]
#: Six in the morning of the cold night, and noon before it, in hours from the first mild noon.
DAWN, MIDDAY = 18, 0


def around(pot, measured=None, nights=NIGHT, **weather):
    forcing, _ = forcing_of_nights(nights, **weather)
    values = {name: np.asarray(parameter.value) for name, parameter in pot.parameters.items()}
    return surroundings_of(pot, forcing, values | (measured or {})), forcing


def at(values, forcing, hour):
    return float(values[0, forcing.n_before + hour])


def test_the_wall_is_as_cold_as_air_and_half_of_the_sky_make_it():
    pot = pot_with()
    found, forcing = around(pot)
    air, sky = at(forcing.air_temperature, forcing, DAWN), at(forcing.sky_temperature, forcing, DAWN)
    diameter = pot.container.radius_top + pot.container.radius_bottom
    convective = float(wall_film_coefficient(diameter, 1.0, 3.0, height=pot.container.height, air_temperature=air))
    radiative = float(radiative_coefficient(air, sky))
    expected = air + 0.5 * radiative * (sky - air) / (convective + radiative)
    assert at(found.wall.temperature, forcing, DAWN) == pytest.approx(expected)
    assert at(found.wall.conductance, forcing, DAWN) == pytest.approx(1.0 / (1.0 / (convective + radiative) + 0.01))


def test_sun_warms_wall_and_top_by_day_only_and_by_its_share():
    sunny, forcing = around(pot_with(sun=0.8))
    shaded, _ = around(pot_with(sun=0.0))
    for one, other in ((sunny.wall, shaded.wall), (sunny.top, shaded.top)):
        assert at(one.temperature, forcing, MIDDAY) > at(other.temperature, forcing, MIDDAY) + 2.0
        assert at(one.temperature, forcing, DAWN) == at(other.temperature, forcing, DAWN)


@pytest.mark.parametrize("insulation", [each for each in Insulation if each is not Insulation.NONE])
def test_insulation_hinders_heat_at_the_wall_and_nowhere_else(insulation):
    bare, forcing = around(pot_with())
    wrapped, _ = around(pot_with(insulation=insulation))
    assert at(wrapped.wall.conductance, forcing, DAWN) < 0.75 * at(bare.wall.conductance, forcing, DAWN)
    np.testing.assert_array_equal(wrapped.wall.temperature, bare.wall.temperature)
    np.testing.assert_array_equal(wrapped.top.conductance, bare.top.conductance)


def test_a_resistance_that_somebody_measured_counts_as_it_is():
    own = {"insulation_resistance": 1.0}
    bare, forcing = around(pot_with())
    wrapped, _ = around(pot_with(measured=own))
    difference = 1.0 / at(wrapped.wall.conductance, forcing, DAWN) - 1.0 / at(bare.wall.conductance, forcing, DAWN)
    assert difference == pytest.approx(1.0)


def test_mulch_and_snow_hinder_heat_at_the_top():
    bare, forcing = around(pot_with())
    mulched, _ = around(pot_with(mulch=0.06))
    snowy, _ = around(pot_with(), snow=0.09)
    resistance = 1.0 / at(bare.top.conductance, forcing, DAWN)
    assert 1.0 / at(mulched.top.conductance, forcing, DAWN) == pytest.approx(resistance + 1.0)
    assert 1.0 / at(snowy.top.conductance, forcing, DAWN) == pytest.approx(resistance + 1.0)


def test_snow_hinders_heat_at_the_wall_as_far_as_it_reaches():
    pot = pot_with()
    conductances = []
    for snow in (0.0, pot.container.height / 2.0, pot.container.height, 2.0 * pot.container.height):
        found, forcing = around(pot, snow=snow)
        conductances.append(at(found.wall.conductance, forcing, DAWN))
    bare, half, buried, deeper = conductances
    assert buried < half < bare
    assert half == pytest.approx((bare + buried) / 2.0)
    assert deeper == pytest.approx(buried)


def test_snow_keeps_the_sun_from_what_it_hides():
    buried, half = pot_with(sun=1.0).container.height, pot_with(sun=1.0).container.height / 2.0
    warmings = []
    for snow in (0.0, half, buried):
        sunny, forcing = around(pot_with(sun=1.0), snow=snow)
        shaded, _ = around(pot_with(sun=0.0), snow=snow)
        warmings.append(
            [
                at(getattr(sunny, name).temperature - getattr(shaded, name).temperature, forcing, MIDDAY)
                for name in ("wall", "top")
            ]
        )
    (bare_wall, bare_top), (half_wall, white_top), (buried_wall, _) = warmings
    assert bare_wall > half_wall > 2.0
    assert buried_wall == pytest.approx(0.0, abs=1e-9)
    assert white_top == pytest.approx(0.3 * bare_top)


def test_neighbours_take_part_of_the_wall_from_the_weather_but_half_of_it_stays_free():
    shares = []
    for neighbours in (1, 2, 4, 12, 50):
        found, forcing = around(pot_with(neighbours=neighbours))
        shares.append(at(found.wall.conductance, forcing, DAWN))
    alone, two, four, twelve, fifty = shares
    assert alone > two > four > twelve
    assert fifty == twelve == pytest.approx(alone * (1.0 - 0.5 * 0.65))


def test_wind_goes_under_a_pot_on_feet_and_not_under_one_on_the_ground():
    raised, forcing = around(pot_with(stands_on=StandsOn.FEET))
    standing, _ = around(pot_with())
    np.testing.assert_array_equal(raised.bottom.temperature, forcing.air_temperature)
    assert at(standing.bottom.temperature, forcing, DAWN) > 0.0
    assert at(raised.bottom.conductance, forcing, DAWN) == 5.0
    assert at(standing.bottom.conductance, forcing, DAWN) == 8.0


def test_the_ground_follows_the_air_slowly_and_settles_between_it_and_the_deep_ground():
    found, forcing = around(pot_with(), nights=[-10.0] * 20, by_day=-10.0)
    ground = found.bottom.temperature[0]
    assert ground[: forcing.n_before].std() < 1.0
    assert ground[forcing.n_before + 19 * 24] == pytest.approx(0.67 * -10.0 + 0.33 * 8.0, abs=0.3)
    # Three days make up about two thirds of the way.
    first, last = ground[forcing.n_before + 18], ground[forcing.n_before + 19 * 24]
    after_three_days = ground[forcing.n_before + 18 + 72]
    assert 0.55 < (after_three_days - first) / (last - first) < 0.75


def test_each_member_has_its_own_numbers():
    forcing, _ = forcing_of_nights(NIGHT, offsets=(0.0, 0.0))
    pot = pot_with()
    values = {name: np.asarray(parameter.value) for name, parameter in pot.parameters.items()}
    values["sky_deviation"] = np.array([-1.0, 1.0])
    values["pot_ground_temperature"] = np.array([4.0, 10.0])
    found = surroundings_of(pot, forcing, values)
    assert (found.wall.temperature[0] < found.wall.temperature[1]).all()
    assert (found.bottom.temperature[0] < found.bottom.temperature[1]).all()
