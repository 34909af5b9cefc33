"""Whatever the forecasts do and people report: each reader is told the truth, and all of it.

Random nights, reports and blind hours are played against `decide` and `tell`, with readers of every kind; all that is
remembered from one evaluation to the next is what would be stored. What must hold is written down here a second time,
from the notices that each reader has got.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alertd.alerts import AlertState, NoticeKind
from alertd.core import ResponseType, Severity
from alertd.messages import Correspondence, Reader, compose, tell
from alertd.risk import Rule
from alertd.site import Cover, QuietHours, last_day_with
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_garden, nights

pytestmark = pytest.mark.slow

HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
START = local("2026-01-19 08:00")
NIGHT = QuietHours(time(21), time(7))

PLAIN = Reader("Plain")
ASLEEP = Reader("Asleep", quiet_hours=NIGHT)
DAILY = Reader("Daily", quiet_hours=NIGHT, digest=time(7), escalates_to="Next")
FIGGY = Reader("Figgy", frozenset({"figs"}), digest=time(20), digest_when_calm=False)
NEXT = Reader("Next", frozenset({"roses"}), quiet_hours=QuietHours(time(23), time(5)), escalates_to="Figgy")
READERS = (PLAIN, ASLEEP, DAILY, FIGGY, NEXT)

ENDS = {NoticeKind.CANCELLED, NoticeKind.EXPIRED, NoticeKind.ALL_CLEAR, NoticeKind.CLOSED}
RELEASES = ENDS | {NoticeKind.ANSWERED, NoticeKind.POSTPONED}
CALLS = {NoticeKind.OPENED, NoticeKind.ACT, NoticeKind.CHANGED, NoticeKind.REMINDER, NoticeKind.FINAL_CALL}

lows = st.lists(st.sampled_from([5.0, 5.0, -9.0, -10.0, -11.5, -13.0, -15.0, -19.0]), min_size=4, max_size=4)
happenings = st.lists(
    st.one_of(
        st.tuples(st.just("wait"), st.integers(1, 36)),
        st.tuples(st.just("forecast"), lows),
        st.tuples(st.just("done"), st.integers(0, 9)),
        st.tuples(st.just("declined"), st.integers(0, 9)),
        st.tuples(st.just("mark"), st.sampled_from([Cover.OFF, Cover.IN_PLACE])),
        st.tuples(st.just("blind"), st.just(0)),
    ),
    min_size=4,
    max_size=14,
)


class House:
    """The daemon, its readers, and everything that each of them was told."""

    def __init__(self):
        self.garden = make_garden(POTS, FIGS)
        self.keeper = Keeper(self.garden)
        self.now = START
        self.weather = ()
        self.known: dict[str, Correspondence] = {}
        self.told = defaultdict(list)
        self.digests = defaultdict(list)
        self.next_at = None

    def forecast(self, low):
        first = self.garden.site.local(self.now).date()
        self.weather = (nights(first, [*low, *[5.0] * 6]),)
        self.look()

    def look(self):
        decision = self.keeper.look(self.now, *self.weather)
        tellings = tell(decision, self.garden, READERS, self.known)
        for each in tellings:
            self.check(each, decision)
            if each.is_letter:
                assert "!" not in compose(each, decision, self.garden, "1:ab").text
        self.check_plain(tellings[0], decision)
        self.check_severe(tellings, decision)
        self.known = {each.reader.name: Correspondence.parse(each.after.text) for each in tellings}
        assert [each.after for each in tellings] == list(self.known.values())
        self.check_that_looking_again_tells_nothing(decision)
        self.next_at = min((each.next_at for each in tellings if each.next_at is not None), default=None)

    def wait(self, hours):
        end = self.now + hours * HOUR
        while self.now < end:
            calls = [call for call in (self.next_at, self.now + 3 * HOUR, end) if call is not None and call > self.now]
            for alert in self.keeper.open_alerts:
                start_by = alert.announced.start_by
                if start_by is not None:
                    calls += [at for at in (start_by - 2 * HOUR, start_by) if at > self.now]
            self.now = min(calls)
            self.look()

    def happen(self, what, how):
        if what == "wait":
            self.wait(how)
        elif what == "forecast":
            self.forecast(how)
        elif what == "blind":
            self.weather = ()
            self.look()
        elif what == "mark":
            self.keeper.mark("pots", self.now, cover=how)
            self.look()
        else:
            states = {AlertState.PREPARE, AlertState.EXECUTE}
            open_alerts = [each for each in self.keeper.open_alerts if each.state in states and each.rule != Rule.BLIND]
            if open_alerts:
                self.keeper.done(open_alerts[how % len(open_alerts)].alert_id, self.now, declined=what == "declined")
                self.look()

    # What must hold

    def check(self, telling, decision):
        """Check one reader's letter: every notice in it is so now, and nobody is woken for nothing."""
        reader = telling.reader
        current = self.keeper.alerts
        for notice in telling.notices:
            alert, kind = notice.alert, notice.kind
            before = self.told[reader.name, alert.alert_id]
            assert alert == current[alert.alert_id]
            assert (kind in ENDS) == (not alert.is_open)
            if kind in CALLS:
                assert alert.state in {AlertState.PREPARE, AlertState.EXECUTE}
            if kind is NoticeKind.ANSWERED:
                assert alert.state in {AlertState.DONE, AlertState.DECLINED}
            if kind is NoticeKind.REMINDER or kind is NoticeKind.FINAL_CALL:
                assert (decision.now >= alert.announced.start_by) == (kind is NoticeKind.FINAL_CALL)
            assert kind in CALLS or before, "the end of something that this reader never read of"
            assert not set(before) & ENDS
            if not reader.cares_for(alert.group):
                assert (not before or before[-1] in RELEASES) == (notice.before is None)
                assert notice.in_place_of == "Daily"
            elif not before:
                assert kind is NoticeKind.OPENED
            before.append(kind)
        if telling.is_digest:
            self.digests[reader.name].append(self.garden.site.local(decision.now).date())
        if telling.is_in_quiet_hours:
            assert not telling.is_digest
            assert not telling.notices or any(self.presses(reader, notice, decision.now) for notice in telling.notices)

    def presses(self, reader, notice, now):
        """Whether a notice may be told at night: severe work, or something too late by the morning."""
        told, before = notice.alert.announced, notice.before
        quiet = reader.quiet_hours.at(self.garden.site, now)
        is_call = notice.kind in CALLS and notice.alert.state is AlertState.EXECUTE
        if is_call and told.severity in {Severity.SEVERE, Severity.EXTREME}:
            return True
        starts = [told.start_by] if is_call else []
        if before is not None and before.response_type is ResponseType.EXECUTE and not is_call:
            starts.append(before.start_by)
        return any(start is not None and quiet.start <= start <= quiet.end + 30 * MINUTE for start in starts)

    def check_plain(self, telling, decision):
        """Whoever asks for nothing gets exactly what each evaluation tells."""
        assert {id(notice) for notice in telling.notices} == {id(notice) for notice in decision.notices}

    def check_severe(self, tellings, decision):
        """Severe work is told at once to everybody who cares for the group."""
        for notice in decision.notices:
            is_severe = notice.alert.announced.severity in {Severity.SEVERE, Severity.EXTREME}
            if notice.kind in CALLS and notice.alert.state is AlertState.EXECUTE and is_severe:
                for telling in tellings:
                    if telling.reader.cares_for(notice.alert.group):
                        assert notice.alert.alert_id in {each.alert.alert_id for each in telling.notices}

    def check_that_looking_again_tells_nothing(self, decision):
        again = self.keeper.look(self.now, *self.weather)
        assert not again.notices
        for telling in tell(again, self.garden, READERS, self.known):
            assert not telling.is_letter
            assert telling.next_at is None or telling.next_at > decision.now

    def check_end(self):
        """Check, after some mild days, that whoever read of a matter has read of its end."""
        assert self.keeper.open_alerts == []
        for (name, _), kinds in self.told.items():
            reader = next(each for each in READERS if each.name == name)
            assert kinds[-1] in (RELEASES if reader is NEXT else ENDS), (name, kinds)
        for known in self.known.values():
            assert all(each.is_over for each in known.told.values())
        last = last_day_with(self.garden.site, time(7), self.now)
        first = date(2026, 1, 20)
        assert self.digests["Daily"] == [first + timedelta(days=number) for number in range((last - first).days + 1)]


@settings(max_examples=60, deadline=None)
@given(low=lows, things=happenings)
def test_every_reader_is_told_the_truth_and_all_of_it(low, things):
    house = House()
    house.forecast(low)
    for what, how in things:
        house.happen(what, how)
    house.forecast([5.0] * 4)
    house.wait(4 * 24)
    house.check_end()
