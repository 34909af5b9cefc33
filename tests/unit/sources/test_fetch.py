"""Asking politely, and serving the last good answer."""

import logging
import random
import threading
import traceback
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from alertd.core import SourceMalformed, SourceUnavailable, StoreError
from alertd.sources import Fetcher, FetchSettings, MemoryAnswers, Request, read_json
from alertd.sources.quota import Quota
from alertd.sources.transport import WebTransport
from tests.fakes.http_servers import http_date
from tests.fakes.transport import LOST, TOO_SLOW, ScriptedTransport, reply

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)
URL = "https://api.example.org/v1"
REQUEST = Request("forecast", URL, (("lat", "40.71"),))
OTHER = Request("points", "https://api.example.org/points")
ELSEWHERE = Request("elsewhere", "https://example.com/")
CANARY = "canarykey"


@pytest.fixture
def transport():
    return ScriptedTransport()


@pytest.fixture
def answers():
    return MemoryAnswers()


@pytest.fixture
def pauses():
    return []


@pytest.fixture
def make(transport, answers, pauses):
    def made(settings=FetchSettings(), user_agent="alertd/1 kim@example.org", store=None):  # noqa: B008
        return Fetcher(
            user_agent, store or answers, settings, random=random.Random(7), transport=transport, sleep=pauses.append
        )

    return made


@pytest.fixture
def fetcher(make):
    return make()


def refusing(fetcher, request, now):
    """Return the reason for which there is no answer."""
    with pytest.raises((SourceUnavailable, SourceMalformed)) as raised:
        fetcher.fetch(request, now)
    return str(raised.value)


# ---- good answers ----


def test_an_answer_is_what_the_service_said(fetcher, transport):
    transport.script = [
        reply(body=b"{}", Expires=http_date(NOON + 31 * MINUTE), ETag='"a"', Last_Modified="x", Content_Type="t/j")
    ]
    answer = fetcher.fetch(REQUEST, NOON)
    assert (answer.url, answer.status, answer.body, answer.content_type) == (f"{URL}?lat=40.71", 200, b"{}", "t/j")
    assert (answer.retrieved, answer.expires) == (NOON, NOON + 31 * MINUTE)
    assert (answer.etag, answer.last_modified, answer.problem) == ('"a"', "x", "")


def test_the_service_learns_who_asks(fetcher, transport):
    fetcher.fetch(replace(REQUEST, headers=(("accept", "application/geo+json"),)), NOON)
    url, headers = transport.asked[0]
    assert url == f"{URL}?lat=40.71"
    assert headers["User-Agent"] == "alertd/1 kim@example.org"
    assert headers["Accept"] == "application/geo+json"


@pytest.mark.parametrize("user_agent", ["", " ", "alertd\r\nX: y", "alertd \u00e9", "alertd "])
def test_a_user_agent_must_fit_in_a_header(make, user_agent):
    with pytest.raises(ValueError, match="printable ASCII"):
        make(user_agent=user_agent)


def test_the_network_is_the_transport_unless_another_is_given(answers):
    assert isinstance(Fetcher("a", answers)._exchange._transport, WebTransport)


def test_a_naive_now_is_refused(fetcher):
    with pytest.raises(ValueError, match="no offset"):
        fetcher.fetch(REQUEST, datetime(2026, 1, 23))  # noqa: DTZ001


@pytest.mark.parametrize(
    ("headers", "minutes"),
    [
        ({}, 30),
        ({"Expires": "0"}, 30),
        ({"Cache_Control": "max-age=600"}, 10),
        ({"Cache_Control": "max-age=5"}, 1),
        ({"Cache_Control": "max-age=8640000"}, 30),
    ],
)
def test_a_fresh_answer_is_not_asked_again(fetcher, transport, headers, minutes):
    transport.script = [reply(**headers)]
    first = fetcher.fetch(REQUEST, NOON)
    assert fetcher.fetch(REQUEST, NOON + minutes * MINUTE - timedelta(seconds=1)) == first
    assert len(transport.asked) == 1
    fetcher.fetch(REQUEST, NOON + (minutes + 1) * MINUTE)
    assert len(transport.asked) == 2


def test_what_hardly_changes_is_not_asked_again_though_the_service_says_that_it_expires(make, transport):
    lasting = replace(REQUEST, shortest_pause=7 * 24 * HOUR)
    transport.script = [reply(Cache_Control="max-age=600")]
    make().fetch(lasting, NOON)
    assert make().fetch(lasting, NOON + 7 * 24 * HOUR - MINUTE).problem == ""
    assert len(transport.asked) == 1
    make().fetch(lasting, NOON + 7 * 24 * HOUR + MINUTE)
    assert len(transport.asked) == 2


