"""What every store promises, in memory or in a file."""

import sqlite3
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from alertd.alerts import Alert, AlertState, Announcement, Outcome
from alertd.audit import GENESIS, AuditEvent, Head
from alertd.core import Certainty, MessageType, ReportError, ResponseType, Severity, StoreError, Urgency
from alertd.messages import Letter
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Condition, Cover
from alertd.store import Addressed, Commit, OutboxState, StateChanged, Store

NOON = datetime(2026, 1, 23, 12, tzinfo=UTC)
SEASON = datetime(2025, 7, 1, tzinfo=UTC)
LEASE = timedelta(minutes=2)


@pytest.fixture(params=["memory", "file", "quick file"])
def store(request, tmp_path):
    path = None if request.param == "memory" else tmp_path / "alertd.sqlite"
    with Store.open(path, durable=request.param != "quick file") as opened:
        yield opened


def an_alert(name="patio-pots-2026-01-23", sent=NOON, **changes):
    told = Announcement(
        sent, MessageType.ALERT, ResponseType.PREPARE, Severity.SEVERE, Urgency.FUTURE, Certainty.LIKELY, minimum=-11.5
    )
    alert = Alert(
        name,
        "patio-pots",
        Action.MOVE_IN,
        Rule.CONTAINER_ROOTS,
        AlertState.PREPARE,
        told,
        told,
        None,
        1,
        Severity.SEVERE,
        history=(told,),
    )
    return replace(alert, **changes)


def ended(alert, when, outcome=Outcome.DONE):
    return replace(alert, state=AlertState.ENDED, ended=when, outcome=outcome)


def a_letter(reference="r-1", recipient="kim"):
    return Letter(reference, recipient, NOON, "Move the pots in", "text", "<p>text</p>", "short", (), "Prepare")


def an_event(kind="evaluation", **body):
    return AuditEvent(NOON, kind, body)


def transition(alert):
    return an_event("transition", alert_id=alert.alert_id, revision=alert.revision)


def written(letter):
    return an_event("letter", reference=letter.reference, recipient=letter.recipient)


def sent(item, outcome):
    return an_event("send", reference=item.reference, recipient=item.recipient, channel=item.channel, outcome=outcome)


def post(store, *references, channels=("mail", "chat"), now=NOON):
    letters = [a_letter(reference) for reference in references]
    addressed = tuple(Addressed(letter, channels) for letter in letters)
    store.commit(Commit(now, letters=addressed, events=tuple(written(letter) for letter in letters)))


def contents(store):
    return "\n".join(store._connection.iterdump())


# Commits and what is read back


def test_a_new_store_is_empty(store):
    state = store.load_state(SEASON)
    assert (dict(state.conditions), state.alerts, store.all_alerts()) == ({}, (), ())
    assert store.head() == Head(0, GENESIS)
    assert list(store.audit_rows()) == []
    assert store.verify_audit() == []
    assert store.outbox_summary().oldest_waiting is None
    assert store.state_version() == 0


def test_a_commit_writes_everything_together(store):
    alert, letter, condition = an_alert(), a_letter(), Condition(Cover.IN_PLACE, cover_since=NOON)
    head = store.commit(
        Commit(
            NOON,
            alerts=(alert,),
            conditions={"patio-pots": condition},
            letters=(Addressed(letter, ("mail", "chat"), "0:000000000000"),),
            events=(transition(alert), written(letter)),
        )
    )
    assert head.sequence == 2
    assert store.head() == head
    state = store.load_state(SEASON)
    assert state.alerts == (alert,)
    assert state.conditions == {"patio-pots": condition}
    (item,) = store.outbox_items()
    assert (item.letter, item.channel, item.fallback_channels) == (letter, "mail", ("chat",))
    assert (item.state, item.attempts, item.created, item.not_before) == (OutboxState.WAITING, 0, NOON, NOON)
    assert [row.kind for row in store.audit_rows()] == ["transition", "letter"]
    assert store.verify_audit([head]) == []


