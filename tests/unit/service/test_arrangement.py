from __future__ import annotations

import hashlib
import sys
from datetime import timedelta
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[3]))

from alertd.config import load
from alertd.core import ConfigurationError
from alertd.service.arrangement import arrange, rearrange
from tests.fakes.garden_folder import GardenFolder


@pytest.fixture
def garden(tmp_path):
    garden = GardenFolder(tmp_path, f"file:{tmp_path / 'letters'}")
    garden.write_forecast(is_severe=True)
    return garden


@pytest.fixture
def before(garden, store):
    return arrange(load(garden.configuration, {}), store)


def change(garden, old: str, new: str) -> None:
    text = garden.configuration.read_text()
    assert text.count(old) == 1
    garden.configuration.write_text(text.replace(old, new))


def test_an_arrangement_is_all_that_the_configuration_says(garden, before):
    assert before.loaded.digest == hashlib.sha256(garden.configuration.read_bytes()).hexdigest()
    assert list(before.channels) == ["way"]
    assert before.others == {"keeper": ("way",)}
    assert before.relay_settings.first_retry.total_seconds() == 1.0
    assert before.watch.sources == before.services.sources
    assert [reader.name for reader in before.readership.readers] == ["keeper"]


def test_what_is_asked_stays_while_nothing_about_it_changes(garden, before, store):
    change(garden, 'name = "keeper"', 'name = "Ann"')
    change(garden, "count = 6", "count = 7")
    now = garden.base + timedelta(hours=1)
    before.watch.evaluate(now)
    after = rearrange(before, {}, store)
    assert after.services is before.services
    assert after.watch.garden.groups[0].count == 7
    assert after.others == {"Ann": ("way",)}
    garden.forecast.unlink()
    assert [forecast.source for forecast in after.watch._gather(now)[0]] == ["weather file"]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('path = "forecast.csv"', 'path = "other.csv"'),
        ("elevation_m = 230", "elevation_m = 231"),
        ('every = "1s"', 'every = "1s"\nrequest_deadline = "7s"'),
        ('every = "1s"', 'every = "1s"\nproxies_from_environment = true'),
        (
            'last_freeze = "05-05"',
            'last_freeze = "05-05"\ncontact = "a@example.org"\n[observations]\nnearest_stations = true',
        ),
    ],
)
def test_what_is_asked_is_made_anew_where_something_about_it_changes(garden, before, store, old, new):
    change(garden, old, new)
    assert rearrange(before, {}, store).services is not before.services


def test_sources_that_were_given_stay_whatever_the_configuration_says(garden, before, store):
    given = before.services.sources
    change(garden, 'path = "forecast.csv"', 'path = "other.csv"')
    assert rearrange(before, {}, store, given).watch.sources is given


def test_the_database_and_the_address_of_devices_are_fixed_for_life(garden, before, store):
    (garden.folder / "credentials" / "token").write_text("0123456789abcdef")
    (garden.folder / "credentials" / "token").chmod(0o600)
    change(garden, 'database = "alertd.sqlite"', 'database = "other.sqlite"')
    change(garden, "[polling]", '[observations]\npush = "127.0.0.1:8790"\npush_token = "token"\n\n[polling]')
    with pytest.raises(ConfigurationError) as refused:
        rearrange(before, {}, store)
    mend = "put the old value back, or start alertd anew"
    assert [str(problem) for problem in refused.value.problems] == [
        f"state.database: the database is {garden.database} and cannot change while alertd runs; {mend}",
        f"observations.push: the address and token of devices cannot change while alertd runs; {mend}",
    ]


def test_a_file_that_is_gone_is_refused(garden, before, store):
    garden.configuration.unlink()
    with pytest.raises(ConfigurationError, match="there is no such file"):
        rearrange(before, {}, store)
