"""One crew, many tasks."""

from __future__ import annotations

from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from alertd.plan import Work, agenda
from alertd.site import WorkHours, working_slots
from tests.fakes.garden import local, make_site, schedule

SITE = make_site()
WORK = WorkHours()
MORNING = local("2026-01-20 09:00")
NIGHT = local("2026-01-20 23:00")


def work(group: str, hours: float, deadline=NIGHT) -> Work:
    """Return work for a group, in hours."""
    return Work(group, deadline, timedelta(hours=hours))


def starts(*works: Work, now=MORNING) -> list[str]:
    """Return the local starts of the works."""
    return [SITE.local(each.start_by).strftime("%d %H:%M") for each in agenda(SITE, WORK, now, works)]


def test_no_work_needs_no_agenda() -> None:
    assert agenda(SITE, WORK, MORNING, ()) == ()


def test_one_piece_of_work_begins_as_if_alone() -> None:
    (alone,) = agenda(SITE, WORK, MORNING, [work("pots", 1.5)])
    assert alone == schedule(SITE, WORK, MORNING, NIGHT, timedelta(hours=1.5))


def test_work_for_the_same_night_is_done_one_after_the_other_in_order() -> None:
    assert starts(work("pots", 1), work("figs", 1), work("olives", 1)) == ["20 14:00", "20 15:00", "20 16:00"]


def test_work_for_a_later_night_leaves_the_first_evening_alone() -> None:
    later = local("2026-01-21 23:00")
    assert starts(work("figs", 1, later), work("pots", 1)) == ["21 16:00", "20 16:00"]


def test_a_deadline_in_daylight_leaves_the_hours_after_it_to_others() -> None:
    noon = local("2026-01-20 12:00")
    assert starts(work("figs", 2), work("pots", 2, noon)) == ["20 15:00", "20 10:00"]


def test_work_that_fills_the_day_begins_today_and_is_due() -> None:
    first, second = agenda(SITE, WORK, MORNING, [work("pots", 4), work("figs", 3)])
    assert first.is_due
    assert second.is_due
    assert first.is_enough
    assert SITE.local(first.start_by).strftime("%H:%M") == "10:00"


def test_work_is_not_due_while_a_later_working_slot_still_holds_it() -> None:
    later = local("2026-01-21 23:00")
    (one,) = agenda(SITE, WORK, MORNING, [work("pots", 1, later)])
    assert not one.is_due


def test_two_days_of_work_for_one_night_begin_the_day_before() -> None:
    later = local("2026-01-21 23:00")
    assert starts(work("pots", 8, later), work("figs", 7, later))[0].startswith("20")


def test_work_that_does_not_fit_is_late_and_takes_nothing_from_others() -> None:
    late, fits = agenda(SITE, WORK, MORNING, [work("bed", 30), work("pots", 1)])
    assert not late.is_enough
    assert late.start_by == MORNING
    assert fits == schedule(SITE, WORK, MORNING, NIGHT, timedelta(hours=1))


def test_nothing_fits_where_no_working_hour_is_left() -> None:
    evening = local("2026-01-20 20:30")
    (late,) = agenda(SITE, WORK, evening, [work("pots", 1)])
    assert (late.is_enough, late.is_due, late.start_by) == (False, True, evening)


@given(
    st.lists(
        st.tuples(st.floats(0.25, 9.0), st.integers(0, 90)).map(
            lambda pair: work("pots", pair[0], NIGHT + timedelta(hours=pair[1]))
        ),
        min_size=1,
        max_size=8,
    )
)
def test_what_fits_is_done_before_its_deadline_and_never_by_two_at_once(works: list[Work]) -> None:
    planned = agenda(SITE, WORK, MORNING, works)
    last = max(each.deadline for each in works)
    hours = working_slots(SITE, WORK, MORNING, last)
    fitting = [(each, plan) for each, plan in zip(works, planned, strict=True) if plan.is_enough]
    for moment in {plan.start_by for _, plan in fitting}:
        # All that begins at or after a moment, and before some deadline, fits into the working hours between.
        for deadline in {each.deadline for each, _ in fitting}:
            needed = sum(
                (each.effort for each, plan in fitting if plan.start_by >= moment and each.deadline <= deadline),
                timedelta(0),
            )
            there = sum(
                (max(min(slot.end, deadline) - max(slot.start, moment), timedelta(0)) for slot in hours), timedelta(0)
            )
            assert needed <= there
