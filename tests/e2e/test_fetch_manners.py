"""What services see of us on the wire: redirects, versions, pauses, proxies."""

import random
import threading
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from alertd.core import SourceMalformed, SourceUnavailable
from alertd.sources import Fetcher, FetchSettings, MemoryAnswers, Request, read_json
from alertd.store import Store
from tests.fakes.http_servers import Behaviour, HttpServer, conditional, http_date, json_answer

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
MINUTE = timedelta(minutes=1)
HOUR = timedelta(hours=1)


@pytest.fixture
def server():
    with HttpServer() as running:
        yield running


@pytest.fixture
def request_(server):
    return Request("k", f"{server.url}/forecast", (("lat", "40.7128"), ("lon", "-74.006")))


def make(settings=FetchSettings(), answers=None):  # noqa: B008
    return Fetcher(
        "alertd/1 kim@example.org",
        MemoryAnswers() if answers is None else answers,
        settings,
        random=random.Random(7),
        sleep=lambda _seconds: None,
    )


def refused(fetcher, request, now=NOON):
    with pytest.raises((SourceUnavailable, SourceMalformed)) as raised:
        fetcher.fetch(request, now)
    return str(raised.value)


def test_a_request_says_who_asks_and_nothing_more(server, request_):
    server.script("/forecast", json_answer([]))
    make().fetch(request_, NOON)
    (seen,) = server.seen
    assert seen.method == "GET"
    assert seen.target == "/forecast?lat=40.7128&lon=-74.006"
    assert dict(seen.headers.lower_items()) == {
        "host": f"127.0.0.1:{server.port}",
        "user-agent": "alertd/1 kim@example.org",
        "accept": "*/*",
        "accept-encoding": "gzip",
        "connection": "close",
    }


# ---- redirects ----


@pytest.mark.parametrize("status", [301, 302, 303, 307, 308])
def test_a_redirect_on_the_same_host_is_followed_with_the_same_manners(server, request_, status):
    server.script("/forecast", Behaviour(status=status, headers={"Location": "/other?lat=40.71"}))
    server.script("/other", json_answer([1]))
    answer = make().fetch(request_, NOON)
    assert answer.body == b"[1]"
    assert answer.url == request_.shown_url
    assert [seen.path for seen in server.seen] == ["/forecast", "/other"]
    assert server.seen[1].headers["User-Agent"] == "alertd/1 kim@example.org"


def test_a_redirect_to_another_port_or_host_is_refused(server, request_):
    with HttpServer() as other:
        for location in (f"{other.url}/", f"http://localhost:{server.port}/", "http://127.0.0.2/", "file:///etc/hosts"):
            server.script("/forecast", Behaviour(status=302, headers={"Location": location}))
            assert "redirects to another host, which is not followed; check base_url" in refused(make(), request_)
        assert other.seen == []


def test_a_loop_of_redirects_ends(server, request_):
    server.script("/forecast", Behaviour(status=301, headers={"Location": "/forecast"}))
    assert "redirects more than 3 times; check base_url" in refused(make(), request_)
    assert len(server.seen) == 4


def test_redirects_share_one_deadline(server, request_):
    server.script("/forecast", Behaviour(status=301, headers={"Location": "/forecast"}, pause=0.6))
    assert "in time" in refused(make(FetchSettings(deadline=timedelta(seconds=1.0))), request_)
    assert len(server.seen) == 2


def test_a_redirect_to_nowhere_is_a_failure(server, request_):
    server.script("/forecast", Behaviour(status=301))
    assert "301 Moved Permanently" in refused(make(), request_)


# ---- versions and freshness ----


def test_a_service_with_versions_sends_each_body_once(server, request_):
    changed = "Fri, 23 Jan 2026 11:58:01 GMT"
    server.script("/forecast", conditional(json_answer([1], {"Last-Modified": changed, "Cache-Control": "max-age=60"})))
    fetcher = make()
    for hours in range(3):
        parsed, answer = fetcher.fetch_and_parse(request_, NOON + hours * HOUR, read_json)
        assert parsed == [1]
        assert answer.retrieved == NOON + hours * HOUR
    assert [seen.headers.get("If-Modified-Since") for seen in server.seen] == [None, changed, changed]


