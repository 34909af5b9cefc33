import numpy as np
import pytest

from alertd.thermal.around import coldest_of, during, films_of, lowest_held, members_of, no_colder_than
from alertd.thermal.container import Container, Surroundings, solve_root_zone
from alertd.thermal.film import Film
from alertd.thermal.substrates import MIXES, medium_of

TEMPERATURE = np.array([[1.0, -30.0, 3.0], [4.0, 5.0, 6.0]])


def around_of(temperature=TEMPERATURE):
    wall, top, bottom = (
        Film(temperature + shift, np.full(temperature.shape, 5.0 + shift)) for shift in (0.0, -1.0, 2.0)
    )
    return Surroundings(wall, top, bottom)


def test_members_and_hours_are_picked_from_every_film():
    whole = around_of()
    for part, place in ((members_of(whole, slice(1, None)), np.s_[1:]), (during(whole, slice(1, 3)), np.s_[:, 1:3])):
        for found, film in zip(films_of(part), films_of(whole), strict=True):
            np.testing.assert_array_equal(found.temperature, film.temperature[place])
            np.testing.assert_array_equal(found.conductance, film.conductance[place])


def test_the_coldest_film_counts():
    np.testing.assert_array_equal(coldest_of(around_of()), TEMPERATURE - 1.0)


def test_what_is_colder_than_a_bound_is_raised_to_it():
    found = no_colder_than(around_of(), -20.0)
    assert [film.temperature[0, 1] for film in films_of(found)] == [-20.0, -20.0, -20.0]
    np.testing.assert_array_equal(found.wall.temperature[1], TEMPERATURE[1])
    np.testing.assert_array_equal(found.top.conductance, around_of().top.conductance)


@pytest.mark.parametrize("hours", [slice(0, 0), slice(2, 3)])
def test_nothing_changes_where_nothing_is_colder(hours):
    part = during(around_of(), hours)
    assert no_colder_than(part, -20.0) is part


@pytest.mark.parametrize("water", [0.06, 0.35, 0.55])
@pytest.mark.parametrize("name", MIXES)
def test_every_mix_can_be_computed_in_any_cold(name, water):
    medium = medium_of(water, 1.0, MIXES[name])
    with pytest.raises(ValueError, match="colder than the model holds"):
        solve_root_zone(Container(0.15, 0.12, 0.3), medium, around_of(np.full((1, 60), -80.0)), 4.0)
    held = lowest_held(medium)
    zone = solve_root_zone(
        Container(0.15, 0.12, 0.3), medium, no_colder_than(around_of(np.full((1, 60), -80.0)), held), 4.0
    )
    assert held - 0.01 <= zone.coldest_share[0, -1] < -20.0
