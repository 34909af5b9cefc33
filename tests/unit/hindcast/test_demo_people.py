"""The demo's people work by day, one task after the other, and only when they are told that it is time."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from alertd.alerts import AlertState, NoticeKind
from alertd.alerts.lifecycle import Event
from alertd.alerts.moves import Facts, Matter, move_alert, open_alert
from alertd.config import load
from alertd.hindcast import demo
from alertd.hindcast.demo.people import HABITS, MARKS, Habit, People
from alertd.hindcast.demo.story import CHAPTERS, answer_line, mark_line, narrated
from alertd.plan import Action, task_at_leisure
from alertd.risk import ColdSpell, Rule
from tests.fakes.garden import task_before

#: 22:00 local on 18 December, and 03:00 local on the 20th.
EVENING, ONSET = datetime(2025, 12, 19, 3, tzinfo=UTC), datetime(2025, 12, 20, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)


@pytest.fixture(scope="module")
def garden():
    return load(Path(demo.__file__).with_name("demo.toml"), {}).garden


def notice_for(garden, group_id, action, event=Event.DUE, now=EVENING):
    group = next(each for each in garden.groups if each.group_id == group_id)
    spell = ColdSpell(ONSET, ONSET + 3 * HOUR, 0.9, -13.0, -15.0, -11.0, -1.0)
    task = task_before(garden.site, garden.work, group, action, now, ONSET, expects_ice=False)
    matter = Matter(f"{group_id}-2025-12-20", group_id, action, Rule.WOOD)
    return open_alert(matter, event, Facts(spell, None, task), now).notice


def answers_of(people):
    return people.due_answers(ONSET + 100 * HOUR)


def test_a_task_told_at_night_is_done_in_the_morning(garden):
    people = People(garden)
    notice = notice_for(garden, "wall-figs", Action.WRAP)
    people.read(notice, EVENING)
    (answer,) = answers_of(people)
    assert garden.site.local(answer.at - notice.task.effort).strftime("%d %H:%M") == "19 08:00"
    assert answer.habit is Habit.ACTS


def test_two_tasks_are_done_one_after_the_other(garden):
    people = People(garden)
    first, second = (notice_for(garden, each, Action.MOVE_IN) for each in ("lemon-tubs", "potted-figs"))
    people.read(first, EVENING)
    people.read(second, EVENING)
    answers = answers_of(people)
    assert [answer.group for answer in answers] == ["lemon-tubs", "potted-figs"]
    assert answers[1].at - answers[0].at == second.task.effort


def test_nobody_works_before_it_is_time(garden):
    people = People(garden)
    people.read(notice_for(garden, "wall-figs", Action.WRAP, Event.FORESEEN), EVENING)
    assert people.next_answer() is None


def test_a_task_that_is_told_again_is_done_once(garden):
    people = People(garden)
    notice = notice_for(garden, "wall-figs", Action.WRAP)
    people.read(notice, EVENING)
    planned = people.next_answer()
    people.read(notice, EVENING + HOUR)
    assert people.next_answer() == planned
    assert len(answers_of(people)) == 1


@pytest.mark.parametrize("event", [Event.EASED, Event.POSTPONED])
def test_nobody_goes_when_there_is_no_need_any_more(garden, event):
    people = People(garden)
    notice = notice_for(garden, "wall-figs", Action.WRAP)
    people.read(notice, EVENING)
    people.read(move_alert(notice.alert, event, Facts(), EVENING + HOUR).notice, EVENING + HOUR)
    assert people.next_answer() is None


def test_the_young_figs_wait_for_the_last_call(garden):
    people = People(garden)
    notice = notice_for(garden, "young-figs", Action.BEND_DOWN)
    people.read(notice, EVENING)
    assert people.next_answer() is None
    call_time = notice.alert.announced.start_by
    call = move_alert(notice.alert, Event.FINAL_CALL, Facts(task=notice.task), call_time).notice
    assert call.kind is NoticeKind.FINAL_CALL
    people.read(call, call_time)
    assert people.next_answer() == call_time + notice.task.effort
    assert people.next_answer() < ONSET


def test_in_january_the_persimmons_are_set_aside(garden):
    people = People(garden)
    january = EVENING + timedelta(days=30)
    notice = notice_for(garden, "persimmons", Action.SHIELD)
    people.read(replace(notice, task=replace(notice.task, start_by=january)), january)
    (answer,) = people.due_answers(january + 100 * HOUR)
    assert answer.habit is Habit.DECLINES
    assert "not this time" in answer_line(answer, "the persimmons", garden.site)


def test_covers_for_one_night_go_on_in_the_afternoon(garden):
    people = People(garden)
    notice = notice_for(garden, "hardy-figs", Action.SHIELD)
    people.read(notice, EVENING)
    assert 12 <= garden.site.local(people.next_answer()).hour < 16


def test_what_nothing_presses_is_done_on_the_next_day(garden):
    people = People(garden)
    group = garden.groups[0]
    task = task_at_leisure(garden.work, group, Action.BRING_OUT)
    notice = open_alert(
        Matter("lemon-tubs-2025-12-18", group.group_id, Action.BRING_OUT, Rule.BRING_OUT),
        Event.DUE,
        Facts(task=task),
        EVENING,
    ).notice
    people.read(notice, EVENING)
    assert people.next_answer() > EVENING + timedelta(days=1)


def test_matters_without_a_task_are_only_read(garden):
    people = People(garden)
    blind = open_alert(Matter("site-2025-12-18", "site", Action.LOOK_YOURSELF, Rule.BLIND), Event.DUE, Facts(), EVENING)
    assert blind.after.state is AlertState.EXECUTE
    people.read(blind.notice, EVENING)
    assert people.next_answer() is None


def test_a_report_is_made_once(garden):
    people = People(garden)
    people.read(notice_for(garden, "wall-figs", Action.WRAP), EVENING)
    assert people.due_answers(EVENING) == []
    assert len(answers_of(people)) == 1
    assert answers_of(people) == []


def test_where_there_are_no_working_hours_work_begins_at_once(garden):
    work = replace(garden.work, earliest=garden.work.earliest.replace(hour=17, minute=50))
    people = People(replace(garden, work=work))
    notice = notice_for(garden, "wall-figs", Action.WRAP)
    people.read(notice, EVENING)
    assert people.next_answer() == EVENING + HOUR + notice.task.effort


def test_habits_and_marks_name_groups_of_the_demo(garden):
    known = {group.group_id for group in garden.groups}
    assert {group for group, _, _ in HABITS} | {group for group, _, _ in MARKS} <= known


def test_the_story_says_the_part_of_the_day(garden):
    assert narrated("Snow.", EVENING, garden.site) == "— Thu 18 Dec, night. Snow."
    assert narrated("Snow.", ONSET + 7 * HOUR, garden.site) == "— Sat 20 Dec, morning. Snow."
    group, word, at = MARKS[0]
    assert mark_line(word, group, at, garden.site).startswith("— Tue 21 Apr, morning. The first buds of persimmons")


def test_the_chapters_follow_one_another():
    times = [at for at, _ in CHAPTERS]
    assert times == sorted(times)