def test_an_alert_that_changes_replaces_itself(store):
    alert = an_alert()
    store.commit(Commit(NOON, alerts=(alert,)))
    later = replace(alert, revision=2, reminded=True)
    store.commit(Commit(NOON, alerts=(later,)))
    assert store.all_alerts() == (later,)
    assert store.alert(alert.alert_id) == later
    assert store.alert("another") is None


def test_the_state_holds_open_alerts_and_those_of_this_season(store):
    before = SEASON - timedelta(days=90)
    alerts = {
        "long-open": an_alert("long-open", before),
        "long-ended": ended(an_alert("long-ended", before), SEASON - timedelta(microseconds=1)),
        "ended-in-season": ended(an_alert("ended-in-season", before + timedelta(days=1)), SEASON),
        "this-season": ended(an_alert("this-season", SEASON), SEASON + timedelta(days=2)),
    }
    store.commit(Commit(NOON, alerts=tuple(alerts.values())))
    names = [alert.alert_id for alert in store.load_state(SEASON).alerts]
    assert names == ["long-open", "ended-in-season", "this-season"]
    names = [alert.alert_id for alert in store.load_state(before).alerts]
    assert names == ["long-ended", "long-open", "ended-in-season", "this-season"]


def test_the_state_follows_every_commit(store):
    for number in range(5):
        store.commit(Commit(NOON, alerts=(an_alert(f"a-{number}"),), events=(an_event(),)))
        assert len(store.load_state(SEASON).alerts) == number + 1
        store.commit(Commit(NOON, conditions={"figs": Condition(cover_since=NOON + timedelta(hours=number))}))
        assert store.load_state(SEASON).conditions["figs"].cover_since == NOON + timedelta(hours=number)


def test_notes_are_written_with_the_commit_or_not_at_all(store):
    seen = store.state_version()
    store.commit(Commit(NOON, events=(an_event(),), notes={"day": "1", "told": "yes"}, based_on=seen))
    assert (store.get_note("day"), store.get_note("told")) == ("1", "yes")
    with pytest.raises(StateChanged):
        store.commit(Commit(NOON, notes={"day": "2"}, based_on=seen + 1))
    with pytest.raises(ValueError, match="not finite"):
        store.commit(Commit(NOON, events=(an_event(value=float("nan")),), notes={"day": "2"}))
    assert store.get_note("day") == "1"
    store.commit(Commit(NOON, notes={"day": ""}))
    assert store.get_note("day") == ""


def test_a_state_cannot_be_changed_by_who_reads_it(store):
    with pytest.raises(TypeError):
        store.load_state(SEASON).conditions["figs"] = Condition()


def test_a_state_that_did_not_change_is_not_read_again(store):
    store.commit(Commit(NOON, alerts=(an_alert(),)))
    first = store.load_state(SEASON)
    store.commit(Commit(NOON, events=(an_event(),)))
    assert store.load_state(SEASON) is first


def test_a_commit_based_on_an_old_state_is_refused(store):
    seen = store.state_version()
    store.commit(Commit(NOON, conditions={"figs": Condition(Cover.IN_PLACE)}, based_on=seen))
    before = contents(store)
    with pytest.raises(StateChanged, match="judge once more"):
        store.commit(Commit(NOON, alerts=(an_alert(),), events=(an_event(),), based_on=seen))
    assert contents(store) == before
    store.commit(Commit(NOON, alerts=(an_alert(),), based_on=store.state_version()))


def test_letters_and_facts_alone_do_not_age_a_state(store):
    seen = store.state_version()
    post(store, "r-1")
    assert store.state_version() == seen


def test_a_letter_that_is_in_the_outbox_already_undoes_the_whole_commit(store):
    post(store, "r-1")
    before, state = contents(store), store.load_state(SEASON)
    with pytest.raises(ValueError, match="r-1 to kim is in the outbox already"):
        store.commit(
            Commit(
                NOON,
                alerts=(an_alert(),),
                conditions={"figs": Condition(Cover.LIFTED)},
                letters=(Addressed(a_letter("r-2"), ("mail",)), Addressed(a_letter("r-1"), ("sms",))),
                events=(an_event(),),
            )
        )
    assert contents(store) == before
    assert store.load_state(SEASON) == state
    store.commit(Commit(NOON, letters=(Addressed(a_letter("r-1", "lou"), ("mail",)),)))