def test_what_hardly_changes_is_asked_anew_at_once_if_it_turns_out_wrong(fetcher, transport):
    lasting = replace(REQUEST, shortest_pause=7 * 24 * HOUR)
    fetcher.fetch(lasting, NOON)
    fetcher.forget(lasting.key)
    fetcher.fetch(lasting, NOON + MINUTE)
    assert len(transport.asked) == 2
    fetcher.reject(lasting, "it is of another place")
    fetcher.fetch(lasting, NOON + 3 * MINUTE)
    assert len(transport.asked) == 3


def test_a_clock_that_is_set_back_does_not_keep_for_ever_what_hardly_changes(fetcher, transport):
    lasting = replace(REQUEST, shortest_pause=7 * 24 * HOUR)
    fetcher.fetch(lasting, NOON)
    fetcher.fetch(lasting, NOON - HOUR)
    assert len(transport.asked) == 2


def test_a_fresh_answer_outlives_a_restart(make, transport):
    make().fetch(REQUEST, NOON)
    assert make().fetch(REQUEST, NOON + MINUTE).body == b"good"
    assert len(transport.asked) == 1


def test_clients_do_not_all_ask_in_the_same_second(transport):
    moments = set()
    for seed in range(20):
        fetcher = Fetcher("a", MemoryAnswers(), random=random.Random(seed), transport=transport)
        fetcher.fetch(REQUEST, NOON)
        before = len(transport.asked)
        moments.add(
            next(
                second
                for second in range(61)
                if fetcher.fetch(REQUEST, NOON + 30 * MINUTE + timedelta(seconds=second))
                and len(transport.asked) > before
            )
        )
    assert len(moments) > 10
    assert min(moments) < 15
    assert max(moments) > 45


def test_another_question_under_the_same_key_is_asked_at_once(fetcher, transport):
    fetcher.fetch(REQUEST, NOON)
    fetcher.fetch(replace(REQUEST, parameters=(("lat", "50.1"),)), NOON)
    assert len(transport.asked) == 2
    assert "If-None-Match" not in transport.asked[1][1]


def test_the_answer_for_another_place_is_never_served(fetcher, transport):
    fetcher.fetch(REQUEST, NOON)
    transport.script = [reply(500)]
    moved = replace(REQUEST, parameters=(("lat", "50.1"),))
    assert "500" in refusing(fetcher, moved, NOON)


# ---- conditional requests ----


def test_a_stored_version_is_asked_with_its_exact_names(fetcher, transport):
    transport.script = [reply(ETag='W/"a b"', Last_Modified="Fri, 23 Jan 2026 11:58:00 +0000"), reply(304, b"")]
    fetcher.fetch(REQUEST, NOON)
    later = NOON + HOUR
    answer = fetcher.fetch(REQUEST, later)
    assert transport.asked[1][1]["If-None-Match"] == 'W/"a b"'
    assert transport.asked[1][1]["If-Modified-Since"] == "Fri, 23 Jan 2026 11:58:00 +0000"
    assert (answer.body, answer.status, answer.retrieved, answer.problem) == (b"good", 200, later, "")


def test_a_confirmed_answer_is_fresh_anew(fetcher, transport):
    transport.script = [
        reply(ETag='"a"', Cache_Control="max-age=3600"),
        reply(304, b"", ETag='"b"', Cache_Control="max-age=7200"),
        reply(304, b""),
    ]
    fetcher.fetch(REQUEST, NOON)
    assert fetcher.fetch(REQUEST, NOON + 2 * HOUR).expires == NOON + 4 * HOUR
    fetcher.fetch(REQUEST, NOON + 3 * HOUR)
    assert len(transport.asked) == 2
    fetcher.fetch(REQUEST, NOON + 5 * HOUR)
    assert transport.asked[2][1]["If-None-Match"] == '"b"'


@pytest.mark.parametrize("name", ['"a\r\nX-Injected: yes"', '"\u00e9"', ""])
def test_a_name_that_cannot_be_sent_back_is_not(fetcher, transport, name):
    transport.script = [reply(ETag=name)]
    fetcher.fetch(REQUEST, NOON)
    fetcher.fetch(REQUEST, NOON + HOUR)
    assert "If-None-Match" not in transport.asked[1][1]


