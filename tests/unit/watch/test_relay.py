from __future__ import annotations

import json
import random
import threading
from datetime import UTC, datetime, timedelta

import pytest

from alertd.audit import AuditEvent
from alertd.core import StoreError
from alertd.delivery import SENT_AGAIN, SENT_LATE, Channel, Outcome, SendResult, send
from alertd.messages import Letter
from alertd.store import Addressed, Commit, OutboxState, Store
from alertd.watch.relay import Relay, RelaySettings

NOW = datetime(2026, 1, 22, 9, tzinfo=UTC)
SETTINGS = RelaySettings(jitter=0.0)
SECRET = "s3cr3t-canary"
#: A service that does not exist, so that a channel refuses every letter without a network.
REFUSING = f"nosuchservice://{SECRET}"


def make_letter(reference: str = "N7-1", recipient: str = "Ann") -> Letter:
    return Letter(
        reference=reference,
        recipient=recipient,
        composed=NOW,
        subject="Wrap 4 figs",
        text="Wrap 4 figs, start by 14:10.\n",
        html="<html><body><p>Wrap 4 figs</p></body></html>",
        short="Wrap 4 figs",
        threads=("a7",),
        response_type="Execute",
    )


class House:
    """A store, some channels and a clock that stands still until it is moved."""

    def __init__(self, folder):
        self.folder = folder
        self.now = NOW
        self.store = Store.open(None)
        self.channels = {
            "disk": Channel("disk", f"file:{folder / 'disk'}"),
            "shelf": Channel("shelf", f"file:{folder / 'shelf'}"),
            "blocked": Channel("blocked", f"file:{folder / SECRET / 'x'}"),
            "refusing": Channel("refusing", REFUSING),
            "dumb": Channel("dumb", REFUSING),
        }
        (folder / SECRET).write_text("")  # a file where the blocked channel wants a directory
        self.relays = []

    def put(self, letter, *channels):
        event = AuditEvent(self.now, "letter", {"reference": letter.reference, "recipient": letter.recipient})
        self.store.commit(Commit(self.now, letters=(Addressed(letter, channels),), events=(event,)))

    def relay(self, settings=SETTINGS, others=None):
        relay = Relay(
            self.store,
            self.channels,
            settings,
            "north",
            random=random.Random(1),
            others=others,
            clock=lambda: self.now,
        )
        self.relays.append(relay)
        return relay

    def carry(self, relay):
        started = relay.run_once(self.now)
        assert relay.wait(timedelta(seconds=20))
        return started

    def states(self):
        return [(item.recipient, item.channel, item.state.value) for item in self.store.outbox_items()]

    def events(self, kind):
        return [json.loads(row.body) for row in self.store.audit_rows() if row.kind == kind]

    def text(self, channel, reference="N7-1"):
        return (self.folder / channel / f"{reference}.txt").read_text(encoding="utf-8")


@pytest.fixture
def house(tmp_path):
    house = House(tmp_path)
    yield house
    for relay in house.relays:
        assert relay.stop()
    assert house.store.verify_audit() == []
    house.store.close()


def test_an_accepted_letter_is_settled_and_recorded(house):
    house.put(make_letter(), "disk")
    relay = house.relay()
    assert house.carry(relay) == 1
    assert house.states() == [("Ann", "disk", "accepted")]
    (event,) = house.events("send")
    assert event.pop("elapsed_s") >= 0
    assert event == {
        "reference": "N7-1",
        "recipient": "Ann",
        "channel": "disk",
        "attempt": 1,
        "outcome": "accepted",
        "reason": "accepted by the channel",
    }
    assert house.carry(relay) == 0


def test_a_letter_is_not_changed_on_the_direct_way(house):
    house.put(make_letter(), "disk")
    house.carry(house.relay())
    assert house.text("disk") == "Wrap 4 figs\n\nWrap 4 figs, start by 14:10.\n"


def test_several_letters_for_one_channel_go_one_after_the_other_in_one_run(house):
    for number in range(5):
        house.put(make_letter(f"N{number}-1"), "disk")
    assert house.carry(house.relay()) == 1
    assert {state for _recipient, _channel, state in house.states()} == {"accepted"}