@pytest.mark.parametrize(
    "commit",
    [
        Commit(NOON, alerts=(an_alert(),), events=(an_event(value=float("nan")),)),
        Commit(NOON, alerts=(an_alert(),), events=(AuditEvent(datetime(2026, 1, 1), "x", {}),)),  # noqa: DTZ001
        Commit(NOON, alerts=(an_alert(), an_alert("b", end="soon"))),
        Commit(NOON, alerts=(an_alert(),), letters=(Addressed(a_letter(), ("mail",), "no head"),)),
    ],
)
def test_a_commit_that_cannot_be_written_whole_is_not_written_at_all(store, commit):
    before = contents(store)
    with pytest.raises(ValueError, match=r"."):
        store.commit(commit)
    assert contents(store) == before
    assert store.load_state(SEASON).alerts == ()


@pytest.mark.parametrize("channels", [(), ("mail", "mail")])
def test_a_letter_needs_channels_each_once(channels):
    with pytest.raises(ValueError, match="at least one channel and each once"):
        Addressed(a_letter(), channels)


def test_an_alert_is_found_by_the_beginning_of_its_name(store):
    old = ended(an_alert("pots-2026-01-03"), NOON)
    new, other = an_alert("pots-2026-01-23"), an_alert("figs-2026-01-23")
    store.commit(Commit(NOON, alerts=(old, new, other)))
    assert store.find_alert("figs") == other
    assert store.find_alert("pots-2026-01-03") == old
    assert store.find_alert("pots") == new


def test_a_name_that_is_the_beginning_of_another_is_still_found(store):
    short, long = an_alert("pots-2026-01-03"), an_alert("pots-2026-01-03-b")
    store.commit(Commit(NOON, alerts=(short, long)))
    assert store.find_alert("pots-2026-01-03") == short


def test_a_person_is_told_when_a_name_fits_none_or_several(store):
    store.commit(Commit(NOON, alerts=tuple(an_alert(f"pots-{number}") for number in range(7))))
    with pytest.raises(ReportError, match="no alert is called 'p%' or begins so"):
        store.find_alert("p%")
    with pytest.raises(ReportError, match=r"fits several alerts: pots-0, .*pots-4 and 2 more; give the whole"):
        store.find_alert("pots")


def test_notes_of_a_commit_are_kept_with_it_or_not_at_all(store):
    letters = (Addressed(a_letter(), ("mail",)),)
    store.commit(Commit(NOON, letters=letters, notes={"correspondence:kim": "one"}))
    assert store.get_note("correspondence:kim") == "one"
    with pytest.raises(ValueError, match="in the outbox already"):
        store.commit(Commit(NOON, letters=letters, notes={"correspondence:kim": "two"}))
    with pytest.raises(StateChanged):
        store.commit(Commit(NOON, notes={"correspondence:kim": "three"}, based_on=99))
    assert store.get_note("correspondence:kim") == "one"


def test_notes_are_kept(store):
    assert store.get_note("rehearsal") is None
    store.set_note("rehearsal", "one")
    store.set_note("rehearsal", "two")
    store.set_note("audit_head", "nothing to do with the log")
    assert store.get_note("rehearsal") == "two"
    assert store.head() == Head(0, GENESIS)


# The audit log


def test_the_log_is_read_in_parts(store):
    store.commit(Commit(NOON, events=tuple(an_event(number=number) for number in range(4500))))
    rows = list(store.audit_rows())
    assert [row.sequence for row in rows] == list(range(1, 4501))
    assert list(store.audit_rows(3, 2005)) == rows[2:2005]
    assert list(store.audit_rows(4500)) == rows[-1:]
    assert list(store.audit_rows(4501)) == []
    assert list(store.audit_rows(5, 4)) == []
    assert list(store.audit_rows(1, 2000)) == rows[:2000]


