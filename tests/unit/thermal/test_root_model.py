from dataclasses import replace

import numpy as np
import pytest

from alertd.site import PotStanding
from alertd.thermal import Model, Tissue
from alertd.thermal.container import Surroundings, solve_root_zone
from alertd.thermal.felt import DRAWS
from alertd.thermal.film import Film
from alertd.thermal.forcing import forcing_of
from alertd.thermal.pots import Pot, container_of
from alertd.thermal.root_model import MODEL_ERROR, hours_of, memory_of, roots_felt, warm_bound
from alertd.thermal.substrates import medium_of
from alertd.thermal.surroundings import surroundings_of
from alertd.weather import Series
from tests.fakes.cold_nights import (
    HOUR,
    LATITUDE,
    LONGITUDE,
    NOON,
    celsius,
    felt_in,
    forcing_of_nights,
    pot_with,
    series_of,
    split,
)

COLD = [celsius(15.0)] * 3


def measured_pot(litres=25.0, **changes):
    """Return a pot whose every number is measured."""
    pot = pot_with(litres)
    numbers = {name: each.measured(changes.get(name, each.value)) for name, each in pot.parameters.items()}
    return replace(pot, parameters=numbers)


def lowest(felt, name):
    return float(felt.medians[name].min())


@pytest.fixture(scope="module")
def cold():
    forcing, times = forcing_of_nights(COLD, offsets=(-2.0, 0.0, 2.0))
    return forcing, times, felt_in(forcing, times, pot_with())


def test_roots_have_a_temperature_at_each_time_of_the_forecast(cold):
    _, times, felt = cold
    assert felt.model is Model.ROOT_BALL
    assert felt.exposure.tissue is Tissue.ROOTS
    np.testing.assert_array_equal(felt.exposure.times, times)
    assert felt.exposure.temperature.shape == (3 * DRAWS, times.size)
    assert np.isfinite(felt.exposure.temperature).all()
    assert not felt.is_bound
    assert felt.missing == ()
    for name in ("shell", "core", "frozen_share", "hours_below"):
        assert felt.medians[name].shape == times.shape


def test_roots_are_warmer_than_the_air_and_coldest_at_the_end_of_the_last_night(cold):
    forcing, times, felt = cold
    assert forcing.air_temperature[1].min() < felt.minimum < 0.0
    assert felt.minimum_low < felt.minimum < felt.minimum_high
    assert lowest(felt, "shell") < lowest(felt, "core")
    assert times[2 * 24 + 18] - 2 * HOUR <= felt.coldest <= times[2 * 24 + 18] + 4 * HOUR


def test_hours_below_the_limit_are_counted_from_the_first_hour_ahead(cold):
    _, _, felt = cold
    hours = felt.medians["hours_below"]
    assert hours[0] == 0.0
    assert set(np.diff(hours)) <= {0.0, 1.0}
    assert 3.0 < hours[-1] < 60.0


def test_hours_are_counted_as_hours_in_a_forecast_of_fewer_times(cold):
    forcing, times, felt = cold
    coarse = felt_in(forcing, times[::3], pot_with())
    np.testing.assert_array_equal(coarse.medians["hours_below"], felt.medians["hours_below"][::3])
    np.testing.assert_array_equal(coarse.exposure.temperature, felt.exposure.temperature[:, ::3])


