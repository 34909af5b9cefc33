import numpy as np
import pytest

from alertd.thermal.film import Film
from alertd.thermal.medium import Medium
from alertd.thermal.ring import THINNEST, ground_reach, stem_in_ring

STRAW = Medium(0.055, 0.055, 1.0e5, 1.0e5, 0.0)
CHIPS = Medium(0.11, 0.13, 4.0e5, 3.2e5, 4.3e7)
WET_LEAVES = Medium(0.25, 0.40, 1.6e6, 1.0e6, 1.1e8)


def nights(coldest, count, members=1):
    hours = np.arange(24 * count)
    air = coldest + 10.0 * (1.0 + np.cos(2.0 * np.pi * (hours - 14) / 24.0)) / 2.0
    air = np.tile(air, (members, 1))
    return Film(air, np.full(air.shape, 12.0))


def test_the_thinnest_ring_that_counts_is_no_colder_in_its_coldest_hour_for_many_more_cells():
    for medium in (STRAW, CHIPS):
        usual, fine = (stem_in_ring(nights(-12.0, 2), medium, THINNEST, 3.0, cells=each).min() for each in (None, 8))
        assert usual == pytest.approx(fine, abs=0.1)


def test_hours_that_have_passed_count_and_are_not_told():
    film = nights(-12.0, 3)
    whole = stem_in_ring(film, CHIPS, 0.1, 3.0)
    np.testing.assert_allclose(stem_in_ring(film, CHIPS, 0.1, 3.0, past=30), whole[:, 30:], atol=0.02)
    assert stem_in_ring(film, CHIPS, 0.001, 3.0, past=30).shape == whole[:, 30:].shape


def test_dry_straw_keeps_a_standing_stem_warm_for_hours_only_and_moist_chips_for_days():
    assert stem_in_ring(nights(-20.0, 3), STRAW, 0.2, 4.0).min() < -15.0
    assert stem_in_ring(nights(-20.0, 3), CHIPS, 0.2, 4.0).min() > -1.0


@pytest.mark.parametrize("medium", [STRAW, CHIPS, WET_LEAVES])
@pytest.mark.parametrize("thickness", [0.05, 0.1, 0.2, 0.3])
@pytest.mark.parametrize(("coldest", "count"), [(-12.2, 1), (-12.2, 3), (-20.0, 3)])
def test_many_more_cells_move_the_coldest_hour_by_less_than_a_third_of_a_degree(medium, thickness, coldest, count):
    fine_cells = 20 if thickness < 0.1 else 48
    film = nights(coldest, count)
    usual, fine = (stem_in_ring(film, medium, thickness, 4.0, cells=n).min() for n in (None, fine_cells))
    assert abs(usual - fine) <= 0.3


def test_mulch_too_thin_to_count_leaves_the_stem_to_what_is_outside():
    film = nights(-12.0, 1)
    stem = stem_in_ring(film, STRAW, THINNEST - 0.001, 4.0)
    np.testing.assert_array_equal(stem, film.temperature)
    assert stem is not film.temperature


def test_members_differ_by_start_and_conductivity_and_are_as_if_alone():
    film = nights(-12.0, 1, members=2)
    start, factor = np.array([4.0, -3.0]), np.array([1.0, 1.6])
    together = stem_in_ring(film, CHIPS, 0.1, start, conductivity_factor=factor)
    for member in range(2):
        alone = stem_in_ring(
            nights(-12.0, 1), CHIPS, 0.1, float(start[member]), conductivity_factor=float(factor[member])
        )
        np.testing.assert_allclose(together[member], alone[0], atol=0.05)  # steps differ, those of the quickest count
    assert together[1].min() < together[0].min()


def test_a_ring_that_nothing_reaches_stays_as_it_is():
    film = Film(np.full((1, 48), -20.0), np.zeros((1, 48)))
    np.testing.assert_allclose(stem_in_ring(film, CHIPS, 0.2, 3.0), 3.0, atol=1e-12)


def test_one_cell_will_do_and_then_has_no_neighbours():
    stem = stem_in_ring(nights(-12.0, 1), STRAW, 0.1, 4.0, cells=1)
    assert np.isfinite(stem).all()
    assert -12.0 < stem.min() < -8.0


def test_warmth_of_the_ground_reaches_up_less_than_half_of_the_thickness():
    assert ground_reach(0.24048) == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("thickness", "start", "factor"),
    [(0.0, 1.0, 1.0), (np.nan, 1.0, 1.0), (np.inf, 1.0, 1.0), (0.1, np.nan, 1.0), (0.1, 1.0, 0.0), (0.1, 1.0, np.inf)],
)
def test_what_is_no_ring_is_refused(thickness, start, factor):
    with pytest.raises(ValueError, match="ring of"):
        stem_in_ring(nights(-5.0, 1), STRAW, thickness, start, conductivity_factor=factor)