def test_heads_go_on_from_commit_to_commit(store):
    heads = [store.head()] + [store.commit(Commit(NOON, events=(an_event(n=n), an_event(n=n)))) for n in range(3)]
    assert [head.sequence for head in heads] == [0, 2, 4, 6]
    assert store.commit(Commit(NOON)) == heads[-1]
    assert store.verify_audit(heads) == []


def test_the_time_of_a_fact_keeps_its_fraction(store):
    store.commit(Commit(NOON, events=(AuditEvent(NOON + timedelta(milliseconds=5), "send", {}),)))
    assert next(store.audit_rows()).happened == "2026-01-23T12:00:00.005000Z"


def test_published_heads_are_kept_with_their_letters(store):
    head = store.commit(Commit(NOON, events=(an_event(),)))
    letter = a_letter()
    addressed = Addressed(letter, ("mail", "chat"), str(head))
    store.commit(Commit(NOON, letters=(addressed,), events=(written(letter),)))
    post(store, "r-2")
    assert list(store.published_heads()) == [Head(1, head.hash[:12])]
    assert store.verify_audit() == []


def tampered(store, *statements):
    for statement in statements:
        store._connection.execute(statement)
    return [(fault.sequence, fault.text) for fault in store.verify_audit()]


@pytest.fixture
def full_store(store):
    alert = an_alert()
    store.commit(Commit(NOON, alerts=(alert,), events=(transition(alert), an_event())))
    letter = a_letter()
    addressed = Addressed(letter, ("mail",), str(store.head()))
    store.commit(Commit(NOON, letters=(addressed,), events=(written(letter),)))
    (item,) = store.claim(NOON, LEASE)
    assert store.accept(item, NOON, sent(item, "accepted"))
    assert store.verify_audit() == []
    assert store.head().sequence == 4
    return store


@pytest.mark.parametrize(
    ("statement", "sequence", "words"),
    [
        ("UPDATE audit SET body = replace(body, '1', '2') WHERE sequence = 1", 1, "changed"),
        ("UPDATE audit SET body = CAST(x'7bff7d' AS TEXT) WHERE sequence = 3", 3, "changed"),
        ("UPDATE audit SET body = '[]' WHERE sequence = 4", 4, "changed"),
        ("UPDATE audit SET happened = '2026-01-23T12:00:01Z' WHERE sequence = 3", 3, "changed"),
        ("DELETE FROM audit WHERE sequence = 2", 2, "missing"),
        ("DELETE FROM audit WHERE sequence = 4", 4, "cut off"),
        ("DELETE FROM audit", 1, "cut off"),
        ("INSERT INTO audit VALUES (5, '', '', '', '')", 5, "changed"),
        ("INSERT INTO audit VALUES (0, '', '', '', '')", 0, "out of order"),
        ("UPDATE outbox SET published_head = '2:abababababab'", 2, "published"),
        ("UPDATE outbox SET published_head = 'x'", 0, "spoilt"),
        ("DELETE FROM meta WHERE key = 'audit_head'", 0, "not recorded"),
        ("UPDATE meta SET value = '3' || substr(value, 2) WHERE key = 'audit_head'", 4, "were added"),
        ("UPDATE alerts SET revision = 2", 0, "nothing of its revision 2"),
        ("UPDATE outbox SET channel = 'chat'", 0, "does not tell that chat accepted it"),
        ("UPDATE outbox SET reference = 'r-9'", 0, "does not tell that it was written"),
    ],
)
def test_what_somebody_does_to_the_tables_is_found(full_store, statement, sequence, words):
    faults = tampered(full_store, statement)
    assert any(number == sequence and words in text for number, text in faults), faults