def test_an_unavailable_channel_is_tried_again_after_longer_and_longer_waits(house):
    house.put(make_letter(), "blocked")
    relay = house.relay()
    waits = []
    for _ in range(5):
        assert house.carry(relay) == 1
        (item,) = house.store.outbox_items(OutboxState.WAITING)
        assert item.last_error == "cannot write"
        waits.append((item.not_before - house.now).total_seconds())
        house.now = item.not_before - timedelta(seconds=1)
        assert house.carry(relay) == 0
        house.now = item.not_before
    assert waits == [30, 60, 120, 240, 480]
    assert [event["attempt"] for event in house.events("send")] == [1, 2, 3, 4, 5]


def test_a_channel_that_recovers_gets_the_letter_unchanged(house):
    house.put(make_letter(), "blocked")
    relay = house.relay()
    house.carry(relay)
    (house.folder / SECRET).unlink()
    house.now += timedelta(seconds=30)
    house.carry(relay)
    assert house.states() == [("Ann", "blocked", "accepted")]
    assert SENT_AGAIN not in (house.folder / SECRET / "x" / "N7-1.txt").read_text(encoding="utf-8")


def test_after_the_last_try_the_next_channel_takes_over_under_the_same_reference(house):
    house.put(make_letter(), "blocked", "disk", "shelf")
    relay = house.relay(RelaySettings(max_tries=3, jitter=0.0))
    for _ in range(3):
        house.carry(relay)
        house.now += timedelta(minutes=30)
    assert house.states() == [("Ann", "blocked", "dead"), ("Ann", "disk", "accepted")]
    assert house.text("disk") == (
        "Wrap 4 figs\n\n"
        'The channel "blocked" did not take this message (cannot write), so it comes by another one.\n\n'
        "Wrap 4 figs, start by 14:10.\n"
    )
    assert [event["outcome"] for event in house.events("send")] == ["unavailable"] * 3 + ["accepted"]


def test_a_refusal_is_not_repeated_but_the_next_channel_takes_over_at_once(house):
    house.put(make_letter(), "refusing", "disk")
    house.carry(house.relay())
    assert house.states() == [("Ann", "refusing", "dead"), ("Ann", "disk", "accepted")]
    assert "(address not understood)" in house.text("disk")


def test_each_channel_that_failed_is_named(house):
    house.put(make_letter(), "refusing", "dumb", "disk")
    house.carry(house.relay())
    assert house.states()[-1] == ("Ann", "disk", "accepted")
    assert 'The channel "refusing" did not take' in house.text("disk")
    assert 'The channel "dumb" did not take' in house.text("disk")


def test_a_channel_that_left_the_configuration_is_passed_over(house):
    house.put(make_letter(), "gone", "disk")
    house.carry(house.relay())
    assert house.states() == [("Ann", "gone", "dead"), ("Ann", "disk", "accepted")]
    assert "(no such channel in the configuration)" in house.text("disk")


def test_when_no_channel_of_a_recipient_is_left_all_others_are_told(house):
    house.put(make_letter(), "refusing")
    others = {"Ann": ("refusing",), "Ben": ("disk", "shelf"), "Cleo": ("shelf",), "Dora": ("gone",)}
    house.carry(house.relay(others=others))
    assert house.states() == [
        ("Ann", "refusing", "dead"),
        ("Ann", "refusing", "waiting"),
        ("Ben", "disk", "accepted"),
        ("Cleo", "shelf", "accepted"),
    ]
    (item,) = house.store.outbox_items(OutboxState.DEAD)
    for channel in ("disk", "shelf"):
        text = house.text(channel, f"N7-1-unreached-{item.item_id}")
        assert text.startswith("Ann could not be reached: Wrap 4 figs")
        assert "address not understood" in text
    assert house.events("problem") == []


