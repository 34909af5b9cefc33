from datetime import UTC, datetime, timedelta

import pytest

from alertd.core import StoreError
from alertd.store import Store
from alertd.store.schema import MIGRATIONS
from alertd.weather import Observation

NOW = datetime(2026, 1, 23, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture
def store():
    with Store.open(None) as opened:
        yield opened


def observation(hours_ago, temperature=1.5, station="barn", received=NOW):
    return Observation(station, NOW - hours_ago * HOUR, temperature, received)


def test_what_is_kept_comes_back_earliest_first(store):
    kept = [observation(1), observation(2, -7.25), observation(1, 2.0, "well")]
    assert store.keep_observations(kept, NOW) == 3
    assert store.recent_observations(NOW) == (kept[1], kept[0], kept[2])


def test_recent_is_after_the_start_and_not_after_now(store):
    store.keep_observations([observation(hours) for hours in (-1, 0, 3, 6, 7)], NOW)
    assert store.recent_observations(NOW, 6.0) == (observation(3), observation(0))


def test_the_same_again_is_not_new_and_another_value_takes_its_place(store):
    store.keep_observations([observation(1)], NOW)
    assert store.keep_observations([observation(1, received=NOW + HOUR)], NOW) == 0
    assert store.recent_observations(NOW) == (observation(1),)
    corrected = observation(1, 3.0, received=NOW + HOUR)
    assert store.keep_observations([corrected, observation(2)], NOW) == 2
    assert store.recent_observations(NOW) == (observation(2), corrected)


def test_nothing_is_kept_longer_than_400_days(store):
    old, older = observation(24 * 399), observation(24 * 401)
    assert store.keep_observations([old, older], NOW) == 1
    assert store.recent_observations(NOW, 24.0 * 500) == (old,)
    store.keep_observations([observation(0)], NOW + timedelta(days=2))
    assert store.recent_observations(NOW, 24.0 * 500) == (observation(0),)


def test_observations_survive_a_restart_and_leave_the_log_alone(tmp_path):
    path = tmp_path / "alertd.sqlite"
    with Store.open(path) as store:
        head = store.head()
        store.keep_observations([observation(1)], NOW)
    with Store.open(path) as store:
        assert store.recent_observations(NOW) == (observation(1),)
        assert store.head() == head
        assert store.verify_audit() == []


def test_a_store_that_cannot_be_written_is_told(store):
    store._connection.execute("PRAGMA query_only = ON")
    with pytest.raises(StoreError):
        store.keep_observations([observation(1)], NOW)


def test_the_table_comes_by_a_step_of_its_own():
    steps = [step for step in MIGRATIONS if any("CREATE TABLE observations" in statement for statement in step)]
    assert len(steps) == 1
    assert len(steps[0]) == 2
