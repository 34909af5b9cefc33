"""The demo's winter, played as anybody would play it: what is said, when, and what comes of it.

The snapshots are the product: read them. After a change that is meant, run the tests once with
``REWRITE_SNAPSHOTS=1`` in the environment and read what has changed.
"""

import io
import os
import re
import sys
import tempfile
from collections import Counter
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from alertd.alerts import AlertState, NoticeKind, Outcome
from alertd.core import MessageType, ResponseType
from alertd.hindcast import demo
from alertd.hindcast.demo import demo_weather, play
from alertd.hindcast.demo.people import Habit
from alertd.hindcast.demo.script import OUTAGE, SCRIPTED_DAYS, TIME_ZONE
from alertd.hindcast.demo.tally import Met
from alertd.hindcast.truth import harmful_spells_of
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Condition, Cover, Stage
from alertd.store import Store

pytestmark = pytest.mark.slow

SNAPSHOTS = Path(__file__).with_name("snapshots")
HOUR = timedelta(hours=1)


@pytest.fixture(scope="module")
def directory(tmp_path_factory):
    return tmp_path_factory.mktemp("demo") / "new"


@pytest.fixture(scope="module")
def shown():
    return io.StringIO()


@pytest.fixture(scope="module")
def played(directory, shown):
    return play(directory, shown)


@pytest.fixture(scope="module")
def garden(played):
    return played.loaded.garden


def local(year, month, day, hour=0):
    return datetime(year, month, day, hour, tzinfo=TIME_ZONE)


def bare_harm(played, group_id, since, until):
    """Return the first stretch of a time that would hurt a group without any help."""
    garden = played.loaded.garden
    group = next(each for each in garden.groups if each.group_id == group_id)
    helpless = [
        (at, replace(condition, cover=Cover.OFF) if condition.cover is Cover.IN_PLACE else condition)
        for at, condition in played.conditions[group_id]
    ]
    return next(
        harm
        for harm in harmful_spells_of(garden, group, demo_weather().winter(), helpless)
        if since <= harm.onset < until
    )


def alerts_of(played, group_id, action, since, until):
    return [
        alert
        for alert in played.alerts
        if alert.group == group_id and alert.action is action and since <= alert.opened.sent < until
    ]


def answers_of(played, group_id, since, until):
    return [answer for answer in played.answers if answer.group == group_id and since <= answer.at < until]


# ---- what must happen ----


@pytest.mark.parametrize("group", ["lemon-tubs", "potted-olives", "potted-pomegranates"])
def test_the_first_freeze_finds_no_pot_outside_that_it_could_hurt(played, group):
    since, until = local(2025, 10, 25), local(2025, 11, 6)
    harm = bare_harm(played, group, since, until)
    (answer,) = answers_of(played, group, since, until)
    assert answer.action is Action.MOVE_IN
    assert answer.at < harm.onset - 6 * HOUR
    (alert,) = alerts_of(played, group, Action.MOVE_IN, since, until)
    assert alert.opened.sent < harm.onset - 36 * HOUR
    assert alert.outcome is Outcome.DONE


def test_lemons_are_hurt_earlier_than_olives(played):
    since, until = local(2025, 10, 25), local(2025, 11, 6)
    lemons, olives = (bare_harm(played, group, since, until) for group in ("lemon-tubs", "potted-olives"))
    assert lemons.onset < olives.onset


@pytest.mark.parametrize(
    ("group", "action"),
    [("potted-figs", Action.MOVE_IN), ("wall-figs", Action.WRAP), ("young-figs", Action.BEND_DOWN)],
)
def test_the_freeze_that_eases_is_cancelled_before_anybody_goes(played, group, action):
    since, until = local(2025, 11, 15), local(2025, 11, 30)
    (alert,) = alerts_of(played, group, action, since, until)
    assert alert.outcome is Outcome.CANCELLED
    called = next(each for each in alert.history if each.response_type is ResponseType.EXECUTE)
    cancelled = alert.history[-1]
    assert cancelled.message_type is MessageType.CANCEL
    assert called.sent < cancelled.sent < called.start_by
    assert 20 * HOUR <= called.onset - cancelled.sent <= 32 * HOUR
    assert answers_of(played, group, since, until) == []


def test_the_freeze_that_eases_does_not_come():
    november = demo_weather().winter().window(local(2025, 11, 20), local(2025, 12, 1))
    assert november.air_temperature.min() > (20.0 - 32.0) / 1.8


def test_the_three_cold_nights_of_january_are_one_matter(played):
    (alert,) = alerts_of(played, "wall-figs", Action.REINFORCE, local(2026, 1, 10), local(2026, 2, 1))
    nights = [local(2026, 1, day, 8) for day in (22, 23, 24)]
    assert all(alert.announced.onset <= night <= alert.end for night in nights)
    assert alert.ended > nights[-1]
    assert alert.outcome is Outcome.DONE
    (answer,) = answers_of(played, "wall-figs", local(2026, 1, 10), local(2026, 2, 1))
    assert answer.at < nights[0] - 12 * HOUR