def test_a_report_may_take_another_channel_and_is_tried_until_somebody_mends_one(house):
    house.put(make_letter(), "refusing")
    relay = house.relay(others={"Ben": ("dumb", "refusing")})
    house.carry(relay)
    assert house.states() == [
        ("Ann", "refusing", "dead"),
        ("Ben", "dumb", "dead"),
        ("Ben", "refusing", "waiting"),
    ]
    house.channels["refusing"] = house.channels["disk"]
    relay = house.relay(others={"Ben": ("dumb", "refusing")})
    house.now += SETTINGS.reports_pause - timedelta(seconds=1)
    assert house.carry(relay) == 0
    house.now += timedelta(seconds=1)
    house.carry(relay)
    assert house.states()[-1] == ("Ben", "refusing", "accepted")
    assert house.events("problem") == []


@pytest.mark.parametrize("others", [None, {"Ann": ("refusing", "disk")}])
def test_when_there_is_nobody_else_the_logs_say_so(house, others, caplog):
    house.put(make_letter(), "refusing")
    house.carry(house.relay(others=others))
    assert house.states()[0] == ("Ann", "refusing", "dead")
    assert len(house.states()) == (1 if others is None else 3), "what was missed is named to Ann as soon as it can be"
    assert house.events("problem") == [
        {"problem": "unreached", "reference": "N7-1", "recipient": "Ann", "reason": "address not understood"}
    ]
    assert "Ann could not be reached, and there is nobody else to tell" in caplog.text


def test_the_last_channel_is_tried_on_after_the_last_try_until_it_is_back(house):
    house.put(make_letter(), "blocked")
    relay = house.relay(RelaySettings(max_tries=2, jitter=0.0))
    for _ in range(30):
        house.carry(relay)
        house.now += timedelta(minutes=30)
    assert house.states() == [("Ann", "blocked", "waiting")]
    (house.folder / SECRET).unlink()
    house.carry(relay)
    assert house.states() == [("Ann", "blocked", "accepted")]
    assert house.text(f"{SECRET}/x").startswith(f"Wrap 4 figs\n\n{SENT_LATE}\n\n")


def test_a_letter_that_is_soon_sent_does_not_say_that_it_is_late(house):
    house.put(make_letter(), "disk")
    house.now += timedelta(minutes=119)
    house.carry(house.relay())
    assert SENT_LATE not in house.text("disk")


def test_what_nobody_took_for_a_day_is_given_up_and_told_to_everybody_once_a_channel_is_back(house):
    house.put(make_letter(), "blocked")
    relay = house.relay(others={"Ann": ("blocked",), "Ben": ("disk",)})
    for _ in range(49):
        house.carry(relay)
        house.now += timedelta(minutes=30)
    assert house.states() == [
        ("Ann", "blocked", "dead"),
        ("Ann", "blocked", "waiting"),
        ("Ben", "disk", "accepted"),
    ]
    outcomes = [event["outcome"] for event in house.events("send") if event["reference"] == "N7-1"]
    assert outcomes[-1] == "expired"
    assert set(outcomes[:-1]) == {"unavailable"}
    (dead,) = house.store.outbox_items(OutboxState.DEAD)
    (house.folder / SECRET).unlink()
    house.now += timedelta(hours=1)
    house.carry(relay)
    own = house.text(f"{SECRET}/x", f"N7-1-unreached-{dead.item_id}")
    assert own.startswith("A message to you could not be sent: Wrap 4 figs")
    assert "(too old to be of use)" in own
    assert "Look at alertd status for how things stand now." in own
    assert "Please tell Ann, or see to it yourself." in house.text("disk", f"N7-1-unreached-{dead.item_id}")


def test_after_a_long_sleep_an_overtaken_letter_is_not_sent_but_named(house):
    house.put(make_letter(), "disk")
    house.now += timedelta(days=3)
    house.carry(house.relay(others={"Ann": ("disk", "shelf")}))
    assert house.states() == [("Ann", "disk", "dead"), ("Ann", "disk", "accepted")]
    assert not (house.folder / "disk" / "N7-1.txt").exists()


def test_a_report_that_nobody_takes_for_a_week_ends_in_the_logs(house, caplog):
    house.put(make_letter(), "blocked")
    relay = house.relay(others={"Ann": ("blocked",)})
    for _ in range(9):
        house.carry(relay)
        house.now += timedelta(days=1)
    assert [state for _, _, state in house.states()] == ["dead", "dead"]
    at_once, in_the_end = house.events("problem")
    assert at_once["reference"] == "N7-1"
    assert in_the_end["reference"].startswith("N7-1-unreached-")
    assert "Ann could not be reached, and there is nobody else to tell" in caplog.text