def test_a_cut_end_with_a_forged_record_is_found_by_a_head_kept_outside(full_store):
    outside = Head.parse(str(full_store.head()))
    (third,) = full_store.audit_rows(3, 3)
    full_store._connection.execute("DELETE FROM audit WHERE sequence = 4")
    forged = f"3:{third.hash}"
    full_store._connection.execute("UPDATE meta SET value = ? WHERE key = 'audit_head'", (forged,))
    assert all(fault.sequence == 0 for fault in full_store.verify_audit())
    assert full_store.verify_audit([outside])[-1].sequence == 4


def test_a_log_that_goes_on_after_its_record_is_not_written_to(full_store):
    full_store._connection.execute("INSERT INTO audit VALUES (5, '', '', '', '')")
    before = contents(full_store)
    with pytest.raises(StoreError, match="goes on after its recorded end"):
        full_store.commit(Commit(NOON, alerts=(an_alert("b"),), events=(an_event(),)))
    assert contents(full_store) == before


@pytest.mark.parametrize(
    ("statement", "read"),
    [
        ("UPDATE meta SET value = 'x' WHERE key = 'audit_head'", lambda store: store.head()),
        ("UPDATE outbox SET published_head = 'x'", lambda store: list(store.published_heads())),
        ("UPDATE outbox SET letter = '{}'", lambda store: store.outbox_items()),
        ("UPDATE alerts SET document = '{}'", lambda store: store.all_alerts()),
        ("INSERT INTO conditions VALUES ('figs', 'no JSON')", lambda store: store.load_state(SEASON)),
        ("UPDATE alerts SET document = CAST(x'ff' AS TEXT)", lambda store: store.all_alerts()),
    ],
)
def test_what_is_spoilt_is_told_in_one_line(full_store, statement, read):
    full_store._connection.execute(statement)
    with pytest.raises(StoreError, match=r"put a copy") as caught:
        read(full_store)
    assert "\n" not in str(caught.value)


# The outbox


def test_letters_go_out_in_the_order_in_which_they_came(store):
    post(store, "r-2", now=NOON + timedelta(seconds=1))
    post(store, "r-1")
    assert [item.reference for item in store.outbox_items()] == ["r-1", "r-2"]
    now = NOON + LEASE
    for reference in ("r-1", "r-2"):
        (item,) = store.claim(now, LEASE)
        assert (item.reference, item.attempts, item.is_resend) == (reference, 1, False)
        assert (item.state, item.lease_until) == (OutboxState.CLAIMED, now + LEASE)
    assert store.claim(now, LEASE) == []


def test_a_claim_takes_one_letter_for_each_channel_that_is_free(store):
    post(store, "r-1", "r-2", channels=("mail",))
    post(store, "r-3", channels=("chat",))
    post(store, "r-4", channels=("sms",))
    assert [item.reference for item in store.claim(NOON, LEASE, busy_channels=["chat"], limit=9)] == ["r-1", "r-4"]
    assert [item.reference for item in store.claim(NOON, LEASE, limit=1)] == ["r-2"]
    assert [item.reference for item in store.claim(NOON, LEASE, limit=9)] == ["r-3"]
    assert store.claim(NOON, LEASE, limit=0) == []


def test_an_accepted_letter_is_settled(store):
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    assert store.accept(item, NOON + timedelta(seconds=2), sent(item, "accepted")) is True
    (settled,) = store.outbox_items(OutboxState.ACCEPTED)
    assert (settled.settled, settled.lease_until, settled.last_error) == (NOON + timedelta(seconds=2), None, None)
    assert store.claim(NOON + timedelta(days=9), LEASE) == []
    assert store.verify_audit() == []


@pytest.mark.parametrize(
    "event",
    [
        an_event("send", reference="r-1", recipient="kim", channel="mail", outcome="failed"),
        an_event("send", reference="r-2", recipient="kim", channel="mail", outcome="accepted"),
        an_event("send", reference="r-1", recipient="kim", outcome="accepted"),
        an_event("letter", reference="r-1", recipient="kim", channel="mail", outcome="accepted"),
    ],
)
def test_an_acceptance_is_recorded_with_the_event_that_proves_it(store, event):
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    before = contents(store)
    with pytest.raises(ValueError, match="the event must be of kind send"):
        store.accept(item, NOON, event)
    assert contents(store) == before