def test_a_304_without_a_stored_answer_is_a_failure(fetcher, transport):
    transport.script = [reply(304, b"")]
    assert "304 Not Modified; no answer of it is held" in refusing(fetcher, REQUEST, NOON)


# ---- failures ----

FAILURES = [
    (reply(500), "api.example.org answered 500 Internal Server Error; it is asked again later"),
    (reply(503), "answered 503 Service Unavailable; it is asked again later"),
    (reply(400), "answered 400 Bad Request; check base_url, position and options"),
    (reply(401), "answered 401 Unauthorized; check the key"),
    (reply(403), "User-Agent with a contact and at most four decimals of the position"),
    (reply(404), "answered 404 Not Found; it has nothing for this place"),
    (reply(418), "418 I'm a Teapot; check base_url, position and options"),
    (reply(429), "answered 429 Too Many Requests; it was asked too often"),
    (reply(599), "answered 599; it is asked again later"),
    (reply(204, b""), "answered 204 No Content; it is asked again later"),
    (reply(302, b""), "answered 302 Found; it is asked again later"),
    (reply(200, b""), "api.example.org: the answer is empty"),
    (LOST, "api.example.org lost the connection"),
    (TOO_SLOW, "api.example.org did not answer completely in time"),
]


@pytest.mark.parametrize(("outcome", "reason"), FAILURES)
def test_a_failure_without_a_stored_answer_is_one_clear_reason(fetcher, transport, outcome, reason):
    transport.script = [outcome]
    told = refusing(fetcher, REQUEST, NOON)
    assert reason in told
    assert "\n" not in told


@pytest.mark.parametrize(("outcome", "reason"), FAILURES)
def test_after_a_failure_the_last_good_answer_is_served_with_the_reason(fetcher, transport, outcome, reason):
    transport.script = [reply(), outcome]
    fetcher.fetch(REQUEST, NOON)
    answer = fetcher.fetch(REQUEST, NOON + HOUR)
    assert (answer.body, answer.retrieved) == (b"good", NOON)
    assert reason in answer.problem
    assert fetcher.fetch(REQUEST, NOON + HOUR).problem == answer.problem


@pytest.mark.parametrize(("outcome", "_reason"), FAILURES)
def test_after_a_failure_nothing_is_asked_for_a_while(fetcher, transport, outcome, _reason):
    transport.script = [outcome]
    refusing(fetcher, REQUEST, NOON)
    n_asked = len(transport.asked)
    refusing(fetcher, REQUEST, NOON + timedelta(seconds=47))
    assert len(transport.asked) == n_asked


@pytest.mark.parametrize(("outcome", "_reason"), FAILURES)
def test_a_service_that_works_again_is_used_again(fetcher, transport, outcome, _reason):
    transport.script = [outcome]
    refusing(fetcher, REQUEST, NOON)
    transport.script = [reply()]
    assert fetcher.fetch(REQUEST, NOON + 7 * HOUR).problem == ""


def test_pauses_double_with_each_failure_and_end_with_a_success(fetcher, transport):
    transport.script = [reply(404)]
    moments = []
    now = NOON
    while len(moments) < 9:
        refusing(fetcher, REQUEST, now)
        if len(transport.asked) > len(moments):
            moments.append(now)
        now += timedelta(seconds=10)
    minutes = [(later - earlier) / MINUTE for earlier, later in pairwise(moments)]
    for pause, nominal in zip(minutes, [1, 2, 4, 8, 16, 32, 60, 60], strict=True):
        assert 0.8 * nominal <= pause <= 1.2 * nominal + 0.2
    transport.script = [reply()]
    now += 2 * HOUR
    fetcher.fetch(REQUEST, now)
    transport.script = [reply(404)]
    fetcher.fetch(REQUEST, now + HOUR)
    n_asked = len(transport.asked)
    fetcher.fetch(REQUEST, now + HOUR + 1.3 * MINUTE)
    assert len(transport.asked) == n_asked + 1


@pytest.mark.parametrize("seconds", ["7200", http_date(NOON + 2 * HOUR)])
@pytest.mark.parametrize("status", [429, 503])
def test_a_host_that_asks_for_a_pause_gets_it_for_all_requests(fetcher, transport, status, seconds):
    transport.script = [reply(status, Retry_After=seconds)]
    reason = refusing(fetcher, REQUEST, NOON)
    assert refusing(fetcher, OTHER, NOON + 119 * MINUTE) == reason
    assert len(transport.asked) == 1
    transport.script = [reply()]
    assert fetcher.fetch(ELSEWHERE, NOON + MINUTE).body == b"good"
    assert fetcher.fetch(OTHER, NOON + 121 * MINUTE).body == b"good"