def test_a_letter_whose_lease_ran_out_says_that_it_is_sent_again(house):
    house.put(make_letter(), "disk")
    house.store.claim(house.now, SETTINGS.lease)
    relay = house.relay()
    assert house.carry(relay) == 0
    house.now += SETTINGS.lease
    assert house.carry(relay) == 1
    assert house.text("disk").endswith(f"start by 14:10.\n\n{SENT_AGAIN}\n")
    assert house.events("send")[0]["reference"] == "N7-1"


def test_an_unknown_outcome_is_sent_again_with_that_line(house):
    house.put(make_letter(), "refusing")
    relay = house.relay(RelaySettings(deadline=timedelta(milliseconds=20), jitter=0.0))
    house.carry(relay)
    (item,) = house.store.outbox_items(OutboxState.WAITING)
    assert item.is_resend
    assert item.last_error == "no answer before the deadline"
    house.channels["refusing"] = Channel("refusing", f"file:{house.folder / 'disk'}")
    house.now = item.not_before
    house.carry(house.relay())
    assert house.text("disk").endswith(f"{SENT_AGAIN}\n")


def test_a_settlement_that_comes_too_late_changes_nothing(house):
    house.put(make_letter(), "disk")
    (late,) = house.store.claim(house.now, SETTINGS.lease)
    house.now += SETTINGS.lease
    house.carry(house.relay())
    event = {"reference": "N7-1", "recipient": "Ann", "channel": "disk", "outcome": "accepted"}
    assert not house.store.accept(late, house.now, AuditEvent(house.now, "send", event))
    assert len(house.events("send")) == 1


@pytest.mark.parametrize("others", [None, {"Ben": ("shelf",)}])
def test_a_failure_that_is_known_too_late_reports_nothing(house, others):
    house.put(make_letter(), "disk")
    (late,) = house.store.claim(house.now, SETTINGS.lease)
    house.now += SETTINGS.lease
    relay = house.relay(others=others)
    house.carry(relay)
    relay._settle(late, 1, SendResult(Outcome.REFUSED, "HTTP 404", None, timedelta(0)))
    assert house.states() == [("Ann", "disk", "accepted")]
    assert house.events("problem") == []


def test_a_letter_that_breaks_the_program_is_given_up_in_the_end_and_reported(house, caplog, monkeypatch):
    def break_down(channel, letter, **options):
        if channel.name == "disk":
            raise MemoryError
        return send(channel, letter, **options)

    house.put(make_letter(), "disk", "shelf")
    monkeypatch.setattr("alertd.watch.relay.send", break_down)
    relay = house.relay(RelaySettings(max_tries=2, jitter=0.0))
    house.carry(relay)
    assert "letter N7-1 by channel disk: MemoryError" in caplog.text
    house.now += timedelta(hours=1)
    house.carry(relay)
    assert house.states() == [("Ann", "disk", "dead"), ("Ann", "shelf", "accepted")]
    assert "(a fault of alertd itself)" in house.text("shelf")


def test_without_a_clock_of_its_own_a_relay_uses_the_systems(house):
    house.put(make_letter(), "disk")
    relay = Relay(house.store, house.channels, SETTINGS, "north", random=random.Random(1))
    house.relays.append(relay)
    house.carry(relay)
    (item,) = house.store.outbox_items()
    assert abs(item.settled - datetime.now(UTC)) < timedelta(minutes=1)


def test_a_database_that_fails_between_two_letters_is_logged(house, caplog, monkeypatch):
    claim, calls = house.store.claim, []

    def claim_once(*arguments, **options):
        calls.append(arguments)
        if len(calls) > 1:
            message = "database is locked"
            raise StoreError(message)
        return claim(*arguments, **options)

    monkeypatch.setattr(house.store, "claim", claim_once)
    house.put(make_letter(), "disk")
    assert house.carry(house.relay()) == 1
    assert house.states() == [("Ann", "disk", "accepted")]
    assert "outbox: database is locked" in caplog.text


