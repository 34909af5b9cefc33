"""The root ball against general solvers: `solve_ivp` of scipy (BDF) and FiPy, each with equations written out anew.

Two questions. Are the equations right? On cells of 0.25 cm all three must agree at every hour. And what do the large
cells cost that are used every day? There the minima must be right; in the hour in which a ring of 1.5 cm begins to
freeze or has just frozen through, the shell may be off by most of a degree, and is right again an hour later.
"""

import numpy as np
import pytest

from alertd.thermal import grid
from alertd.thermal.container import Container, Surroundings, solve_root_zone
from alertd.thermal.film import Film
from alertd.thermal.medium import constants_of
from tests.reference.fipy_pot import FipyCylinder
from tests.reference.plain_grid import PlainPot
from tests.reference.pot_cases import START, agreed_cases, films_of, medium_of, shape_of

pytestmark = pytest.mark.slow

#: The cold night of a weather, and the day after it.
WINDOW = slice(90, 132)


def hour_by_hour(shape, medium, films):
    """Return shell, core and mean [°C] at the end of each hour, shape (3, n_times), going on from state to state."""
    container = Container(*shape)
    volumes = grid.grid_of(container).volumes[:, :, None]
    state, rows = START, []
    for hour in range(films[0].temperature.shape[1]):
        now = [Film(film.temperature[:, [hour]], film.conductance[:, [hour]]) for film in films]
        zone = solve_root_zone(container, medium, Surroundings(*now), state)
        state = zone.end
        mean = (constants_of(medium).temperature(state.enthalpy) * volumes).sum() / volumes.sum()
        rows.append((zone.shell[0, 0], zone.core[0, 0], mean))
    return np.array(rows).T


def film_of(temperatures, conductance):
    hours = np.array([temperatures])
    return Film(hours, np.full_like(hours, conductance))


@pytest.fixture(scope="module", params=["a night of 10 °F", "a cold day in steps"])
def by_scipy(request):
    """Return a cone and what scipy says of it, on 40 x 30 cells graded towards the surfaces."""
    if request.param == "a night of 10 °F":
        case = agreed_cases()[7]
        shape, medium = shape_of(case.litres), medium_of(case.moisture)
        films = tuple(Film(each.temperature[:, WINDOW], each.conductance[:, WINDOW]) for each in films_of(case))
    else:
        shape, medium = shape_of(10.0), medium_of(0.35)
        air = np.repeat([-4.0, -8.0, -10.0, -8.0, -4.0, 1.0, 3.0, 5.0], 4)
        films = tuple(film_of(air, conductance) for conductance in (10.0, 5.0, 8.0))
    traces = PlainPot(shape, medium, films, (40, 30), 1.06).solve(START, tolerance=1e-4)
    return shape, medium, films, np.array([traces.shell[0], traces.core[0], traces.mean[0]])


@pytest.fixture(scope="module")
def by_fipy():
    """Return a cylinder and what FiPy says of it, on 48 x 36 equal cells with steps of 2 min.

    It warms at the end, so that the minima are minima.
    """
    radius, height, medium = 0.12, 0.24, medium_of(0.35)
    air = np.repeat([-4.0, -8.0, -10.0, -2.0], 4)
    hours = [{"wall": (outside, 10.0), "top": (outside, 5.0), "bottom": (outside, 8.0)} for outside in air]
    told = FipyCylinder(radius, height, medium, (48, 36)).solve(START, hours, steps=30)
    films = tuple(film_of(air, conductance) for conductance in (10.0, 5.0, 8.0))
    return (radius, radius, height), medium, films, told


def assert_right_on_small_cells(monkeypatch, told):
    shape, medium, films, expected = told
    monkeypatch.setattr(grid, "_RING", 0.0025)
    monkeypatch.setattr(grid, "_LAYER", 0.003)
    found = hour_by_hour(shape, medium, films)
    assert expected[2].min() < -1.0  # much of it freezes
    assert np.abs(found - expected).max() <= 0.1


def assert_right_where_it_counts(told):
    shape, medium, films, expected = told
    found = hour_by_hour(shape, medium, films)
    missed = found - expected
    assert np.abs(found.min(axis=1) - expected.min(axis=1)).max() <= 0.15
    assert np.sqrt((missed**2).mean(axis=1)).max() <= 0.25
    assert np.abs(missed[1:]).max() <= 0.25  # core and mean
    assert np.abs(missed[0]).max() <= 1.0  # shell, in the worst hour


def test_scipy_agrees_at_every_hour_on_small_cells(monkeypatch, by_scipy):
    assert_right_on_small_cells(monkeypatch, by_scipy)


def test_scipy_agrees_on_minima_with_the_cells_of_every_day(by_scipy):
    assert_right_where_it_counts(by_scipy)


def test_fipy_agrees_at_every_hour_on_small_cells(monkeypatch, by_fipy):
    assert_right_on_small_cells(monkeypatch, by_fipy)


def test_fipy_agrees_on_minima_with_the_cells_of_every_day(by_fipy):
    assert_right_where_it_counts(by_fipy)
