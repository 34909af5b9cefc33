from datetime import timedelta

import pytest


def test_the_environment_stands_over_the_file(loaded, valid):
    environ = {
        "ALERTD_WORK__PEOPLE": "3",
        "ALERTD_WORK__LATEST": "18:00",
        "ALERTD_WORK__DAYLIGHT_ONLY": "False",
        "ALERTD_SITE__LATITUDE": "-33.5",
        "alertd_polling__every": "2h",
        "ALERTD_CLASSES__SEEDLING__WOOD": "5",
        "ALERTD_RULES__WOOD__PROBABILITY_OPEN": "0.5",
        "PATH": "/usr/bin",
    }
    result = loaded(valid, environ)
    assert result.garden.work.people == 3
    assert result.garden.work.latest.hour == 18
    assert not result.garden.work.daylight_only
    assert result.garden.site.latitude == -33.5
    assert result.polling.every == timedelta(hours=2)
    assert result.garden.classes["seedling"].wood == -15.0
    assert result.garden.rules.wood.probability_open == 0.5
    assert result.garden.rules.wood.probability_close == 0.2


def test_text_that_looks_like_a_number_stays_text_where_text_is_expected(loaded, valid):
    assert loaded(valid, {"ALERTD_SITE__NAME": "1234"}).garden.site.name == "1234"


def test_a_whole_list_may_come_as_json(loaded, valid):
    environ = {"ALERTD_RECIPIENTS": '[{"name": "Kim", "channels": ["screen", "letters"]}]'}
    assert [recipient.name for recipient in loaded(valid, environ).recipients] == ["Kim"]


def test_a_whole_section_may_come_as_json_under_single_keys(loaded, valid):
    environ = {"ALERTD_WORK": '{"people": 2, "latest": "19:00"}', "ALERTD_WORK__PEOPLE": "4"}
    work = loaded(valid, environ).garden.work
    assert (work.people, work.latest.hour, work.earliest.hour) == (4, 19, 7)


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("ALERTD_WORK__PEPLE", "did you mean ALERTD_WORK__PEOPLE?"),
        ("ALERTD_POLING__EVERY", "did you mean ALERTD_POLLING__EVERY?"),
        ("ALERTD_UNIT", "did you mean ALERTD_UNITS?"),
        ("ALERTD_GROUPS__0__COUNT", "did you mean ALERTD_GROUPS?"),
        ("ALERTD_QQQQQQQQQQQQQQQQQQQQQQQ", "remove it; names are like ALERTD_SITE__LATITUDE"),
    ],
)
def test_a_variable_that_matches_nothing_is_refused(problems, valid, name, near):
    assert problems(valid, {name: "1"}) == [f"{name}: matches no key of the configuration; {near}"]


def test_a_wrong_value_names_the_variable_that_it_comes_from(problems, valid):
    assert problems(valid, {"ALERTD_WORK__PEOPLE": "many"}) == [
        "work.people (from ALERTD_WORK__PEOPLE): must be a whole number; write digits without quotes, like 12"
    ]
    assert problems(valid, {"ALERTD_CHANNELS": '[{"name": "screen", "url": 3}]'})[0] == (
        "channels[0].url (from ALERTD_CHANNELS): must be text; put it in double quotes"
    )


def test_json_that_is_none_is_told_without_its_text(problems, valid):
    expected = (
        "ALERTD_CHANNELS: is not valid JSON; write it as JSON, with lists in square brackets and tables in braces"
    )
    assert problems(valid, {"ALERTD_CHANNELS": '[{"url": "json://hunter2@'}) == [expected]
    assert problems(valid, {"ALERTD_CHANNELS": "[" * 100_000}) == [expected]


def test_null_is_as_good_as_left_out_only_where_a_key_may_be(loaded, problems, valid):
    assert loaded(valid, {"ALERTD_STATE": '{"database": null}'}).database.name == "alertd.sqlite"
    assert problems(valid, {"ALERTD_WORK": '{"people": null}'}) == [
        "work.people (from ALERTD_WORK): must be a whole number; write digits without quotes, like 12"
    ]