def test_a_stopped_relay_leaves_letters_claimed_and_starts_none(house):
    house.put(make_letter(), "refusing")
    relay = house.relay()
    assert relay.run_once(house.now) == 1
    assert relay.stop()
    (item,) = house.store.outbox_items()
    assert (item.state, item.lease_until) == (OutboxState.CLAIMED, house.now + SETTINGS.lease)
    assert house.events("send") == []
    assert relay.run_once(house.now + timedelta(hours=1)) == 0


def test_no_more_letters_are_in_flight_than_allowed(house):
    house.put(make_letter("N1-1"), "refusing")
    house.put(make_letter("N2-1"), "dumb")
    relay = house.relay(RelaySettings(parallel=1))
    assert relay.run_once(house.now) == 1
    assert relay.run_once(house.now) == 0
    assert relay.wait(timedelta(seconds=20))
    assert {state for _recipient, _channel, state in house.states()} == {"dead"}


def test_a_database_that_fails_meanwhile_is_logged_and_the_letter_comes_back(house, caplog, tmp_path):
    path = tmp_path / "alertd.db"
    with Store.open(path) as store:
        house.store.close()
        house.store = store
        house.put(make_letter(), "refusing")
        relay = house.relay()
        relay.run_once(house.now)
        store.close()
        assert relay.wait(timedelta(seconds=20))
    assert "letter N7-1 by channel refusing" in caplog.text
    house.store = Store.open(path)
    (item,) = house.store.outbox_items()
    assert item.state is OutboxState.CLAIMED


def test_what_was_sent_while_the_database_could_not_be_written_is_recorded_later_and_not_sent_again(
    house, caplog, monkeypatch
):
    accept, lives = house.store.accept, []

    def accept_later(*arguments):
        lives.append(arguments)
        if len(lives) <= 3:
            message = "disk full"
            raise StoreError(message)
        return accept(*arguments)

    monkeypatch.setattr(house.store, "accept", accept_later)
    house.put(make_letter(), "disk")
    relay = house.relay()
    house.carry(relay)
    (house.folder / "disk" / "N7-1.txt").unlink()
    for _ in range(3):
        assert house.states() == [("Ann", "disk", "claimed")]
        house.now += SETTINGS.lease
        house.carry(relay)
    assert house.states() == [("Ann", "disk", "accepted")]
    assert not (house.folder / "disk" / "N7-1.txt").exists()
    assert [(event["attempt"], event["outcome"]) for event in house.events("send")] == [(1, "accepted")]
    assert "letter N7-1 by channel disk: disk full" in caplog.text


def test_a_clock_that_was_ahead_makes_no_letter_wait_longer_than_any_wait_is(house):
    house.put(make_letter(), "blocked")
    relay = house.relay()
    house.carry(relay)
    house.now -= timedelta(days=1)
    (house.folder / SECRET).unlink()
    assert house.carry(relay) == 1
    assert house.states() == [("Ann", "blocked", "accepted")]


def test_a_database_that_is_locked_is_the_callers_to_handle(house, tmp_path):
    path = tmp_path / "locked.db"
    with Store.open(path) as other, Store.open(path, busy_timeout=timedelta(milliseconds=10)) as store:
        relay = Relay(store, {}, SETTINGS, "north", random=random.Random(1))
        with other._writing(), pytest.raises(StoreError, match="locked"):
            relay.run_once(house.now)
        assert relay.stop()


def test_neither_logs_nor_audit_hold_a_secret(house, caplog):
    caplog.set_level("DEBUG")
    house.put(make_letter("N1-1"), "refusing", "blocked")
    house.put(make_letter("N2-1"), "blocked", "disk")
    relay = house.relay(RelaySettings(max_tries=2, jitter=0.0), others={"Ben": ("dumb",)})
    for _ in range(6):
        house.carry(relay)
        house.now += timedelta(hours=1)
    everything = [row.body for row in house.store.audit_rows()] + [caplog.text, repr(house.store.outbox_items())]
    assert SECRET not in "".join(everything)
    assert threading.active_count() < 20