def test_a_postponed_letter_comes_back_at_its_time(store):
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    later = NOON + timedelta(minutes=10)
    assert store.postpone(item, NOON, later, "451 try later", sent(item, "failed")) is True
    (waiting,) = store.outbox_items(OutboxState.WAITING)
    assert (waiting.not_before, waiting.last_error, waiting.attempts) == (later, "451 try later", 1)
    assert store.claim(later - timedelta(microseconds=1), LEASE) == []
    (again,) = store.claim(later, LEASE)
    assert (again.attempts, again.is_resend) == (2, False)


def test_an_unknown_outcome_makes_every_later_attempt_a_resend(store):
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    store.postpone(item, NOON, NOON, "no answer in 30 s", sent(item, "unknown"), is_outcome_unknown=True)
    (again,) = store.claim(NOON, LEASE)
    assert again.is_resend
    store.postpone(again, NOON, NOON, "refused", sent(item, "failed"))
    (once_more,) = store.claim(NOON, LEASE)
    assert once_more.is_resend


def test_a_letter_cannot_be_put_back_into_the_past(store):
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    with pytest.raises(ValueError, match="cannot be put back"):
        store.postpone(item, NOON, NOON - timedelta(seconds=1), "x", sent(item, "failed"))


def test_a_lease_that_ran_out_makes_a_resend_and_the_old_claim_worthless(store):
    post(store, "r-1")
    (old,) = store.claim(NOON, LEASE)
    assert store.claim(NOON + LEASE - timedelta(microseconds=1), LEASE) == []
    (new,) = store.claim(NOON + LEASE, LEASE)
    assert (new.attempts, new.is_resend, new.reference) == (2, True, "r-1")
    before = contents(store)
    later = NOON + LEASE
    assert store.accept(old, later, sent(old, "accepted")) is False
    assert store.postpone(old, later, later, "x", sent(old, "failed")) is False
    assert store.bury(old, later, "x", sent(old, "failed"), old.by_next_channel) is False
    assert store.extend_lease(old, later, LEASE) is False
    assert contents(store) == before
    assert store.accept(new, later, sent(new, "accepted")) is True


def test_a_claim_whose_lease_ran_out_may_settle_while_nobody_else_has_it(store):
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    assert store.accept(item, NOON + 2 * LEASE, sent(item, "accepted")) is True
    assert store.accept(item, NOON + 2 * LEASE, sent(item, "accepted")) is False


def test_a_lease_can_be_extended(store):
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    assert store.extend_lease(item, NOON + LEASE, LEASE) is True
    assert store.claim(NOON + LEASE, LEASE) == []
    assert len(store.claim(NOON + 2 * LEASE, LEASE)) == 1


def test_leases_of_a_daemon_that_died_can_be_ended_at_once(store):
    post(store, "r-1", "r-2")
    store.claim(NOON, LEASE)
    assert store.end_leases(NOON) == 1
    (first,) = store.claim(NOON, LEASE)
    assert (first.reference, first.is_resend) == ("r-1", True)


def test_waits_can_be_ended_after_a_step_of_the_clock(store):
    post(store, "r-1", "r-2")
    (item,) = store.claim(NOON, LEASE)
    store.postpone(item, NOON, NOON + timedelta(hours=1), "451 try later", sent(item, "failed"))
    (claimed,) = store.claim(NOON, LEASE)
    assert store.end_waits(NOON) == 1
    assert [(each.reference, each.not_before) for each in store.outbox_items(OutboxState.WAITING)] == [("r-1", NOON)]
    assert store.accept(claimed, NOON, sent(claimed, "accepted"))
    assert store.end_waits(NOON) == 0


