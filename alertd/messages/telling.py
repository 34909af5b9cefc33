"""Who is told what of one evaluation, and when the next letter is due.

A letter is written from what is so when it leaves, never earlier: what waits is no text, only the knowledge of what
its reader has read. So it can never be false by the time it comes, and nothing is lost in between.
Whatever makes a letter due takes along everything else that waits for the same reader.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from alertd.alerts import Standing
from alertd.site import is_day_due, last_day_with, next_time_of

from .correspondence import Correspondence, Told
from .owed import RELEASES, owed_of
from .patience import due_at
from .reader import stand_ins
from .standing_in import escalates_at, owed_to_stand_in

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date, datetime

    from alertd.alerts import Decision, Garden, Notice

    from .reader import Reader


@dataclass(frozen=True, slots=True)
class Telling:
    """What one reader is told, or what is remembered of a reader who is not.

    Parameters
    ----------
    reader : Reader
        Who.
    notices : tuple of Notice
        What is told now.
    is_digest : bool
        Whether the letter is the digest of the day.
    is_in_quiet_hours : bool
        Whether it comes in the reader's quiet hours.
    after : Correspondence
        What the reader has been told thereafter.
    next_at : datetime or None
        When the next letter may be due if nothing changes, aware UTC, later than now.
    """

    reader: Reader
    notices: tuple[Notice, ...]
    is_digest: bool
    is_in_quiet_hours: bool
    after: Correspondence
    next_at: datetime | None

    @property
    def is_letter(self) -> bool:
        """Whether there is anything to write."""
        return bool(self.notices) or self.is_digest


def tell(
    decision: Decision, garden: Garden, readers: Sequence[Reader], known: Mapping[str, Correspondence]
) -> tuple[Telling, ...]:
    """Return what each reader is told now.

    Parameters
    ----------
    decision : Decision
        The evaluation.
    garden : Garden
        Local time, and when reminders come.
    readers : sequence of Reader
        Everybody, in order.
    known : mapping of str to Correspondence
        By name, what each has been told. A reader who is not in it is new and told of all that is open. If nobody is
        in it, no such memory was kept so far: then everybody is taken to know what was told before this evaluation.

    Returns
    -------
    tuple of Telling
        One for each reader.
    """
    desks = []
    for reader in readers:
        first = Correspondence() if known else Correspondence(_told_before(decision, reader))
        desks.append(_Desk(decision, garden, reader, known.get(reader.name, first), _asked(decision, readers, reader)))
    return tuple(desk.telling() for desk in desks)


def _told_before(decision: Decision, reader: Reader) -> dict[str, Told]:
    """Return the alerts as a reader was told of them before an evaluation."""
    fresh = {notice.alert.alert_id for notice in decision.notices}
    alerts = [*(standing.alert for standing in decision.standings), *(n.alert for n in decision.notices)]
    mine = [alert for alert in alerts if reader.cares_for(alert.group)]
    revisions = {alert.alert_id: alert.revision - (alert.alert_id in fresh) for alert in mine}
    return {name: Told(revision) for name, revision in revisions.items() if revision > 0}


def _asked(decision: Decision, readers: Sequence[Reader], reader: Reader) -> dict[str, str]:
    """Return in whose place a reader is asked, by group."""
    groups = dict.fromkeys(standing.alert.group for standing in decision.standings)
    groups |= dict.fromkeys(alert.group for alert in decision.ended)
    asked = {group: stand_ins(readers, group).get(reader.name, "") for group in groups}
    return {group: name for group, name in asked.items() if name}


@dataclass(frozen=True, slots=True)
class _Desk:
    """One reader in one evaluation."""

    decision: Decision
    garden: Garden
    reader: Reader
    known: Correspondence
    asked: Mapping[str, str]

    def telling(self) -> Telling:
        """Return what the reader is told now."""
        decision, now = self.decision, self.decision.now
        notices = self._owed()
        dues = [due_at(notice, self.reader, self.garden.site, now) for notice in notices]
        is_quiet = self._quiet_end() is not None
        day = self._digest_day()
        is_digest_due = day is not None and self.known.digest_day is not None and not is_quiet
        is_calm = not notices and not self._has_open()
        is_digest = is_digest_due and (self.reader.digest_when_calm or not is_calm)
        is_told = is_digest or any(due <= now for due in dues)
        after = self._after(notices if is_told else [])
        if day is not None and not is_quiet:
            after = replace(after, digest_day=day)
        later = [] if is_told else dues
        return Telling(
            self.reader,
            tuple(notices) if is_told else (),
            is_digest,
            is_quiet,
            after,
            min((at for at in (*later, *self._other_times()) if at > decision.now), default=None),
        )

    def _owed(self) -> list[Notice]:
        """Return what the reader is owed, due or not."""
        fresh = {notice.alert.alert_id: notice for notice in self.decision.notices}
        now, lead = self.decision.now, self.garden.work.reminder_before
        notices = []
        for standing in self._standings():
            alert = standing.alert
            told = self.known.told.get(alert.alert_id, Told())
            if self.reader.cares_for(alert.group):
                notice = owed_of(standing, told.revision, fresh, now, lead)
            else:
                notice = owed_to_stand_in(standing, told, self.asked.get(alert.group, ""), fresh, now, lead)
            if notice is not None:
                notices.append(notice)
        return notices

    def _standings(self) -> list[Standing]:
        """Return every alert that may concern the reader: the open ones, and ended ones that the reader has read of."""
        ended = [alert for alert in self.decision.ended if alert.alert_id in self.known.told]
        return [*self.decision.standings, *(Standing(alert) for alert in ended)]

    def _has_open(self) -> bool:
        """Return whether any matter is open that the reader cares for."""
        return any(self.reader.cares_for(standing.alert.group) for standing in self.decision.standings)

    def _after(self, notices: list[Notice]) -> Correspondence:
        """Return what the reader knows once notices are told; what has ended and was told so is forgotten."""
        told = dict(self.known.told)
        for notice in notices:
            alert = notice.alert
            is_released = not self.reader.cares_for(alert.group) and notice.kind in RELEASES
            told[alert.alert_id] = Told(alert.revision, is_released)
            if not alert.is_open:
                del told[alert.alert_id]
        present = {standing.alert.alert_id for standing in self._standings()}
        return replace(self.known, told={name: each for name, each in told.items() if name in present})

    def _quiet_end(self) -> datetime | None:
        """Return when the reader's quiet hours end that it is now, if it is."""
        if self.reader.quiet_hours is None:
            return None
        quiet = self.reader.quiet_hours.at(self.garden.site, self.decision.now)
        return None if quiet is None else quiet.end

    def _digest_day(self) -> date | None:
        """Return the day whose digest is still to be noted."""
        if self.reader.digest is None:
            return None
        day = last_day_with(self.garden.site, self.reader.digest, self.decision.now)
        return day if is_day_due(day, self.known.digest_day) else None

    def _other_times(self) -> list[datetime]:
        """Return when something may become due by the clock alone: digest, end of quiet hours, questions to others."""
        now, lead = self.decision.now, self.garden.work.reminder_before
        times: list[datetime | None] = [self._quiet_end()]
        if self.reader.digest is not None:
            times.append(next_time_of(self.garden.site, self.reader.digest, now))
        for standing in self.decision.standings:
            alert = standing.alert
            if alert.group in self.asked:
                told = self.known.told.get(alert.alert_id, Told())
                times.append(escalates_at(alert, told.revision if told.is_over else 0, lead))
        return [at for at in times if at is not None]
