import numpy as np
import pytest

from alertd.site import StoreKind
from alertd.thermal.room_fit import FEWEST_HOURS, RoomFit, fit_room, fit_room_of
from alertd.weather import Series

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


def series_of(values, begin="2026-01-05T00:00:00", step=3600):
    times = np.datetime64(begin, "s") + np.arange(len(values)) * np.timedelta64(step, "s")
    return Series(times, {"air_temperature": np.asarray(values, dtype=np.float64)[None]})


def test_two_thermometers_are_read_in_the_hours_that_both_have():
    inside = room(20.0)
    found = fit_room_of(series_of(OUTSIDE), series_of(inside[100:400], "2026-01-09T04:00:00"))
    assert found.time_constant / HOUR == pytest.approx(20.0, rel=1e-3)
    assert found.hours == 300


def test_readings_that_are_no_whole_hours_are_put_on_them():
    quarter_past = np.interp(HOURS[:-1] + 0.25, HOURS, room(20.0))
    found = fit_room_of(series_of(OUTSIDE), series_of(quarter_past, "2026-01-05T00:15:00"))
    assert found.time_constant / HOUR == pytest.approx(20.0, rel=0.05)


def test_a_gap_outside_is_named_and_one_inside_is_passed_over():
    outside, inside = OUTSIDE.copy(), room(20.0)
    inside[100:150] = np.nan
    assert fit_room_of(series_of(outside), series_of(inside)).time_constant / HOUR == pytest.approx(20.0, rel=1e-3)
    outside[200:210] = np.nan
    with pytest.raises(ValueError, match="the air outside is not known at 2026-01-13 08:00 UTC"):
        fit_room_of(series_of(outside), series_of(inside))


@pytest.mark.parametrize("begin", ["2026-01-05T00:00:00", "2026-03-05T00:00:00"])
def test_hours_that_only_one_was_read_in_teach_nothing(begin):
    with pytest.raises(ValueError, match="48 hours with readings inside and outside or more"):
        fit_room_of(series_of(OUTSIDE), series_of(np.full(40, 5.0), begin))


@pytest.mark.parametrize(
    ("hours", "share", "kind"),
    [
        (4.0, 1.0, StoreKind.SHED),
        (30.0, 0.95, StoreKind.UNHEATED_GARAGE),
        (20.0, 0.45, StoreKind.CELLAR),
        (300.0, 1.0, StoreKind.UNHEATED_GARAGE),
    ],
)
def test_the_nearest_kind_of_room_is_named(hours, share, kind):
    assert RoomFit(hours * HOUR, share, 0.0, 0.1, 720).kind is kind
