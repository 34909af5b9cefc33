"""Each local deadline comes exactly once, whatever clocks do: in all time zones, 2020 to 2037.

Zones that change their clocks alike at the same instant are looked at once. The daemon is played by the very functions
that it calls: it wakes when they tell it to, a little late as daemons do, and at once when its clock is set or when it
starts anew. Its memory is only what it has written down.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.alerts import Alert, AlertState, Announcement, Decision, Outlook, Standing
from alertd.core import Certainty, MessageType, ResponseType, Severity, Urgency
from alertd.messages import Correspondence, Reader, tell
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import QuietHours, WorkHours, instant_of, working_slots
from tests.fakes.clock_changes import all_changes
from tests.fakes.garden import FIGS, Keeper, make_forecast, make_garden, make_series, make_site

HOUR, MINUTE, SECOND, DAY = timedelta(hours=1), timedelta(minutes=1), timedelta(seconds=1), timedelta(days=1)

#: How late the daemon may be: it looks at the clock this often at the latest.
TICK = timedelta(seconds=5)
LATEST = timedelta(seconds=30)

CHANGES = all_changes()

#: One change of each shape: same offsets, same local time. What differs between others of a shape is the date.
SHAPES = tuple({(each.before, each.after, (each.at + each.before).time()): each for each in CHANGES}.values())

#: Local times of day that exist, do not, or exist twice on days of change, and ordinary ones.
CLOCKS = (*(time(hour, minute) for hour in (0, 1, 2, 3, 23) for minute in (0, 30, 45)), time(7), time(12))

#: Every offset since 2020 is a multiple of this.
STEP = timedelta(minutes=15)

pytestmark = pytest.mark.slow


# ---- what a local time of day is, by walking through the days step by step ----


def faces(change):
    """Yield the steps of the days around a change: the face of the clock there, and the instant."""
    start = change.at.replace(minute=0) - 40 * HOUR
    for number in range(80 * HOUR // STEP):
        instant = start + STEP * number
        offset = change.before if instant < change.at else change.after
        yield (instant + offset).replace(tzinfo=None), instant


def test_all_changes_of_the_clocks_are_looked_at():
    assert len(CHANGES) > 1000
    assert {change.at.year for change in CHANGES} == set(range(2020, 2038))
    assert any(change.after - change.before == HOUR / 2 for change in CHANGES)
    assert all((change.before % STEP, change.after % STEP) == (timedelta(0), timedelta(0)) for change in CHANGES)
    assert len(SHAPES) > 50
    assert any(change.after - change.before == 3 * HOUR for change in CHANGES)


def test_every_time_of_day_is_the_first_instant_with_that_face_or_the_end_of_the_gap():
    for change in CHANGES:
        first: dict[datetime, datetime] = {}
        for face, instant in faces(change):
            first.setdefault(face, instant)
        today = (change.at + max(change.before, change.after) - SECOND).date()
        for day in (today - DAY, today, today + DAY):
            for clock in CLOCKS:
                face = datetime.combine(day, clock)
                if face <= min(first) or face >= max(first):
                    continue
                wanted = first.get(face, change.at)
                assert instant_of(change.zone, day, clock) == wanted, (str(change), face)


def test_working_hours_begin_and_end_by_the_clock_on_every_day_of_change():
    work = WorkHours(earliest=time(1, 30), latest=time(23, 30), daylight_only=False)
    for change in CHANGES:
        site = make_site(time_zone=change.zone)
        slots = working_slots(site, work, change.at - 2 * DAY, change.at + 2 * DAY)
        starts = [slot.start for slot in slots[1:]]
        assert starts == sorted(set(starts))
        for slot in slots[1:-1]:
            day = site.local(slot.start).date()
            assert slot.start == instant_of(change.zone, day, work.earliest)
            assert slot.end == instant_of(change.zone, day, work.latest)


# ---- the daemon's days ----


@dataclass(frozen=True)
class Event:
    """Something that happens to the machine, some time after the beginning."""

    after: timedelta
    clock_step: timedelta = timedelta(0)
    is_restart: bool = False


@dataclass
class Daemon:
    """A machine whose clock may be wrong, with a daemon that tells one reader what is due.

    Its true time goes on; what it sees is the true time and what its clock is off by.
    """

    change: object
    reader: Reader
    lag: timedelta = timedelta(0)
    off: timedelta = timedelta(0)
    memory: str | None = None
    alerts: tuple[Standing, ...] = ()
    letters: list = field(default_factory=list)

    def __post_init__(self):
        self.garden = make_garden(FIGS, site=make_site(time_zone=self.change.zone))

    def look(self, true):
        """Look once; return when to look next, true time."""
        now = true + self.off
        known = {} if self.memory is None else {self.reader.name: Correspondence.parse(self.memory)}
        if self.memory is None and self.alerts:
            known = {self.reader.name: Correspondence()}
        decision = Decision(now, Outlook(None, (), ()), (), (), (), standings=self.alerts)
        (telling,) = tell(decision, self.garden, [self.reader], known)
        self.memory = telling.after.text
        if telling.is_letter:
            self.letters.append((true, now, telling))
        wait = HOUR if telling.next_at is None else min(HOUR, telling.next_at - now)
        return true + wait + self.lag

    def live(self, start, end, events=()):
        """Look whenever it is time, from a true time to another; events happen at theirs."""
        pending = sorted((start + event.after, place, event) for place, event in enumerate(events))
        following = self.look(start)
        while True:
            at = min(following, pending[0][0] if pending else end)
            if at >= end:
                return
            if pending and at == pending[0][0]:
                _, _, event = pending.pop(0)
                self.off += event.clock_step
                at += self.lag  # a step is noticed, and a start takes its time
            following = self.look(at)


def digest_days(daemon):
    """Return the local days of the digests, by what the daemon's clock showed."""
    return [Correspondence.parse(telling.after.text).digest_day for _, _, telling in daemon.letters]