def test_january_tests_the_hardier_rows_too(played):
    since, until = local(2026, 1, 10), local(2026, 2, 1)
    assert alerts_of(played, "hardy-figs", Action.SHIELD, since, until)[0].outcome is Outcome.DONE
    assert alerts_of(played, "persimmons", Action.SHIELD, since, until)[0].outcome is Outcome.DECLINED


def test_one_task_is_answered_only_at_the_last_call(played):
    (alert,) = alerts_of(played, "young-figs", Action.BEND_DOWN, local(2025, 12, 1), local(2026, 1, 1))
    kinds = [
        step.notice.kind
        for _, step in played.transitions
        if step.notice is not None and step.after.alert_id == alert.alert_id
    ]
    assert kinds.count(NoticeKind.REMINDER) == kinds.count(NoticeKind.FINAL_CALL) == 1
    (answer,) = [each for each in played.answers if each.alert_id == alert.alert_id]
    assert answer.at < bare_harm(played, "young-figs", local(2025, 12, 1), local(2026, 1, 1)).onset
    assert alert.outcome is Outcome.DONE


def test_exactly_one_task_is_declined(played):
    assert Counter(answer.habit for answer in played.answers)[Habit.DECLINES] == 1


def test_the_watch_says_once_that_it_is_blind_and_once_that_it_sees(played):
    steps = [(at, step.after.state) for at, step in played.transitions if step.after.rule is Rule.BLIND]
    (blind, state), (sees, ended) = steps
    assert (state, ended) == (AlertState.EXECUTE, AlertState.ENDED)
    assert OUTAGE[0] < blind < OUTAGE[0] + 12 * HOUR
    assert OUTAGE[1] <= sees <= OUTAGE[1] + 6 * HOUR


def test_the_warm_days_of_february_bring_no_letter(played):
    assert SCRIPTED_DAYS[local(2026, 2, 19).date()].highest > 60.0
    letters = [each for each in played.letters if local(2026, 2, 1) <= each.composed < local(2026, 3, 1)]
    assert letters == []


def test_budbreak_is_marked_once_and_makes_a_light_frost_count(played):
    stages = [condition.stage for _, condition in played.conditions["persimmons"]]
    assert stages == [Stage.DORMANT, Stage.BUDBREAK]
    (alert,) = alerts_of(played, "persimmons", Action.SHIELD, local(2026, 4, 15), local(2026, 5, 1))
    assert (alert.rule, alert.outcome) == (Rule.SPRING_FROST, Outcome.DONE)


MAY = {
    "lemon-tubs": Action.MOVE_IN,
    "potted-olives": Action.MOVE_IN,
    "potted-pomegranates": Action.MOVE_IN,
    "potted-figs": Action.MOVE_IN,
    "wall-figs": Action.COVER_AGAIN,
    "young-figs": Action.COVER_AGAIN,
    "hardy-figs": Action.SHIELD,
    "persimmons": Action.SHIELD,
}


@pytest.mark.parametrize("group", MAY)
def test_the_late_frost_is_told_and_met_before_it_comes(played, group):
    since, until = local(2026, 5, 9), local(2026, 5, 15)
    harm = bare_harm(played, group, since, until)
    (alert,) = alerts_of(played, group, MAY[group], since, until)
    assert alert.opened.sent < harm.onset - 48 * HOUR
    answer = next(each for each in played.answers if each.alert_id == alert.alert_id)
    assert answer.at < harm.onset
    assert alert.outcome is Outcome.DONE


@pytest.mark.parametrize("group", ["lemon-tubs", "potted-olives", "potted-pomegranates", "potted-figs", "wall-figs"])
def test_before_the_late_frost_spring_had_been_trusted(played, group):
    stood = next(c for at, c in reversed(played.conditions[group]) if at < local(2026, 5, 10))
    assert stood.cover is Cover.LIFTED


def test_no_cold_goes_unmet(played):
    assert {meeting.met for meeting in played.meetings} == {Met.IN_PLACE, Met.TENDED, Met.SET_ASIDE}


# ---- how it is said ----


def test_a_winter_takes_fifty_letters_at_most(played):
    readers = Counter(letter.recipient for letter in played.letters)
    assert 25 <= readers["Keeper"] <= 50
    assert 15 <= readers["Crew"] < readers["Keeper"]


def test_no_letter_is_sent_without_a_step_that_is_told(played):
    told = {at for at, step in played.transitions if step.notice is not None}
    assert {letter.composed for letter in played.letters} == told


