"""The daemon in a process of its own, with a real mail server on loopback."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path

import pytest

from alertd.store import OutboxState, Store

sys.path.insert(0, str(Path(__file__).parents[2]))

from alertd.delivery import SENT_AGAIN
from tests.e2e.kill_support import (
    HangingMailServer,
    has_evaluated,
    kinds,
    log_of,
    mail_garden,
    references,
    running,
    stop,
    wait_until,
)


@pytest.fixture
def server():
    with HangingMailServer() as server:
        yield server


@pytest.mark.slow
def test_a_threatening_forecast_gives_one_mail_however_often_it_is_written_again(tmp_path, server):
    garden = mail_garden(tmp_path, server)
    text = garden.forecast_text(is_severe=True)
    garden.put_forecast(text)
    with running(garden) as process:
        assert wait_until(lambda: server.received), log_of(garden)
        for repetition in range(100):
            garden.put_forecast(text)
            os.utime(garden.forecast)
            time.sleep(0.03 if repetition % 10 else 0.1)
        seen = kinds(garden)["evaluation"]
        assert wait_until(lambda: has_evaluated(garden, seen + 2))
        code, seconds = stop(process)
    assert code == 0
    assert seconds < 10.0
    (mail,) = server.received
    assert mail["Subject"].startswith("Get ready to move the fig pots into store")
    assert kinds(garden)["letter"] == 1


def test_a_stop_while_a_send_hangs_loses_nothing_and_the_letter_goes_out_after_the_restart(tmp_path, server):
    server.is_hanging = True
    garden = mail_garden(tmp_path, server)
    garden.write_forecast(is_severe=True)
    with running(garden) as process:
        assert server.has_letter.wait(40.0), log_of(garden)
        code, seconds = stop(process)
    assert code == 0
    assert seconds < 10.0
    assert server.received == []
    with Store.open(garden.database) as store:
        (item,) = store.outbox_items()
    assert item.state is OutboxState.CLAIMED
    server.is_hanging = False
    with running(garden) as process:
        assert wait_until(lambda: server.received), log_of(garden)
        with Store.open(garden.database) as store:
            assert wait_until(lambda: store.outbox_items(OutboxState.ACCEPTED))
            code, _ = stop(process)
            assert [row.kind for row in store.audit_rows()][-1] == "stop"
            assert store.verify_audit() == []
    assert code == 0
    assert references(server) == [item.reference]
    assert SENT_AGAIN in server.received[0].get_body(("plain",)).get_content()


def test_a_keyboard_interrupt_ends_it_in_order(tmp_path, server):
    garden = mail_garden(tmp_path, server)
    garden.write_forecast(is_severe=False)
    with running(garden) as process:
        assert wait_until(lambda: has_evaluated(garden)), log_of(garden)
        process.send_signal(signal.SIGINT)
        assert process.wait(10.0) == 0
    assert kinds(garden)["start"] == kinds(garden)["stop"] == 1
    assert "Traceback" not in log_of(garden)


def test_a_second_daemon_on_the_same_database_says_who_runs_and_ends(tmp_path, server):
    garden = mail_garden(tmp_path, server)
    garden.write_forecast(is_severe=False)
    with running(garden) as first:
        assert wait_until(lambda: has_evaluated(garden)), log_of(garden)
        with running(garden) as second:
            assert second.wait(40.0) == 1
        assert f"is in use by another alertd (process {first.pid})" in log_of(garden)
        assert first.poll() is None


def test_an_evaluation_that_hangs_cannot_hold_up_a_stop(tmp_path, server):
    garden = mail_garden(tmp_path, server)
    garden.write_forecast(is_severe=False)
    with running(garden, "hang") as process:
        assert wait_until(lambda: "alertd 0" in log_of(garden)), log_of(garden)
        time.sleep(0.5)
        code, seconds = stop(process)
    assert code == 1
    assert seconds < 10.0
    assert "something still hangs" in log_of(garden)
    with Store.open(garden.database) as store:
        assert store.verify_audit() == []
