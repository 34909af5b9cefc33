from dataclasses import replace
from datetime import time, timedelta

import pytest

from alertd.plan import Action, effort, task_at_leisure
from alertd.site import WorkHours
from tests.fakes.garden import FIGS, POTS, local, make_site, schedule, task_before

SITE = make_site()
HOURS = WorkHours(time(8), time(16), daylight_only=False)


def plan(now, deadline, minutes):
    found = schedule(SITE, HOURS, local(now), local(deadline), timedelta(minutes=minutes))
    return SITE.local(found.start_by).strftime("%d %H:%M"), found.is_enough, found.is_due


@pytest.mark.parametrize(
    ("now", "deadline", "minutes", "expected"),
    [
        # the last slot before the deadline holds the work
        ("2026-01-20 09:00", "2026-01-22 22:00", 60, ("22 15:00", True, False)),
        ("2026-01-20 09:00", "2026-01-22 12:00", 60, ("22 11:00", True, False)),
        # rounded to the earlier side of ten minutes, but not before the slot
        ("2026-01-20 09:00", "2026-01-22 22:00", 61, ("22 14:50", True, False)),
        ("2026-01-20 09:00", "2026-01-22 08:55", 50, ("22 08:00", True, False)),
        # work that is longer than a slot begins in the one before
        ("2026-01-20 09:00", "2026-01-22 12:00", 300, ("21 15:00", True, False)),
        ("2026-01-20 09:00", "2026-01-22 22:00", 480, ("22 08:00", True, False)),
        ("2026-01-20 09:00", "2026-01-22 22:00", 490, ("21 15:50", True, False)),
        ("2026-01-20 09:00", "2026-01-22 22:00", 1000, ("20 15:20", True, True)),
        # no later slot would do
        ("2026-01-22 09:00", "2026-01-22 22:00", 60, ("22 15:00", True, True)),
        ("2026-01-21 16:00", "2026-01-22 22:00", 60, ("22 15:00", True, True)),
        ("2026-01-21 15:59", "2026-01-22 22:00", 60, ("22 15:00", True, False)),
        ("2026-01-22 15:00", "2026-01-22 22:00", 60, ("22 15:00", True, True)),
        # the hours left are too few
        ("2026-01-22 15:01", "2026-01-22 22:00", 60, ("22 15:01", False, True)),
        ("2026-01-22 17:00", "2026-01-22 22:00", 60, ("22 17:00", False, True)),
        ("2026-01-22 23:00", "2026-01-22 22:00", 60, ("22 23:00", False, True)),
    ],
)
def test_work_begins_at_the_last_responsible_moment(now, deadline, minutes, expected):
    assert plan(now, deadline, minutes) == expected


@pytest.mark.parametrize(
    ("group", "action", "people", "minutes"),
    [
        (FIGS, Action.WRAP, 1, 15 + 3 * 40),
        (FIGS, Action.WRAP, 2, 15 + 60),
        (replace(FIGS, count=1), Action.WRAP, 3, 29),  # 13.3 minutes, rounded up
        (replace(FIGS, minutes_per_tree=10.0), Action.WRAP, 1, 45),
        (replace(FIGS, minutes_per_tree=10.0), Action.COVER_AGAIN, 1, 45),
        (replace(FIGS, minutes_per_tree=10.0), Action.REINFORCE, 1, 60),
        (replace(FIGS, minutes_per_tree=10.0), Action.OPEN_COVER, 1, 30),
        (replace(FIGS, minutes_per_tree=10.0), Action.LIFT_COVER, 1, 60),
        (replace(FIGS, minutes_per_tree=99.0), Action.SHIELD, 1, 45),
        (POTS, Action.MOVE_IN, 1, 55),
        (replace(POTS, minutes_per_tree=0.0), Action.MOVE_IN, 1, 15),
        (POTS, Action.LOOK_YOURSELF, 1, 15),
    ],
)
def test_effort_is_set_up_and_work_shared_among_people(group, action, people, minutes):
    assert effort(group, action, people) == timedelta(minutes=minutes)


def test_a_task_carries_what_people_need_to_know():
    work = WorkHours(time(8), time(16), daylight_only=False, people=2, reminder_before=timedelta(hours=3))
    now, deadline = local("2026-01-20 09:00"), local("2026-01-21 22:00")
    task = task_before(SITE, work, FIGS, Action.WRAP, now, deadline, expects_ice=True)
    assert (task.group, task.action, task.people) == (FIGS, Action.WRAP, 2)
    assert task.effort == timedelta(minutes=75)
    assert task.start_by == local("2026-01-21 14:40")
    assert task.is_enough
    assert not task.is_due
    assert task.reminder_before == timedelta(hours=3)
    assert [each.value for each in task.cautions] == ["heaters", "ladder", "ice"]


def test_a_task_for_which_too_little_light_is_left_warns_of_the_dark():
    now = local("2026-01-20 19:00")
    task = task_before(SITE, WorkHours(), FIGS, Action.SHIELD, now, local("2026-01-20 22:00"), expects_ice=False)
    assert not task.is_enough
    assert task.is_due
    assert task.start_by == now
    assert [each.value for each in task.cautions] == ["heaters", "darkness"]


def test_a_task_at_leisure_has_no_latest_start():
    task = task_at_leisure(WorkHours(), FIGS, Action.OPEN_COVER)
    assert task.start_by is None
    assert task.is_enough
    assert not task.is_due
    assert task.effort == timedelta(minutes=30)
    assert [each.value for each in task.cautions] == ["hot_cover"]
