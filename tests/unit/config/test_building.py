import tomllib
from datetime import time, timedelta
from pathlib import Path

import pytest

from alertd.alerts import Garden
from alertd.config import DeliverySettings, Polling, Recipient
from alertd.config.building import build_classes, database_path
from alertd.config.document import Document
from alertd.config.garden_sections import ClassSection
from alertd.core import TemperatureUnit
from alertd.delivery import Channel
from alertd.hardiness import BUILT_IN_CLASSES
from alertd.risk import RuleSettings
from alertd.site import Growing, MonthDay, Protection, Site, WorkHours
from alertd.store import Retention


def test_the_garden_holds_what_the_file_says(loaded, valid, tmp_path):
    result = loaded(valid)
    assert isinstance(result.garden, Garden)
    site = result.garden.site
    assert isinstance(site, Site)
    assert (site.name, site.latitude, site.longitude, site.elevation) == ("Quarry Hill", 40.65, -75.43, 122.0)
    assert (site.time_zone.key, site.contact, site.last_freeze) == ("America/New_York", "", MonthDay(5, 1))
    assert result.garden.units is TemperatureUnit.FAHRENHEIT
    assert result.garden.work == WorkHours(time(7), time(20), daylight_only=True, people=1)
    pots, wall = result.garden.groups
    assert (pots.group_id, pots.growing, pots.protection) == ("patio-pots", Growing.CONTAINER, Protection.STORE)
    assert (pots.container_volume, pots.minutes_per_tree, pots.count) == (25.0, None, 24)
    assert (wall.hardiness_class, wall.growing, wall.container_volume) == ("seedling", Growing.IN_GROUND, None)
    assert result.path == tmp_path / "alertd.toml"


def test_people_channels_sources_and_times_come_out_checked(loaded, valid, tmp_path):
    result = loaded(valid)
    assert result.recipients == (Recipient("Robin", ("screen", "letters"), ("patio-pots", "south-wall")),)
    assert result.channels == (Channel("screen", "terminal:"), Channel("letters", f"file:{tmp_path}/letters"))
    (source,) = result.sources
    assert (source.name, source.kind, source.path) == ("weather file", "file", tmp_path / "forecast.csv")
    assert result.polling == Polling(timedelta(hours=1), timedelta(hours=12))
    assert result.garden.stale_after == timedelta(hours=12)
    assert result.delivery == DeliverySettings(
        timedelta(seconds=30), timedelta(seconds=30), timedelta(minutes=30), max_tries=8
    )
    assert result.warnings == ()


def test_fifteen_fahrenheit_loads_as_exactly_its_celsius(loaded, valid):
    text = valid.replace("[rules.wood]", "[rules.container_roots]\nthreshold = 15\n[rules.wood]")
    assert loaded(text).garden.rules.container_threshold == (15 - 32) / 1.8


def test_the_built_in_threshold_is_fifteen_fahrenheit(loaded, valid):
    assert loaded(valid).garden.rules.container_threshold == (15 - 32) / 1.8


def test_celsius_is_taken_as_it_is_and_is_the_default_unit(loaded, valid):
    text = valid.replace('units = "degF"\n', "").replace("wood = 14", "wood = -10.5").replace("= 31", "= -0.5")
    result = loaded(text)
    assert result.garden.units is TemperatureUnit.CELSIUS
    assert result.garden.classes["seedling"].wood == -10.5
    assert result.garden.classes["seedling"].spring_limit == -0.5


def test_an_own_class_is_converted_and_called_own_value(loaded, valid):
    own = loaded(valid).garden.classes["seedling"]
    assert (own.wood, own.roots, own.spring_limit) == ((14 - 32) / 1.8, None, (31 - 32) / 1.8)
    assert own.provenance == "own value"


def test_an_own_class_keeps_its_own_provenance_and_roots(loaded, valid):
    text = valid.replace("wood = 14", 'wood = 14\nroots = 23\nprovenance = "three winters here"')
    own = loaded(text).garden.classes["seedling"]
    assert (own.roots, own.provenance) == ((23 - 32) / 1.8, "three winters here")


def test_every_built_in_class_is_there_unchanged(loaded, valid):
    classes = loaded(valid).garden.classes
    for built_in in BUILT_IN_CLASSES:
        assert classes[built_in.name] == built_in


def test_a_built_in_class_may_be_changed_in_part(loaded, valid):
    changed = loaded(valid + "[classes.fig]\nwood = 12\n").garden.classes["fig"]
    built_in = next(each for each in BUILT_IN_CLASSES if each.name == "fig")
    assert changed.wood == (12 - 32) / 1.8
    assert (changed.roots, changed.spring_limit) == (built_in.roots, built_in.spring_limit)
    assert changed.provenance.startswith("wood: own value. Otherwise as built in: ")
    assert changed.provenance.endswith(built_in.provenance)