@pytest.mark.parametrize("clock", CLOCKS, ids=str)
def test_every_digest_comes_once_a_day_and_on_time_in_all_zones(clock):
    for change in CHANGES if clock == time(2, 30) else SHAPES:
        daemon = Daemon(change, Reader("Ann", digest=clock), lag=TICK)
        daemon.live(change.at - 60 * HOUR, change.at + 60 * HOUR)
        days = digest_days(daemon)
        assert days == [days[0] + DAY * number for number in range(len(days))], str(change)
        assert len(days) in {4, 5, 6}, str(change)
        for true, _, telling in daemon.letters:
            due = instant_of(change.zone, telling.after.digest_day, clock)
            assert timedelta(0) <= true - due <= LATEST, str(change)


def announced(sent):
    return Announcement(
        sent=sent,
        message_type=MessageType.ALERT,
        response_type=ResponseType.PREPARE,
        severity=Severity.MODERATE,
        urgency=Urgency.FUTURE,
        certainty=Certainty.LIKELY,
    )


def standing(number, sent):
    """Return an alert that was foreseen at some time."""
    told = announced(sent)
    name = f"figs-{number}"
    alert = Alert(name, "figs", Action.WRAP, Rule.WOOD, AlertState.PREPARE, told, told, None, 1, told.severity)
    return Standing(replace(alert, history=(told,)))


NIGHT = QuietHours(time(22), time(6, 30))


@pytest.mark.parametrize(
    "quiet",
    [
        QuietHours(time(22), time(2, 30)),
        QuietHours(time(1, 30), time(3)),
        QuietHours(time(23, 30), time(0, 30)),
        NIGHT,
    ],
    ids=str,
)
def test_what_waits_for_the_end_of_quiet_hours_is_told_once_and_on_time_in_all_zones(quiet):
    begins = (-2 * HOUR,) if quiet is NIGHT else (-30 * HOUR, -HOUR, timedelta(0), 20 * MINUTE)
    for change in CHANGES if quiet is NIGHT else SHAPES:
        site = make_site(time_zone=change.zone)
        for begin in begins:
            start = change.at + begin
            asleep = quiet.at(site, start)
            daemon = Daemon(change, Reader("Ann", quiet_hours=quiet), lag=TICK)
            daemon.alerts = (standing(1, start),)
            daemon.live(start, start + 50 * HOUR)
            ((true, _, _),) = daemon.letters
            due = start if asleep is None else asleep.end
            assert timedelta(0) <= true - due <= LATEST, (str(change), begin)


# ---- clocks that are set, machines that are off ----

lags = st.timedeltas(timedelta(0), TICK)
steps = st.sampled_from([HOUR, -HOUR])
events = st.lists(
    st.builds(Event, st.timedeltas(HOUR, 110 * HOUR), st.one_of(st.just(timedelta(0)), steps), st.booleans()),
    max_size=6,
)