def test_a_pause_is_not_longer_than_six_hours(fetcher, transport):
    transport.script = [reply(429, Retry_After="864000"), reply()]
    refusing(fetcher, REQUEST, NOON)
    refusing(fetcher, REQUEST, NOON + 6 * HOUR - MINUTE)
    assert fetcher.fetch(REQUEST, NOON + 6 * HOUR).body == b"good"


def test_429_without_a_pause_holds_the_host_for_the_backoff(fetcher, transport):
    transport.script = [reply(429), reply()]
    refusing(fetcher, REQUEST, NOON)
    refusing(fetcher, OTHER, NOON + 0.7 * MINUTE)
    assert fetcher.fetch(OTHER, NOON + 1.3 * MINUTE).body == b"good"


def test_a_host_that_works_again_starts_with_a_short_pause(fetcher, transport):
    transport.script = [reply(429)]
    for hours in range(4):
        refusing(fetcher, REQUEST, NOON + hours * HOUR)
    assert len(transport.asked) == 4
    transport.script = [reply(), reply(429), reply()]
    fetcher.fetch(OTHER, NOON + 4 * HOUR)
    refusing(fetcher, REQUEST, NOON + 4 * HOUR)
    assert fetcher.fetch(REQUEST, NOON + 4 * HOUR + 1.3 * MINUTE).body == b"good"


def test_503_without_a_pause_holds_that_request_only(fetcher, transport):
    transport.script = [reply(503), reply()]
    refusing(fetcher, REQUEST, NOON)
    assert fetcher.fetch(OTHER, NOON).body == b"good"


def test_a_pause_that_comes_with_another_status_is_honoured(fetcher, transport):
    transport.script = [reply(500, Retry_After="7200"), reply()]
    refusing(fetcher, REQUEST, NOON)
    assert len(transport.asked) == 1
    refusing(fetcher, REQUEST, NOON + 119 * MINUTE)
    assert fetcher.fetch(REQUEST, NOON + 120 * MINUTE).body == b"good"


def test_403_is_not_asked_again_for_six_hours_even_after_a_restart(make, transport):
    transport.script = [reply(403), reply()]
    refusing(make(), REQUEST, NOON)
    refusing(make(), REQUEST, NOON + 6 * HOUR - MINUTE)
    assert len(transport.asked) == 1
    assert make().fetch(REQUEST, NOON + 6 * HOUR).body == b"good"


def test_whoever_mends_the_contact_need_not_wait(make, transport):
    transport.script = [reply(403), reply()]
    refusing(make(user_agent="alertd/1"), REQUEST, NOON)
    assert make().fetch(REQUEST, NOON + MINUTE).body == b"good"


def test_a_spoilt_hold_is_no_hold(make, transport, answers):
    transport.script = [reply(403), reply()]
    refusing(make(), REQUEST, NOON)
    kept = answers.answer("hold:key:forecast")
    for body in (b"{", b"{}", b"[]", b'{"reason": "x", "failures": "many", "question": "", "malformed": false}'):
        answers.keep_answer("hold:key:forecast", replace(kept, body=body))
        answers.forget_answer("forecast")
        make().fetch(REQUEST, NOON + MINUTE)
    assert len(transport.asked) == 5
    answers.keep_answer("hold:key:forecast", replace(kept, expires=None))
    answers.forget_answer("forecast")
    assert make().fetch(REQUEST, NOON + MINUTE).body == b"good"


# ---- second tries ----


@pytest.mark.parametrize("outcome", [reply(500), reply(502), reply(504), LOST])
def test_a_passing_trouble_gets_one_second_try(fetcher, transport, pauses, outcome):
    transport.script = [outcome, reply()]
    assert fetcher.fetch(REQUEST, NOON).problem == ""
    assert len(transport.asked) == 2
    assert len(pauses) == 1
    assert 1.0 <= pauses[0] <= 3.0


@pytest.mark.parametrize("outcome", [reply(500), LOST])
def test_there_is_no_third_try(fetcher, transport, outcome):
    transport.script = [outcome]
    refusing(fetcher, REQUEST, NOON)
    assert len(transport.asked) == 2