def test_a_304_to_an_unconditional_request_is_a_failure(server, request_):
    server.script("/forecast", Behaviour(status=304))
    assert "no answer of it is held" in refused(make(), request_)


@pytest.mark.parametrize("expires", ["0", "-1", "never", "Thu, 99 Foo 2026 25:61:61 GMT", http_date(NOON - HOUR)])
def test_an_expiry_that_means_nothing_leaves_the_usual_pause(server, request_, expires):
    server.script("/forecast", json_answer([1], {"Expires": expires}))
    fetcher = make()
    fetcher.fetch(request_, NOON)
    fetcher.fetch(request_, NOON + 29 * MINUTE)
    assert len(server.seen) == 1
    fetcher.fetch(request_, NOON + 31 * MINUTE)
    assert len(server.seen) == 2


def test_an_expiry_is_honoured_across_a_restart_and_a_step_of_the_clock(server, request_, tmp_path):
    server.script("/forecast", json_answer([1], {"Expires": http_date(NOON + 2 * HOUR), "Date": http_date(NOON)}))
    for now, n_seen in ((NOON, 1), (NOON + 119 * MINUTE, 1), (NOON - HOUR, 2), (NOON - 50 * MINUTE, 2)):
        with Store.open(tmp_path / "alertd.sqlite") as store:
            assert make(answers=store).fetch(request_, now).problem == ""
        assert len(server.seen) == n_seen


# ---- troubles of the service ----


def test_an_error_that_passes_is_not_even_noticed(server, request_):
    server.script("/forecast", Behaviour(status=500), json_answer([1]))
    assert make().fetch(request_, NOON).problem == ""
    assert len(server.seen) == 2


def test_the_second_try_comes_after_a_second_or_more(server, request_):
    server.script("/forecast", Behaviour(hang_up=True), json_answer([1]))
    Fetcher("alertd", MemoryAnswers(), random=random.Random(1)).fetch(request_, NOON)
    first, second = server.seen
    assert 0.9 <= second.at - first.at < 5.0


@pytest.mark.parametrize(
    ("status", "pause"), [(429, "1800"), (429, http_date(NOON + 30 * MINUTE)), (503, "1800"), (429, "1800, please")]
)
def test_a_busy_service_is_left_alone(server, request_, status, pause):
    server.script("/forecast", Behaviour(status=status, headers={"Retry-After": pause}))
    server.script("/points", json_answer([1]))
    fetcher, points = make(), Request("p", f"{server.url}/points")
    reason = refused(fetcher, request_)
    assert str(status) in reason
    wait = MINUTE if "please" in pause else 30 * MINUTE
    assert refused(fetcher, points, NOON + 0.7 * wait) == reason
    assert len(server.seen) == 1
    assert fetcher.fetch(points, NOON + 1.3 * wait).body == b"[1]"


def test_a_ban_is_kept_over_restarts_and_told_with_its_cure(server, request_, tmp_path):
    server.script("/forecast", Behaviour(status=403, body=b"<h1>Forbidden</h1>"), json_answer([1]))
    for now in (NOON, NOON + HOUR, NOON + 5 * HOUR):
        with Store.open(tmp_path / "alertd.sqlite") as store:
            reason = refused(make(answers=store), request_, now)
            assert "403 Forbidden" in reason
            assert "check the contact of the site" in reason
    assert len(server.seen) == 1
    with Store.open(tmp_path / "alertd.sqlite") as store:
        assert make(answers=store).fetch(request_, NOON + 6 * HOUR).body == b"[1]"