def test_the_temperature_is_that_of_the_named_share_of_the_volume(cold):
    forcing, times, _ = cold
    pot = measured_pot()
    shell, inside = (felt_in(forcing, times, pot, share=share).exposure.temperature for share in (0.1, 0.6))
    assert (shell.min(axis=1) < inside.min(axis=1)).all()
    # Where half of the volume is to lie below the limit, half lies below it.
    half = felt_in(forcing, times, pot, critical=-3.0, share=0.5)
    middle = half.exposure.temperature[DRAWS + DRAWS // 2]
    crossed = int(np.flatnonzero(middle < -3.0)[0])
    assert half.medians["frozen_share"][crossed - 1] < 0.5 <= half.medians["frozen_share"][crossed]


def test_what_roots_feel_is_what_the_solver_says_in_one_piece():
    """Splitting days before from hours ahead, and members from realizations, changes no more than its own steps do."""
    forcing, times = forcing_of_nights(COLD, offsets=(-2.0, 0.0, 2.0))
    pot = measured_pot()
    felt = felt_in(forcing, times, pot)
    values = {name: np.asarray(each.value) for name, each in pot.parameters.items()}
    around = surroundings_of(pot, forcing, values)
    medium = medium_of(pot.parameters["water_content"].value)
    start = max(float(forcing.air_temperature[:, :24].mean()), 0.0)
    day = Surroundings(
        *(Film(each.temperature[:, :24], each.conductance[:, :24]) for each in (around.wall, around.top, around.bottom))
    )
    begun = solve_root_zone(pot.container, medium, day, start)
    zone = solve_root_zone(pot.container, medium, around, begun.end)
    expected = zone.coldest_share[:, hours_of(times, forcing)]
    np.testing.assert_allclose(felt.exposure.temperature[DRAWS // 2 :: DRAWS], expected, atol=5e-3)
    assert felt.spread == MODEL_ERROR
    assert all(each.share == 0.0 and not each.parameter.is_assumed for each in felt.used)


def test_the_state_at_a_time_is_what_the_hour_before_has_left():
    forcing, _ = forcing_of_nights([-5.0])
    assert hours_of(np.array([NOON + 24 * 5 * HOUR]), forcing)[0] == forcing.n_before - 1
    late = forcing.times[[-1]] + np.timedelta64(1800, "s")
    assert hours_of(late, forcing)[0] == forcing.times.size - 2
    assert hours_of(forcing.times[:1] - 5 * HOUR, forcing)[0] == 0


def test_every_assumed_number_adds_its_part_and_the_whole_is_the_root_of_their_squares(cold):
    _, _, felt = cold
    assert {each.parameter.name for each in felt.used} == set(pot_with().parameters)
    assert felt.assumed == felt.used
    total = np.sqrt(MODEL_ERROR**2 + sum(each.share**2 for each in felt.used))
    assert felt.spread == pytest.approx(total)
    assert [each.share for each in felt.used] == sorted((each.share for each in felt.used), reverse=True)
    assert felt.used[0].share > 0.3


def test_the_part_of_a_number_is_half_of_what_its_two_edges_make(cold):
    forcing, times, felt = cold
    edges = []
    for edge in (0.27, 0.43):
        edge_felt = felt_in(forcing, times, measured_pot(water_content=edge))
        edges.append(edge_felt.exposure.temperature[DRAWS + DRAWS // 2])
    place = int(np.flatnonzero(times == felt.coldest)[0])
    part = next(each.share for each in felt.used if each.parameter.name == "water_content")
    assert part == pytest.approx(abs(edges[1][place] - edges[0][place]) / 2.0, abs=5e-3)


def test_a_measured_number_no_longer_adds_to_the_uncertainty(cold):
    forcing, times, felt = cold
    own = felt_in(forcing, times, pot_with(measured={"water_content": 0.35}))
    assert own.spread < felt.spread
    used = {each.parameter.name: each for each in own.used}
    assert used["water_content"].share == 0.0
    assert "water_content" not in {each.parameter.name for each in own.assumed}


def test_a_cold_realization_has_the_uncertainty_of_the_cold_though_the_median_is_amid_freezing():
    """A root ball amid freezing is at 0 °C whatever its numbers; a colder realization of it is not."""
    offsets = (-7.0, -6.0, -5.0, 0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 2.0, 2.0)
    forcing, times = forcing_of_nights([-4.0] * 2, offsets=offsets)
    felt = felt_in(forcing, times, pot_with())
    drawn = felt.exposure.temperature.reshape(len(offsets), DRAWS, -1)
    place = int(np.argmin(np.median(drawn, axis=1).min(axis=0)))
    widths = np.ptp(drawn[:, :, place], axis=1)
    alone, _ = forcing_of_nights([-4.0] * 2, offsets=offsets[1:2])
    own = np.ptp(felt_in(alone, times, pot_with()).exposure.temperature[:, place])
    assert widths[1] == pytest.approx(own, rel=0.01)
    assert widths[1] > 2.0 * widths[5]
    assert felt.spread > 2.0 * MODEL_ERROR


def test_one_realization_more_does_not_change_what_another_feels():
    forcing, times = forcing_of_nights([-10.0] * 2, offsets=(0.0, -3.0))
    alone, _ = forcing_of_nights([-10.0] * 2, offsets=(-3.0,))
    both, one = felt_in(forcing, times, pot_with()), felt_in(alone, times, pot_with())
    np.testing.assert_allclose(both.exposure.temperature[DRAWS:], one.exposure.temperature, atol=0.02)


def test_no_cold_is_too_much_and_what_is_beyond_the_formulae_is_said():
    forcing, times = forcing_of_nights([-55.0] * 3, by_day=-50.0, wind=0.0, cloud=0.0)
    felt = felt_in(forcing, times, pot_with(15.0))
    assert felt.minimum < -35.0
    assert "is computed as if it were" in felt.remarks[-1]
    wet, _ = forcing_of_nights([-27.0], wind=0.0, cloud=0.0)
    assert felt_in(wet, times[:40], pot_with(5.0, measured={"water_content": 0.85})).minimum < -2.0


def test_a_realization_that_falls_silent_is_unknown_from_then_on():
    forcing, times = forcing_of_nights(COLD, offsets=(0.0, 0.0))
    forcing.is_known[1, forcing.n_before + 40 :] = False
    felt = felt_in(forcing, times, pot_with())
    told = ~np.isnan(felt.exposure.temperature)
    assert told[:DRAWS].all()
    assert told[DRAWS:, :41].all()
    assert not told[DRAWS:, 41:].any()


def test_the_first_time_is_known_even_if_nothing_is_known_of_the_days_before():
    ahead = series_of(np.full(48, -9.0))
    forcing = forcing_of(LATITUDE, LONGITUDE, ahead, None)
    assert np.isfinite(felt_in(forcing, ahead.times, pot_with()).exposure.temperature).all()


def test_guessed_days_are_said_and_add_to_the_uncertainty():
    air = np.full(24 * 12, -3.0)
    past, ahead = split(series_of(air), 10)
    shares = {}
    for name, known in (("known", past), ("guessed", None)):
        felt = felt_in(forcing_of(LATITUDE, LONGITUDE, ahead, known), ahead.times, pot_with(60.0))
        shares[name] = next(each.share for each in felt.used if each.parameter.name == "days_before_warmer_by")
        assert bool(felt.remarks) is (name == "guessed")
    assert felt.remarks == (
        "Nothing is known of the weather of the 10 days before; it is taken to have been as on the first known day.",
    )
    assert shares["guessed"] > 1.5 * shares["known"] > 0.0


@pytest.mark.parametrize(("known_days", "words"), [(7, "about 3 days before"), (9, "about 1 day before")])
def test_some_guessed_days_are_said_by_their_number_where_they_matter(known_days, words):
    past, ahead = split(series_of(np.full(24 * (known_days + 2), -3.0), cloud=1.0), known_days)
    forcing = forcing_of(LATITUDE, LONGITUDE, ahead, past)
    large = felt_in(forcing, ahead.times, pot_with(100.0, sun=0.0))
    assert words in large.remarks[0]
    assert felt_in(forcing, ahead.times, pot_with(3.0, sun=0.0)).remarks == ()


def test_what_is_missing_of_the_weather_is_passed_on():
    ahead = Series(NOON + np.arange(48) * HOUR, {"air_temperature": np.full((1, 48), -6.0)})
    felt = felt_in(forcing_of(LATITUDE, LONGITUDE, ahead, None), ahead.times, pot_with())
    assert felt.missing == ("wind_speed", "cloud_area_fraction", "dew_point_temperature")


def test_mild_weather_costs_nothing_and_gives_a_bound():
    forcing, times = forcing_of_nights([4.0, 3.0], mild_days=5)
    pot = pot_with()
    felt = roots_felt(pot, forcing, times, limit=-8.0, critical=-9.0, share=0.2)
    assert felt.is_bound
    assert felt.used == ()
    assert felt.exposure.temperature.shape == (1, times.size)
    whole = felt_in(forcing, times, pot)
    assert not whole.is_bound
    assert (felt.exposure.temperature <= whole.exposure.temperature.min(axis=0)).all()


def test_a_bound_is_not_given_where_an_assumed_number_might_pass_the_limit():
    forcing, times = forcing_of_nights([4.0, 3.0])
    pot = pot_with()
    values = {name: np.asarray(each.value) for name, each in pot.parameters.items()}
    least = float(warm_bound(surroundings_of(pot, forcing, values), 20.0).min())
    assert roots_felt(pot, forcing, times, limit=least - 4.0, critical=-9.0, share=0.2).is_bound
    assert not roots_felt(pot, forcing, times, limit=least - 0.2, critical=-9.0, share=0.2).is_bound
    own = measured_pot()
    assert roots_felt(own, forcing, times, limit=least - 1.1, critical=-9.0, share=0.2).is_bound


def test_days_before_that_were_colder_than_all_that_is_known_lower_the_bound():
    forcing, times = forcing_of_nights([4.0])
    warm, cold = (
        roots_felt(measured_pot(days_before_warmer_by=shift), forcing, times, limit=-30.0, critical=-9.0, share=0.2)
        for shift in (0.0, -9.0)
    )
    assert cold.is_bound
    assert cold.exposure.temperature.max() < warm.exposure.temperature.min() - 5.0


def test_the_bound_holds_in_any_part_of_the_root_ball():
    forcing, _ = forcing_of_nights(COLD)
    pot = pot_with(5.0)
    values = {name: np.asarray(each.value) for name, each in pot.parameters.items()}
    around = surroundings_of(pot, forcing, values)
    zone = solve_root_zone(pot.container, medium_of(0.2), around, 4.0, share=0.001)
    # Over a cell the temperature is taken to rise evenly, which may reach past what its neighbours have.
    assert (zone.coldest_share >= warm_bound(around, 4.0) - 0.05).all()


def test_the_bound_begins_no_warmer_than_the_root_ball():
    film = Film(np.array([[5.0, 3.0, 4.0], [5.0, 3.0, 4.0]]), np.ones((2, 3)))
    bound = warm_bound(Surroundings(film, film, film), np.array([4.0, -1.0]))
    np.testing.assert_array_equal(bound, [[4.0, 3.0, 3.0], [-1.0, -1.0, -1.0]])


def test_a_large_root_ball_amid_a_long_cold_spell_is_frozen_when_the_forecast_begins():
    """Begun unfrozen ten days before, 100 L would still hold on to its latent heat (see `memory_of`)."""
    past, ahead = split(series_of(np.full(24 * 12, -5.0), cloud=1.0), 10)
    felt = felt_in(forcing_of(LATITUDE, LONGITUDE, ahead, past), ahead.times, pot_with(100.0, sun=0.0))
    assert felt.medians["core"][0] < -1.0
    container = container_of(100.0)
    film = Film(np.full((1, 240), -5.0), np.full((1, 240), 8.0))
    unsettled = solve_root_zone(container, medium_of(0.35), Surroundings(film, film, film), 0.0)
    assert unsettled.core[0, -1] > -0.8


def test_pots_may_be_made_by_hand():
    numbers = pot_with().parameters
    pot = Pot(container_of(10.0), PotStanding(), numbers, 1)
    assert pot.mix.porosity == 0.85


@pytest.mark.parametrize(("litres", "days"), [(1.0, 4), (15.0, 7), (40.0, 12), (100.0, 20), (5000.0, 20)])
def test_a_larger_root_ball_remembers_more_days(litres, days):
    assert memory_of(pot_with(litres)) == days


@pytest.mark.parametrize("litres", [5.0, 15.0, 40.0])
def test_after_so_many_days_of_cold_it_no_longer_matters_how_a_root_ball_began(litres):
    pot = pot_with(litres)
    film = Film(np.full((1, 24 * memory_of(pot)), -5.0), np.full((1, 24 * memory_of(pot)), 8.0))
    ends = [
        solve_root_zone(pot.container, medium_of(0.35), Surroundings(film, film, film), start).coldest_share[0, -1]
        for start in (0.0, -5.0)
    ]
    assert abs(ends[0] - ends[1]) < 0.3


def test_days_that_a_small_root_ball_has_forgotten_do_not_count():
    air = np.full(24 * 12, 3.0)
    air[: 24 * 3] = -20.0
    temperatures = []
    for before in (air, np.full(24 * 12, 3.0)):
        past, ahead = split(series_of(before), 10)
        forcing = forcing_of(LATITUDE, LONGITUDE, ahead, past)
        temperatures.append(felt_in(forcing, ahead.times, measured_pot(5.0, bottom_conductance=1e-6)).minimum)
    assert temperatures[0] == pytest.approx(temperatures[1], abs=1e-3)