@pytest.mark.parametrize("outcome", [reply(503), reply(429), reply(403), reply(404), TOO_SLOW])
def test_what_will_not_pass_gets_no_second_try(fetcher, transport, outcome):
    transport.script = [outcome]
    refusing(fetcher, REQUEST, NOON)
    assert len(transport.asked) == 1


@pytest.mark.parametrize("outcome", [reply(500), LOST])
def test_a_second_try_must_fit_in_the_deadline(make, transport, pauses, outcome):
    transport.script = [outcome]
    refusing(make(FetchSettings(deadline=timedelta(seconds=2.9))), REQUEST, NOON)
    assert len(transport.asked) == 1
    assert pauses == []


# ---- answers that cannot be trusted ----


def test_a_malformed_answer_is_not_kept(fetcher, transport):
    transport.script = [reply(body=b"<html>")]
    with pytest.raises(SourceMalformed, match=r"api\.example\.org: the answer is a web page"):
        fetcher.fetch_and_parse(REQUEST, NOON, read_json)
    with pytest.raises(SourceMalformed, match="web page"):
        fetcher.fetch_and_parse(REQUEST, NOON, read_json)
    assert len(transport.asked) == 1
    transport.script = [reply(body=b"[1]")]
    assert fetcher.fetch_and_parse(REQUEST, NOON + 2 * MINUTE, read_json)[0] == [1]


def test_after_a_malformed_answer_the_last_good_one_is_served(fetcher, transport):
    transport.script = [reply(body=b"[1]", ETag='"a"'), reply(body=b"[1, 2", ETag='"b"')]
    fetcher.fetch_and_parse(REQUEST, NOON, read_json)
    parsed, answer = fetcher.fetch_and_parse(REQUEST, NOON + HOUR, read_json)
    assert parsed == [1]
    assert answer.retrieved == NOON
    assert "no valid JSON" in answer.problem
    fetcher.fetch_and_parse(REQUEST, NOON + 2 * HOUR, read_json)
    assert transport.asked[-1][1]["If-None-Match"] == '"a"'


def test_a_stored_answer_that_a_stricter_version_refuses_is_asked_anew(fetcher, transport):
    transport.script = [reply(body=b"[1"), reply(body=b"[2]")]
    fetcher.fetch(REQUEST, NOON)
    assert fetcher.fetch_and_parse(REQUEST, NOON, read_json)[0] == [2]


def test_a_stored_answer_that_a_stricter_version_refuses_is_not_the_last_good_one(fetcher, transport, answers):
    transport.script = [reply(body=b"[1"), reply(304, b"")]
    fetcher.fetch(REQUEST, NOON)
    with pytest.raises(SourceMalformed):
        fetcher.fetch_and_parse(REQUEST, NOON + HOUR, read_json)
    assert answers.answer("forecast") is None


def test_a_rejected_answer_is_not_served_again(fetcher, transport):
    fetcher.fetch(REQUEST, NOON)
    fetcher.reject(REQUEST, "the forecast is for another place; check base_url")
    with pytest.raises(SourceMalformed, match="another place"):
        fetcher.fetch(REQUEST, NOON)
    assert len(transport.asked) == 1
    fetcher.fetch(REQUEST, NOON + 2 * MINUTE)
    assert len(transport.asked) == 2


def test_nothing_stored_cannot_be_rejected(fetcher, transport):
    fetcher.reject(REQUEST, "never")
    assert fetcher.fetch(REQUEST, NOON).body == b"good"
    assert len(transport.asked) == 1


def test_a_forgotten_answer_is_asked_anew(fetcher, transport):
    fetcher.fetch(REQUEST, NOON)
    fetcher.forget("forecast")
    fetcher.fetch(REQUEST, NOON)
    assert len(transport.asked) == 2


def test_a_bug_of_ours_does_not_make_us_impolite(fetcher, transport):
    def broken(_body):
        raise KeyError

    with pytest.raises(KeyError):
        fetcher.fetch_and_parse(REQUEST, NOON, broken)
    assert "please report this" in refusing(fetcher, REQUEST, NOON)
    assert len(transport.asked) == 1


# ---- answers that are older than the one before ----


def made_at(parsed):
    """Return when a forecast was made, by its own word: hours after midnight."""
    return NOON - 12 * HOUR + parsed["made"] * HOUR


def forecast(hours, **headers):
    return reply(body=b'{"made": %g}' % hours, **headers)