def test_a_host_sees_one_request_at_a_time(server):
    fetcher = make()
    requests = [Request(str(number), f"{server.url}/{number}") for number in range(5)]
    for number in range(5):
        server.script(f"/{number}", json_answer([number], pause=0.1))
    threads = [threading.Thread(target=fetcher.fetch, args=(request, NOON)) for request in requests]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    ordered = sorted(server.seen, key=lambda seen: seen.at)
    assert len(ordered) == 5
    assert all(later.at - earlier.at >= 0.09 for earlier, later in pairwise(ordered))


# ---- what must not travel ----


def test_cookies_are_not_kept(server, request_):
    server.script("/forecast", Behaviour(status=302, headers={"Location": "/other", "Set-Cookie": "id=7; Path=/"}))
    server.script("/other", json_answer([1], {"Set-Cookie": "id=8; Path=/"}))
    fetcher = make()
    fetcher.fetch(request_, NOON)
    fetcher.fetch(request_, NOON + HOUR)
    assert len(server.seen) == 4
    assert not any("Cookie" in seen.headers for seen in server.seen)


def test_passwords_of_netrc_are_not_sent(server, request_, tmp_path, monkeypatch):
    netrc = tmp_path / "netrc"
    netrc.write_text("machine 127.0.0.1 login kim password canary\n")
    netrc.chmod(0o600)
    monkeypatch.setenv("NETRC", str(netrc))
    server.script("/forecast", json_answer([1]))
    for settings in (FetchSettings(), FetchSettings(proxies_from_environment=True)):
        make(settings).fetch(request_, NOON)
    assert not any("Authorization" in seen.headers for seen in server.seen)


def test_a_proxy_is_used_only_if_that_is_configured(server, request_, monkeypatch):
    with HttpServer() as proxy:
        for name in ("http_proxy", "HTTP_PROXY"):
            monkeypatch.setenv(name, proxy.url)
        for name in ("no_proxy", "NO_PROXY"):
            monkeypatch.delenv(name, raising=False)
        server.script("/forecast", json_answer(["direct"]))
        proxy.script("/forecast", json_answer(["proxy"]))
        assert make().fetch(request_, NOON).body == b'["direct"]'
        assert proxy.seen == []
        assert make(FetchSettings(proxies_from_environment=True)).fetch(request_, NOON).body == b'["proxy"]'
        assert proxy.seen[0].target == request_.full_url
        monkeypatch.setenv("no_proxy", "127.0.0.1")
        assert make(FetchSettings(proxies_from_environment=True)).fetch(request_, NOON).body == b'["direct"]'


def test_a_proxy_that_hangs_is_left_at_the_deadline(request_, monkeypatch):
    with HttpServer() as proxy:
        monkeypatch.setenv("http_proxy", proxy.url)
        monkeypatch.delenv("no_proxy", raising=False)
        proxy.script("/forecast", Behaviour(hang=True))
        settings = FetchSettings(proxies_from_environment=True, deadline=timedelta(seconds=1.0))
        assert "in time" in refused(make(settings), request_)
        assert len(proxy.seen) == 1


def test_keys_travel_but_are_told_nowhere(server, tmp_path, caplog):
    caplog.set_level(0)
    request = Request("k", f"{server.url}/forecast", (("apikey", "canarykey"),))
    server.script("/forecast", Behaviour(status=302, headers={"Location": "http://127.0.0.2/?apikey=canarykey"}))
    database = tmp_path / "alertd.sqlite"
    with Store.open(database) as store:
        told = [refused(make(answers=store), request)]
        server.script("/forecast", json_answer([1]))
        told.append(repr(make(answers=store).fetch(request, NOON + HOUR)))
        kept = [path.read_bytes() for path in tmp_path.iterdir()]
    assert server.seen[0].query["apikey"] == "canarykey"
    assert "canarykey" not in "".join(told)
    assert "canarykey" not in "".join(record.getMessage() for record in caplog.records if record.name[:6] == "alertd")
    assert not any(b"canarykey" in content for content in kept)