def test_a_built_in_class_may_get_another_provenance_alone(loaded, valid):
    changed = loaded(valid + '[classes.fig]\nprovenance = "checked here"\n').garden.classes["fig"]
    assert changed.provenance == "checked here"


def test_rules_that_are_left_out_are_the_built_in_ones(loaded, valid):
    rules = loaded(valid).garden.rules
    assert rules.container_roots == RuleSettings()
    assert rules.spring_frost == RuleSettings()
    assert rules.uncover == RuleSettings(horizon=timedelta(hours=120))
    assert rules.bring_out == RuleSettings(horizon=timedelta(hours=120))
    assert rules.wood == RuleSettings(probability_open=0.3, probability_close=0.2)


def test_margins_and_hysteresis_are_differences(loaded, valid):
    text = valid.replace(
        "[rules.wood]", '[rules.wood]\nmargin = 1.8\nhysteresis = 3.6\nhorizon = "4d"\nenabled = false'
    )
    rule = loaded(text).garden.rules.wood
    assert (rule.margin, rule.hysteresis, rule.horizon) == (1.8 / 1.8, 3.6 / 1.8, timedelta(days=4))
    assert not rule.enabled


def test_credits_are_differences_and_have_built_in_values(loaded, valid):
    credits_built_in = loaded(valid).garden.rules.credits
    assert credits_built_in == {
        "store": 0.0,
        "cluster": 0.0,
        "wrap": 5 / 1.8,
        "mulch_ring": 10 / 1.8,
        "bend_and_mulch": 15 / 1.8,
        "none": 0.0,
    }
    assert set(credits_built_in) == {protection.value for protection in Protection}
    changed = loaded(valid + "[rules.credits]\nwrap = 9\ncluster = 1.8\n").garden.rules.credits
    assert (changed["wrap"], changed["cluster"], changed["mulch_ring"]) == (5.0, 1.0, 10 / 1.8)


def test_a_recipient_may_be_told_about_some_groups_only(loaded, valid):
    text = valid.replace('"letters"]', '"letters"]\ngroups = ["south-wall"]')
    result = loaded(text)
    assert result.recipients[0].groups == ("south-wall",)
    assert result.warnings == ("groups[0]: nobody is told about patio-pots; add it to a recipient's groups",)


def test_the_database_is_beside_the_file_unless_told_otherwise(loaded, valid, tmp_path):
    assert loaded(valid).database == tmp_path / "alertd.sqlite"
    environ = {"STATE_DIRECTORY": "/var/lib/alertd:/var/lib/other"}
    assert loaded(valid, environ).database == Path("/var/lib/alertd/alertd.sqlite")
    text = valid + '[state]\ndatabase = "data/trees.sqlite"\n'
    assert loaded(text, environ).database == tmp_path / "data" / "trees.sqlite"


def test_the_configuration_of_the_system_has_its_database_where_the_service_has_it(valid):
    document = Document.model_validate(tomllib.loads(valid))
    for environ in ({}, {"STATE_DIRECTORY": "/var/lib/alertd"}):
        assert database_path(document, Path("/etc/alertd"), environ) == Path("/var/lib/alertd/alertd.sqlite")


def test_alerts_and_letters_are_kept_for_two_winters_and_the_record_for_ever_unless_told_otherwise(loaded, valid):
    assert loaded(valid).retention == Retention(
        letters=timedelta(days=800),
        alerts=timedelta(days=800),
        observations=timedelta(days=400),
        answers=timedelta(days=60),
        record=None,
    )
    text = (
        '[state]\nkeep_letters = "500d"\nkeep_alerts = "600d"\nkeep_observations = "100d"\nkeep_answers = "7d"\n'
        'keep_record = "3650d"\n'
    )
    assert loaded(valid + text).retention == Retention(
        letters=timedelta(days=500),
        alerts=timedelta(days=600),
        observations=timedelta(days=100),
        answers=timedelta(days=7),
        record=timedelta(days=3650),
    )


def test_absolute_paths_stay(loaded, valid):
    text = valid.replace('"forecast.csv"', '"/srv/weather.csv"').replace("file:letters", "file:/srv/letters")
    result = loaded(text)
    assert result.sources[0].path == Path("/srv/weather.csv")
    assert result.channels[1].url == "file:/srv/letters"


def test_numbers_of_groups_reach_the_garden(loaded, valid):
    text = valid.replace("litres = 25", 'litres = 25.5\nminutes_per_tree = 6\nnotes = "two\\nlines"')
    group = loaded(text).garden.groups[0]
    assert (group.container_volume, group.minutes_per_tree, group.notes) == (25.5, 6.0, "two\nlines")


def test_a_document_that_was_not_checked_across_its_keys_is_not_built():
    section = ClassSection(wood=-10.0)
    document = Document.model_construct(classes={"half": section}, units=TemperatureUnit.CELSIUS)
    with pytest.raises(ValueError, match=r"class 'half' has no wood temperature or no spring limit \[°C\]"):
        build_classes(document)