def looking(fetcher, now, request=REQUEST):
    parsed, answer = fetcher.fetch_and_parse(request, now, read_json, made_at)
    return parsed["made"], answer.problem


OLDER = "api.example.org answers with an older forecast than before, made 2026-01-23T06:00:00Z"


def test_an_older_forecast_does_not_take_the_place_of_a_newer_one_even_after_a_restart(make, transport):
    transport.script = [forecast(11), forecast(6)]
    assert looking(make(), NOON) == (11, "")
    assert looking(make(), NOON + HOUR) == (11, OLDER)
    assert looking(make(), NOON + HOUR) == (11, OLDER)
    assert len(transport.asked) == 2
    answer = make().fetch_and_parse(REQUEST, NOON + HOUR, read_json, made_at)[1]
    assert answer.retrieved == NOON


def test_a_newer_forecast_is_taken_after_an_older_one_and_the_problem_is_over(fetcher, transport):
    transport.script = [forecast(11), forecast(6), forecast(12)]
    looking(fetcher, NOON)
    looking(fetcher, NOON + HOUR)
    assert looking(fetcher, NOON + HOUR + 2 * MINUTE) == (12, "")
    assert looking(fetcher, NOON + HOUR + 3 * MINUTE) == (12, "")
    assert len(transport.asked) == 3


def test_a_forecast_made_at_the_same_time_is_taken(fetcher, transport):
    transport.script = [forecast(11), reply(body=b'{"made": 11, "mended": true}')]
    looking(fetcher, NOON)
    assert fetcher.fetch_and_parse(REQUEST, NOON + HOUR, read_json, made_at)[0]["mended"]


def test_a_confirmed_forecast_is_no_older_one(fetcher, transport):
    transport.script = [forecast(11, ETag='"a"'), reply(304, b"")]
    looking(fetcher, NOON)
    assert looking(fetcher, NOON + HOUR) == (11, "")


def test_a_source_that_states_no_time_takes_what_comes(fetcher, transport):
    transport.script = [forecast(11), forecast(6)]
    fetcher.fetch_and_parse(REQUEST, NOON, read_json)
    assert fetcher.fetch_and_parse(REQUEST, NOON + HOUR, read_json)[0] == {"made": 6}


def test_older_forecasts_are_asked_after_ever_more_seldom_up_to_once_an_hour(fetcher, transport):
    transport.script = [forecast(11), forecast(6)]
    looking(fetcher, NOON)
    moments = []
    for minute in range(31, 631):
        before = len(transport.asked)
        assert looking(fetcher, NOON + minute * MINUTE) == (11, OLDER)
        if len(transport.asked) > before:
            moments.append(minute)
    pauses = [after - before for before, after in pairwise(moments)]
    assert pauses[0] <= 3
    assert all(45 <= pause <= 75 for pause in pauses[7:])
    assert len(moments) <= 20


def test_an_older_forecast_is_not_asked_after_before_it_expires(fetcher, transport):
    transport.script = [forecast(11), forecast(6, Cache_Control="max-age=2400")]
    looking(fetcher, NOON)
    looking(fetcher, NOON + HOUR)
    looking(fetcher, NOON + HOUR + 39 * MINUTE)
    assert len(transport.asked) == 2
    looking(fetcher, NOON + HOUR + 41 * MINUTE)
    assert len(transport.asked) == 3


def test_an_older_forecast_cannot_hold_a_newer_one_off_for_a_day(fetcher, transport):
    transport.script = [forecast(11), forecast(6, Cache_Control="max-age=86400"), forecast(12)]
    looking(fetcher, NOON)
    looking(fetcher, NOON + HOUR)
    assert looking(fetcher, NOON + 2 * HOUR + MINUTE) == (12, "")


def test_an_older_forecast_holds_its_own_request_only(fetcher, transport):
    transport.script = [forecast(11), forecast(6), reply()]
    looking(fetcher, NOON)
    looking(fetcher, NOON + HOUR)
    assert fetcher.fetch(OTHER, NOON + HOUR).problem == ""


def test_a_forecast_that_claimed_to_be_of_the_future_holds_nothing_off(fetcher, transport):
    transport.script = [forecast(40), forecast(6)]
    looking(fetcher, NOON)
    assert looking(fetcher, NOON + HOUR) == (6, "")


def test_a_forecast_that_was_retrieved_before_the_clock_was_set_back_holds_nothing_off(fetcher, transport):
    transport.script = [forecast(11), forecast(6)]
    looking(fetcher, NOON)
    assert looking(fetcher, NOON - 5 * HOUR) == (6, "")