def limited(happenings):
    """Return events after which the clock was never off by more than an hour, and is right again at the end."""
    kept, off = [], timedelta(0)
    for event in sorted(happenings, key=lambda event: event.after):
        step = event.clock_step if abs(off + event.clock_step) <= HOUR else timedelta(0)
        off += step
        kept.append(replace(event, clock_step=step))
    return [*kept, Event(115 * HOUR, clock_step=-off)]


@settings(max_examples=200, deadline=None)
@given(
    change=st.sampled_from(CHANGES),
    clock=st.sampled_from(CLOCKS),
    lag=lags,
    happenings=events,
)
def test_no_digest_comes_twice_or_is_lost_when_clocks_are_set(change, clock, lag, happenings):
    daemon = Daemon(change, Reader("Ann", digest=clock), lag=lag)
    start = change.at - 60 * HOUR
    daemon.live(start, start + 121 * HOUR, limited(happenings))
    days = digest_days(daemon)
    assert days == [days[0] + DAY * number for number in range(len(days))]
    first = next_day(change, clock, start)
    assert days[0] == first
    assert days[-1] >= next_day(change, clock, start + 121 * HOUR - LATEST) - DAY
    for _, now, telling in daemon.letters:
        assert now >= instant_of(change.zone, telling.after.digest_day, clock)


def next_day(change, clock, now):
    """Return the first local day whose time of day is yet to come."""
    day = now.astimezone(change.zone).date() - DAY
    while instant_of(change.zone, day, clock) <= now:
        day += DAY
    return day


@settings(max_examples=200, deadline=None)
@given(change=st.sampled_from(CHANGES), lag=lags, happenings=events, foreseen=st.integers(0, 110))
def test_what_waits_is_told_once_and_not_in_quiet_hours_when_clocks_are_set(change, lag, happenings, foreseen):
    daemon = Daemon(change, Reader("Ann", quiet_hours=NIGHT), lag=lag)
    start = change.at - 60 * HOUR
    happenings = limited(happenings)
    split = start + HOUR * foreseen
    before = [event for event in happenings if start + event.after < split]
    after = [replace(event, after=start + event.after - split) for event in happenings if start + event.after >= split]
    daemon.live(start, split, before)
    assert daemon.letters == []
    daemon.alerts = (standing(1, split + daemon.off),)
    daemon.live(split, start + 150 * HOUR, after)
    ((true, now, _),) = daemon.letters
    assert NIGHT.at(daemon.garden.site, now) is None
    assert true - split <= 11 * HOUR + LATEST


@settings(max_examples=15, deadline=None)
@given(
    change=st.sampled_from(CHANGES),
    begin=st.integers(-30, 6),
    happenings=st.lists(st.tuples(st.integers(1, 40), steps), max_size=3),
    minutes=st.integers(5, 60),
)
def test_one_reminder_and_one_last_call_come_however_clocks_are_set(change, begin, happenings, minutes):
    """Work by the crew's hours before a night of frost around a change; looks every so many minutes and at calls."""
    work = WorkHours(earliest=time(1), latest=time(23, 30), daylight_only=False)
    keeper = Keeper(make_garden(FIGS, site=make_site(time_zone=change.zone), work=work, is_exact=True))
    onset = change.at + begin * HOUR + 30 * HOUR
    start = onset - 40 * HOUR
    hours = [start + HOUR * number for number in range(-4, 200)]
    weather = make_series(hours[0], [-18.0 if onset <= at < onset + 8 * HOUR else 5.0 for at in hours])
    off, pending = timedelta(0), sorted(happenings)
    told: Counter[str] = Counter()
    true = start
    while true < onset + 20 * HOUR:
        if pending and true >= start + pending[0][0] * HOUR:
            step = pending.pop(0)[1]
            off += step if abs(off + step) <= HOUR else timedelta(0)
        now = true + off
        told.update(n.kind.value for n in keeper.look(now, make_forecast(now, weather)).notices)
        alert = keeper.the_alert()
        start_by = alert.announced.start_by
        calls = [] if start_by is None else [start_by - 2 * HOUR, start_by]
        waits = [call - now for call in calls if call > now]
        true += min([timedelta(minutes=minutes), *waits])
    assert told["opened"] == 1
    assert told["reminder"] <= 1
    assert told["final_call"] == 1
    assert told["expired"] == 1
