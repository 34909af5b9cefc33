import numpy as np
import pytest

from alertd.thermal.room_fit import FEWEST_HOURS, RoomFit, fit_room

HOUR = 3600.0
HOURS = np.arange(24 * 30)
DRAWN = np.random.default_rng(7)
OUTSIDE = (
    -2.0
    + 4.0 * np.sin(2.0 * np.pi * HOURS / 24.0)
    + 5.0 * np.sin(2.0 * np.pi * HOURS / 150.0)
    + DRAWN.normal(0.0, 1.0, HOURS.size)
)


def room(time_constant, share=1.0, warmth=0.0, start=5.0):
    return RoomFit(time_constant * HOUR, share, warmth, 0.0, 0).ahead(OUTSIDE[None], start)[0]


@pytest.mark.parametrize("time_constant", [1.0, 6.0, 20.0, 100.0])
@pytest.mark.parametrize(("share", "warmth"), [(1.0, 0.0), (1.0, 6.0), (0.4, 4.8)])
def test_a_room_is_found_again_with_its_ground_and_its_warm_house(time_constant, share, warmth):
    found = fit_room(OUTSIDE, room(time_constant, share, warmth))
    assert found.time_constant / HOUR == pytest.approx(time_constant, rel=1e-3)
    assert found.outside_share == pytest.approx(share, abs=1e-3)
    assert found.warmth == pytest.approx(warmth, abs=1e-2)
    assert found.rms < 1e-3
    assert found.is_settled


def test_noise_gaps_and_a_wrong_first_reading_do_little_harm():
    inside = room(20.0, 1.0, 6.0) + DRAWN.normal(0.0, 0.3, HOURS.size)
    inside[0] += 5.0
    inside[100:150] = np.nan
    found = fit_room(OUTSIDE, inside)
    assert found.time_constant / HOUR == pytest.approx(20.0, rel=0.1)
    assert found.warmth == pytest.approx(6.0, abs=0.5)
    assert 0.25 < found.rms < 0.45


def test_what_a_fit_tells_of_the_days_ahead_is_what_the_room_then_does():
    inside = room(30.0, 0.7, 3.0)
    found = fit_room(OUTSIDE[:480], inside[:480])
    ahead = found.ahead(np.tile(OUTSIDE[480:], (3, 1)), inside[479])
    assert ahead.shape == (3, 240)
    np.testing.assert_allclose(ahead, np.tile(inside[480:], (3, 1)), atol=0.05)


def test_a_room_that_would_amplify_the_outside_is_taken_to_follow_it():
    found = fit_room(OUTSIDE, 1.5 * OUTSIDE)
    assert found.outside_share == 1.0
    assert not found.is_settled  # it follows at once, quicker than is looked for


def test_a_log_too_short_for_its_room_says_so():
    found = fit_room(OUTSIDE[:96], room(100.0)[:96])
    assert not found.is_settled


def test_a_heated_room_does_not_follow_at_all():
    found = fit_room(OUTSIDE, np.full(HOURS.size, 18.0))
    assert found.ahead(np.full((1, 48), -30.0), 18.0).min() > 17.9


@pytest.mark.parametrize(
    ("outside", "inside", "words"),
    [
        (OUTSIDE, OUTSIDE[1:], "as many hours"),
        (OUTSIDE[None], OUTSIDE[None], "as many hours"),
        (np.where(HOURS == 3, np.nan, OUTSIDE), OUTSIDE, "none missing"),
        (OUTSIDE, np.where(HOURS < FEWEST_HOURS - 1, OUTSIDE, np.nan), "not 47"),
    ],
)
def test_a_log_that_says_nothing_is_refused(outside, inside, words):
    with pytest.raises(ValueError, match=words):
        fit_room(outside, inside)