def test_a_stored_forecast_that_a_stricter_version_refuses_holds_nothing_off(fetcher, transport):
    transport.script = [reply(body=b"[1"), forecast(6)]
    fetcher.fetch(REQUEST, NOON)
    assert looking(fetcher, NOON + HOUR) == (6, "")


def test_a_forecast_of_another_question_holds_nothing_off(fetcher, transport):
    transport.script = [forecast(11), forecast(6)]
    looking(fetcher, NOON)
    assert looking(fetcher, NOON + HOUR, replace(REQUEST, parameters=(("lat", "50.1"),))) == (6, "")


# ---- explanations and secrets ----


def test_a_source_explains_its_own_errors(fetcher, transport):
    transport.script = [reply(400, b'{"reason": "Latitude\\nmust be"}', X_Id="7")]

    def explain(status, headers, body):
        return f"{status} {headers['x-id']} {body.decode()}\n\x1b[31m; check the position"

    told = refusing(fetcher, replace(REQUEST, explain=explain), NOON)
    assert told == 'api.example.org: 400 7 {"reason": "Latitude\\nmust be"} [31m; check the position'


@pytest.mark.parametrize("explain", [lambda *_: "", lambda *_: 1 / 0, lambda *_: None])
def test_an_explanation_that_fails_leaves_the_usual_reason(fetcher, transport, explain):
    transport.script = [reply(404)]
    assert "404 Not Found" in refusing(fetcher, replace(REQUEST, explain=explain), NOON)


def test_a_long_explanation_is_cut(fetcher, transport):
    transport.script = [reply(404)]
    told = refusing(fetcher, replace(REQUEST, explain=lambda *_: "x" * 100_000), NOON)
    assert len(told) <= 320
    assert told.endswith("…")


def test_keys_are_sent_but_never_shown_kept_or_logged(make, transport, answers, caplog):
    caplog.set_level(logging.DEBUG)
    request = replace(
        REQUEST, parameters=(("apikey", CANARY),), explain=lambda *_: f"key {CANARY} is wrong; ask for another"
    )
    fetcher = make()
    transport.script = [reply(), reply(401)]
    good = fetcher.fetch(request, NOON)
    bad = fetcher.fetch(request, NOON + HOUR)
    fetcher.forget(request.key)
    with pytest.raises(SourceUnavailable) as raised:
        fetcher.fetch(request, NOON + HOUR)
    assert CANARY in transport.asked[0][0]
    told = [repr(good), repr(bad), repr(answers._answers), caplog.text, *traceback.format_exception(raised.value)]
    assert CANARY not in "".join(told)
    assert "key *** is wrong" in bad.problem


def test_203_is_used_and_told_once(fetcher, transport, caplog):
    transport.script = [reply(203)]
    assert fetcher.fetch(REQUEST, NOON).body == b"good"
    fetcher.fetch(REQUEST, NOON + HOUR)
    fetcher.fetch(OTHER, NOON + HOUR)
    assert caplog.text.count("answers 203") == 1


# ---- clocks ----


def test_a_clock_that_is_set_back_does_not_freeze_polling(fetcher, transport):
    transport.script = [reply(Cache_Control="max-age=36000")]
    fetcher.fetch(REQUEST, NOON)
    fetcher.fetch(REQUEST, NOON - 4 * MINUTE)
    assert len(transport.asked) == 1
    assert fetcher.fetch(REQUEST, NOON - HOUR).retrieved == NOON - HOUR
    assert len(transport.asked) == 2


def test_a_clock_that_is_set_back_ends_holds(fetcher, transport):
    transport.script = [reply(403), reply()]
    refusing(fetcher, REQUEST, NOON)
    refusing(fetcher, REQUEST, NOON - 4 * MINUTE)
    assert fetcher.fetch(REQUEST, NOON - HOUR).body == b"good"


def test_a_clock_that_was_years_behind_does_not_freeze_polling(fetcher, transport):
    old = datetime(1970, 1, 1, tzinfo=UTC)
    transport.script = [reply(Expires=http_date(NOON + HOUR), Date=http_date(NOON))]
    assert fetcher.fetch(REQUEST, old).expires == old + HOUR
    fetcher.fetch(REQUEST, NOON)
    assert len(transport.asked) == 2


# ---- quota ----