def test_a_wait_that_nobody_orders_is_over(store):
    longest = timedelta(minutes=30)
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    store.postpone(item, NOON, NOON + longest, "451 try later", sent(item, "failed"))
    assert store.claim(NOON, LEASE, longest_wait=longest) == []
    early = NOON - timedelta(microseconds=1)
    assert store.claim(early, LEASE) == []
    (again,) = store.claim(early, LEASE, longest_wait=longest)
    assert (again.reference, again.is_resend) == ("r-1", False)


@pytest.mark.parametrize("lease", [timedelta(0), timedelta(seconds=-1)])
def test_a_lease_must_be_positive(store, lease):
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    with pytest.raises(ValueError, match="must be positive"):
        store.claim(NOON, lease)
    with pytest.raises(ValueError, match="must be positive"):
        store.extend_lease(item, NOON, lease)


def test_a_dead_letter_goes_on_by_its_next_channel(store):
    letter = a_letter()
    addressed = Addressed(letter, ("mail", "chat"), "0:000000000000")
    store.commit(Commit(NOON, letters=(addressed,), events=(written(letter),)))
    (item,) = store.claim(NOON, LEASE)
    assert store.bury(item, NOON, "550 no such user", sent(item, "failed"), item.by_next_channel) is True
    (dead,) = store.outbox_items(OutboxState.DEAD)
    assert (dead.channel, dead.last_error, dead.settled) == ("mail", "550 no such user", NOON)
    (following,) = store.claim(NOON, LEASE)
    assert (following.channel, following.letter, following.attempts) == ("chat", letter, 1)
    assert following.published_head == "0:000000000000"
    assert following.by_next_channel is None
    assert store.bury(following, NOON, "gone", sent(following, "failed")) is True
    assert store.claim(NOON + timedelta(days=1), LEASE) == []
    assert store.verify_audit() == []


def test_a_dead_letter_can_be_reported_to_somebody_else(store):
    post(store, "r-1", channels=("mail",))
    (item,) = store.claim(NOON, LEASE)
    report = Addressed(a_letter("r-1-dead", "lou"), ("chat",))
    before = contents(store)
    with pytest.raises(ValueError, match="r-1-dead is new and needs an event"):
        store.bury(item, NOON, "gone", sent(item, "failed"), report)
    assert contents(store) == before
    assert store.bury(item, NOON, "gone", sent(item, "failed"), report, further=[written(report.letter)])
    assert [item.recipient for item in store.outbox_items(OutboxState.WAITING)] == ["lou"]
    assert store.verify_audit() == []


def test_a_letter_is_not_put_twice_on_one_channel(store):
    post(store, "r-1")
    (item,) = store.claim(NOON, LEASE)
    before = contents(store)
    with pytest.raises(ValueError, match="r-1 to kim by mail is in the outbox already"):
        store.bury(item, NOON, "gone", sent(item, "failed"), Addressed(item.letter, ("mail",)))
    assert contents(store) == before


def test_the_outbox_is_told_in_numbers(store):
    post(store, "r-0", now=NOON - timedelta(hours=2))
    (item,) = store.claim(NOON, LEASE)
    store.accept(item, NOON, sent(item, "accepted"))
    post(store, "r-1", now=NOON - timedelta(hours=1))
    post(store, "r-2", "r-3")
    store.claim(NOON, LEASE)
    summary = store.outbox_summary()
    assert summary.counts == {
        OutboxState.WAITING: 2,
        OutboxState.CLAIMED: 1,
        OutboxState.ACCEPTED: 1,
        OutboxState.DEAD: 0,
    }
    assert summary.oldest_waiting == NOON - timedelta(hours=1)


def test_every_hash_follows_from_the_row_before_it(store):
    post(store, *(f"r-{number}" for number in range(5)))
    rows = list(store.audit_rows())
    assert len({row.hash for row in rows}) == 5
    assert all(after.sequence == before.sequence + 1 for before, after in pairwise(rows))


def test_a_closed_store_is_our_own_mistake(store):
    store.close()
    store.close()
    with pytest.raises(sqlite3.ProgrammingError):
        store.head()