def test_no_matter_is_told_again_without_a_change(played):
    for at, step in played.transitions:
        if step.notice is None or step.before is None:
            continue
        kind, told = step.notice.kind, step.before.announced
        if kind is NoticeKind.CHANGED:
            assert step.notice.changes
        if kind not in {NoticeKind.REMINDER, NoticeKind.FINAL_CALL}:
            assert replace(step.after.announced, sent=told.sent) != told, (at, step.after.alert_id)


def test_no_matter_is_reminded_or_called_twice(played):
    kinds = Counter(
        (step.after.alert_id, step.notice.kind) for _, step in played.transitions if step.notice is not None
    )
    assert all(count == 1 for (_, kind), count in kinds.items() if kind is not NoticeKind.CHANGED)
    assert max(kinds.values()) <= 2


def test_every_letter_is_accepted_and_every_matter_ends_or_is_open_for_a_reason(played):
    assert played.accepted == len(played.letters)
    still_open = [alert for alert in played.alerts if alert.is_open]
    assert all(alert.action is Action.LIFT_COVER for alert in still_open)


@pytest.mark.usefixtures("played")
def test_nothing_in_it_is_real(shown):
    text = shown.getvalue() + Path(demo.__file__).with_name("demo.toml").read_text("utf-8")
    assert "@" not in text
    assert "http" not in text
    assert "invented" in text.lower()


def test_the_story_tells_the_same_as_the_letters(played, shown):
    text = shown.getvalue()
    assert all(letter.text in text for letter in played.letters if letter.recipient == "Keeper")
    assert text.count("into demo-letters: ") == sum(letter.recipient == "Crew" for letter in played.letters)
    assert text.rstrip().endswith(played.summary)


def test_crew_letters_are_files(played, directory):
    for letter in played.letters:
        stem = directory / "demo-letters" / letter.reference
        assert stem.with_suffix(".txt").exists() == stem.with_suffix(".html").exists() == (letter.recipient == "Crew")


@pytest.mark.usefixtures("played")
def test_the_audit_log_verifies(directory):
    with Store.open(directory / "demo.sqlite") as store:
        assert store.verify_audit() == []


@pytest.fixture
def until_november(monkeypatch):
    """Let the demo end after its first freeze; return when."""
    monkeypatch.setattr(sys.modules["alertd.hindcast.demo.play"], "LAST_DAY", date(2025, 11, 6))
    return local(2025, 11, 7)


def test_it_plays_again_into_the_same_directory_and_leaves_other_files_alone(played, until_november, tmp_path):
    first = play(tmp_path, io.StringIO())
    other = tmp_path / "demo-letters" / "notes.txt"
    other.write_text("mine", encoding="utf-8")
    pauses = []
    again = play(tmp_path, io.StringIO(), pace=0.5, sleep=pauses.append)
    told = [each.subject for each in played.letters if each.composed < until_november]
    assert [each.subject for each in first.letters] == [each.subject for each in again.letters] == told
    assert len(told) > 10
    assert again.summary == first.summary
    assert pauses == [0.5] * len({letter.composed for letter in again.letters})
    assert other.read_text("utf-8") == "mine"


@pytest.mark.usefixtures("until_november")
def test_without_a_directory_nothing_is_kept(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert play(None, io.StringIO()).letters
    assert list(tmp_path.iterdir()) == []


def test_conditions_begin_bare(played, garden):
    assert all(played.conditions[group.group_id][0][1] == Condition() for group in garden.groups)


# ---- snapshots ----

#: Name of a letter, when it is looked for (month, day), and how its subject begins.
LETTERS = {
    "first-freeze": (10, 30, "Move"),
    "no-need": (11, 24, "No need"),
    "last-call": (12, 19, "Last call"),
    "blind": (1, 6, "The watch is blind"),
    "late-frost": (5, 12, "Move"),
}


def compare(name, text):
    path = SNAPSHOTS / f"{name}.txt"
    if os.environ.get("REWRITE_SNAPSHOTS"):
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
        pytest.skip(f"{path.name} is written anew")
    assert text == path.read_text("utf-8")


def test_the_letters_of_a_winter(played, garden):
    lines = [
        f"{garden.site.local(letter.composed):%Y-%m-%d %H:%M}  {letter.recipient:6}  {letter.subject}\n"
        for letter in played.letters
    ]
    compare("winter", "".join(lines))


def test_the_summary_of_a_winter(played):
    compare("summary", f"{played.summary}\n")


@pytest.mark.parametrize("name", LETTERS)
def test_a_letter_in_full(played, garden, name):
    month, day, begin = LETTERS[name]
    letter = next(
        each
        for each in played.letters
        if each.recipient == "Keeper"
        and (garden.site.local(each.composed).month, garden.site.local(each.composed).day) == (month, day)
        and each.subject.startswith(begin)
    )
    # The head of the audit log depends on how long sends took.
    text = re.sub(r"(?m)^(Record |Reference \w+-)\d+\S*?(?=(-\w+)?$)", r"\1…", letter.text)
    compare(f"letter-{name}", f"{letter.subject}\n\n{text}")