SMALL = FetchSettings(quotas=(Quota("example.org", per_minute=3.0, per_hour=100.0, per_day=100.0),))
HEAVY = Request("a", "https://api.example.org/", weight=2.0)


def test_a_request_beyond_the_quota_waits_without_being_asked(make, transport):
    fetcher = make(SMALL)
    fetcher.fetch(HEAVY, NOON)
    other = replace(HEAVY, key="b", url="https://ensemble.example.org/")
    assert "quota: the 3 calls that example.org allows in a minute are used up" in refusing(fetcher, other, NOON)
    assert len(transport.asked) == 1
    assert fetcher.fetch(other, NOON + MINUTE).body == b"good"


def test_the_last_good_answer_is_served_while_the_quota_is_used_up(make):
    fetcher = make(SMALL)
    request = replace(HEAVY, pause=timedelta(seconds=1))
    fetcher.fetch(request, NOON)
    fetcher.fetch(replace(HEAVY, key="b"), NOON + 3 * MINUTE)
    assert "quota" in fetcher.fetch(request, NOON + 3 * MINUTE).problem


def test_a_second_try_counts_as_well(make, transport):
    transport.script = [reply(500)]
    refusing(make(SMALL), HEAVY, NOON)
    assert len(transport.asked) == 1


def test_hosts_without_a_quota_are_not_counted(make, transport):
    fetcher = make(SMALL)
    for number in range(10):
        fetcher.fetch(replace(HEAVY, key=str(number), url="https://example.com/"), NOON)
    assert len(transport.asked) == 10


# ---- threads ----


def test_one_host_is_asked_one_request_at_a_time(make, transport):
    at_once, most, lock, release = [], [], threading.Lock(), threading.Event()

    def asking():
        with lock:
            at_once.append(1)
            most.append(len(at_once))
        release.wait(0.05)
        with lock:
            at_once.pop()

    transport.on_asking = asking
    fetcher = make()
    threads = [
        threading.Thread(target=fetcher.fetch, args=(replace(REQUEST, key=str(number)), NOON)) for number in range(6)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(transport.asked) == 6
    assert max(most) == 1


def test_threads_that_want_the_same_share_one_request(make, transport):
    transport.on_asking = lambda: threading.Event().wait(0.05)
    fetcher = make()
    threads = [threading.Thread(target=fetcher.fetch, args=(REQUEST, NOON)) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(transport.asked) == 1


def test_waiting_for_a_turn_is_bounded(make, transport):
    asking, release = threading.Event(), threading.Event()

    def hang():
        asking.set()
        release.wait(10.0)

    transport.on_asking = hang
    fetcher = make(FetchSettings(longest_wait=timedelta(milliseconds=50)))
    thread = threading.Thread(target=fetcher.fetch, args=(OTHER, NOON))
    thread.start()
    assert asking.wait(10.0)
    try:
        assert "busy with another request of ours" in refusing(fetcher, REQUEST, NOON)
    finally:
        release.set()
        thread.join()
    assert fetcher.fetch(REQUEST, NOON).body == b"good"


# ---- a store that fails ----


DISK_FULL = StoreError("disk full")


class FailingAnswers(MemoryAnswers):
    """A store whose disk is full, or that cannot be read either."""

    def __init__(self):
        super().__init__()
        self.is_full = True
        self.is_unreadable = False

    def answer(self, key):
        if self.is_unreadable:
            raise StoreError
        return super().answer(key)

    def keep_answer(self, key, answer):
        if self.is_full:
            raise DISK_FULL
        super().keep_answer(key, answer)

    def forget_answer(self, key):
        if self.is_full:
            raise DISK_FULL
        super().forget_answer(key)


def test_a_full_disk_makes_us_neither_blind_nor_impolite(make, transport, caplog):
    store = FailingAnswers()
    fetcher = make(store=store)
    assert fetcher.fetch(REQUEST, NOON).body == b"good"
    assert fetcher.fetch(REQUEST, NOON).body == b"good"
    assert len(transport.asked) == 1
    assert "kept in memory only: disk full" in caplog.text
    fetcher.forget(REQUEST.key)
    assert "cannot be dropped: disk full" in caplog.text
    store.is_full = False
    fetcher.fetch(REQUEST, NOON)
    assert store.answer("forecast").body == b"good"


def test_an_unreadable_store_is_as_good_as_none(make, caplog):
    store = FailingAnswers()
    store.is_unreadable = True
    assert make(store=store).fetch(REQUEST, NOON).body == b"good"
    assert "stored answers cannot be read" in caplog.text
