"""The outbox against a model that a person can check by reading."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from alertd.audit import AuditEvent
from alertd.messages import Letter
from alertd.store import Addressed, Commit, OutboxItem, OutboxState, Store

START = datetime(2026, 1, 23, 12, tzinfo=UTC)
CHANNELS = ("mail", "chat", "sms")


@dataclass
class Row:
    """What the model remembers of a letter on a channel."""

    key: tuple[str, str]
    created: datetime
    not_before: datetime
    state: OutboxState = OutboxState.WAITING
    attempts: int = 0
    is_resend: bool = False
    lease_until: datetime | None = None


class OutboxMachine(RuleBasedStateMachine):
    """Put letters in, claim and settle them, let time pass, restart."""

    def __init__(self):
        super().__init__()
        self.store = Store.open(None, durable=False)
        self.now = START
        self.rows: list[Row] = []
        self.claims: list[OutboxItem] = []
        self.count = 0
        self.events = 0

    def teardown(self):
        self.store.close()

    def row_of(self, item):
        return next(row for row in self.rows if row.key == (item.reference, item.channel))

    def event(self, item, outcome):
        body = {"reference": item.reference, "recipient": item.recipient, "channel": item.channel, "outcome": outcome}
        return AuditEvent(self.now, "send", body)

    def settles(self, item):
        """Whether a claim is still the current one; its row changes only then."""
        row = self.row_of(item)
        is_current = row.state is OutboxState.CLAIMED and row.attempts == item.attempts
        if is_current:
            row.lease_until = None
            self.events += 1
        return is_current

    @rule(channels=st.permutations(CHANNELS), count=st.integers(1, 3))
    def put_in(self, channels, count):
        channels = tuple(channels[:count])
        self.count += 1
        self.events += 1
        letter = Letter(f"r-{self.count}", "kim", self.now, "", "", "", "", (), "Prepare")
        event = AuditEvent(self.now, "letter", {"reference": letter.reference, "recipient": "kim"})
        self.store.commit(Commit(self.now, letters=(Addressed(letter, channels),), events=(event,)))
        self.rows.append(Row((letter.reference, channels[0]), self.now, self.now))

    @rule(seconds=st.integers(1, 90))
    def time_passes(self, seconds):
        self.now += timedelta(seconds=seconds)

    @rule(busy=st.sets(st.sampled_from(CHANNELS), max_size=2), limit=st.integers(1, 3), seconds=st.integers(1, 60))
    def claim(self, busy, limit, seconds):
        lease = timedelta(seconds=seconds)
        expected = []
        for row in sorted(self.rows, key=lambda row: row.created):
            is_ready = row.state is OutboxState.WAITING and row.not_before <= self.now
            has_run_out = row.state is OutboxState.CLAIMED and row.lease_until <= self.now
            is_free = row.key[1] not in busy | {key[1] for key in expected}
            if (is_ready or has_run_out) and is_free and len(expected) < limit:
                expected.append(row.key)
                row.state, row.attempts = OutboxState.CLAIMED, row.attempts + 1
                row.is_resend, row.lease_until = row.is_resend or has_run_out, self.now + lease
        items = self.store.claim(self.now, lease, busy_channels=busy, limit=limit)
        assert [(item.reference, item.channel) for item in items] == expected
        self.claims += items

    @rule(data=st.data())
    def accept(self, data):
        item = data.draw(st.sampled_from(self.claims)) if self.claims else None
        if item is not None:
            is_current = self.settles(item)
            assert self.store.accept(item, self.now, self.event(item, "accepted")) is is_current
            if is_current:
                self.row_of(item).state = OutboxState.ACCEPTED

    @rule(data=st.data(), seconds=st.integers(0, 60), is_unknown=st.booleans())
    def postpone(self, data, seconds, is_unknown):
        item = data.draw(st.sampled_from(self.claims)) if self.claims else None
        if item is not None:
            later, is_current = self.now + timedelta(seconds=seconds), self.settles(item)
            event = self.event(item, "failed")
            assert self.store.postpone(item, self.now, later, "no", event, is_outcome_unknown=is_unknown) is is_current
            if is_current:
                row = self.row_of(item)
                row.state, row.not_before, row.is_resend = OutboxState.WAITING, later, row.is_resend or is_unknown

    @rule(data=st.data())
    def bury(self, data):
        item = data.draw(st.sampled_from(self.claims)) if self.claims else None
        if item is not None:
            is_current, following = self.settles(item), item.by_next_channel
            given = () if following is None else (following,)
            assert self.store.bury(item, self.now, "gone", self.event(item, "failed"), *given) is is_current
            if is_current:
                self.row_of(item).state = OutboxState.DEAD
                if following is not None:
                    self.rows.append(Row((item.reference, following.channels[0]), self.now, self.now))

    @rule(data=st.data())
    def extend(self, data):
        item = data.draw(st.sampled_from(self.claims)) if self.claims else None
        if item is not None:
            row = self.row_of(item)
            is_current = row.state is OutboxState.CLAIMED and row.attempts == item.attempts
            assert self.store.extend_lease(item, self.now, timedelta(seconds=30)) is is_current
            if is_current:
                row.lease_until = self.now + timedelta(seconds=30)

    @rule()
    def start_anew(self):
        claimed = [row for row in self.rows if row.state is OutboxState.CLAIMED]
        assert self.store.end_leases(self.now) == len(claimed)
        for row in claimed:
            row.lease_until = self.now

    @invariant()
    def the_store_is_as_the_model(self):
        def facts(row):
            return row.state, row.attempts, row.is_resend, row.lease_until

        stored = {(item.reference, item.channel): facts(item) for item in self.store.outbox_items()}
        assert stored == {row.key: facts(row) for row in self.rows}
        assert sum(self.store.outbox_summary().counts.values()) == len(self.rows)

    @invariant()
    def no_letter_is_ever_lost(self):
        alive = {OutboxState.WAITING, OutboxState.CLAIMED, OutboxState.ACCEPTED}
        items = self.store.outbox_items()
        on_the_way = {item.reference for item in items if item.state in alive}
        given_up = {item.reference for item in items if item.state is OutboxState.DEAD and not item.fallback_channels}
        assert on_the_way | given_up == {f"r-{number}" for number in range(1, self.count + 1)}

    @invariant()
    def the_log_tells_all(self):
        assert self.store.head().sequence == self.events
        assert self.store.verify_audit() == []


OutboxMachine.TestCase.settings = settings(max_examples=60, stateful_step_count=30, deadline=None)
TestOutbox = OutboxMachine.TestCase
