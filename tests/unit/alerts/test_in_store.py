"""Pots in store that may freeze there."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from alertd.alerts import AlertState, NoticeKind
from alertd.alerts.case import Case
from alertd.alerts.cold import judge_cold
from alertd.alerts.reports import report_done
from alertd.alerts.survey import AGAINST_COLD, PROTECTING, protecting_action, survey_cold, undone
from alertd.messages import item_of
from alertd.plan import Action, Caution
from alertd.risk import Rule, RuleSettings
from alertd.site import Condition, Cover, Protection
from alertd.thermal import Model, Tissue
from tests.fakes.felt import dip, felt_with, models_saying
from tests.fakes.garden import POTS, local, make_garden, make_rules, nights

TUESDAY = local("2026-01-20 08:00")
IN_STORE = Condition(cover=Cover.IN_PLACE)
GARDEN = make_garden(POTS, rules=make_rules(store_room=RuleSettings()))


def case_with(lowest, *, now=TUESDAY, alerts=(), condition=IN_STORE):
    """Return pots in store whose roots reach a temperature on Thursday at 07:00."""
    weather = nights(date(2026, 1, 20), [0.0, -14.0, 0.0, 0.0])
    felt = felt_with(Model.STORE_ROOM, now, dip(96, lowest, 47))
    models = models_saying(POTS, GARDEN.site, weather, {(Tissue.ROOTS, True): felt})
    return Case(now, GARDEN, POTS, condition, weather, alerts, models)


def judged(case):
    return judge_cold(survey_cold(case), {})


def opened():
    (step,) = judged(case_with(-6.0)).transitions
    return step.after


@pytest.mark.parametrize(
    ("protection", "action"),
    [
        (Protection.STORE, Action.COVER_IN_STORE),
        (Protection.WRAP, Action.REINFORCE),
        (Protection.CLUSTER, Action.REINFORCE),
        (Protection.NONE, Action.REINFORCE),
    ],
)
def test_what_is_in_place_is_added_to_and_what_is_in_store_is_covered_there(protection, action):
    group = replace(POTS, protection=protection)
    assert protecting_action(group, IN_STORE, growing=False) is action
    assert action in AGAINST_COLD
    assert action not in PROTECTING


def test_roots_that_freeze_in_store_are_told_with_a_task_of_their_own():
    (step,) = judged(case_with(-6.0)).transitions
    assert step.after.action is Action.COVER_IN_STORE
    assert step.after.rule is Rule.STORE_ROOM
    assert step.notice is not None
    assert step.notice.task is not None
    assert Caution.STORE_HEAT in step.notice.task.cautions
    item = item_of(step.notice, GARDEN, TUESDAY)
    facts = {label: text.replace("\N{NO-BREAK SPACE}", " ") for label, text in item.facts}
    assert item.headline.startswith("Get ready to keep the patio pots in store from freezing, start by ")
    assert facts["Why"].endswith(
        "The rule store_room speaks at -5 °C, below which roots may die, by what a model computes of the pots in store."
    )
    assert facts["Model"].startswith("By the model the room reaches -6 °C by 07:00 on Thu 22 Jan; roots may die below")
    assert "away from the door and the outer walls" in facts["How"]
    assert "carbon monoxide" in facts["Take care"]
    assert "do as its maker says" in facts["Take care"]


def test_a_store_that_stays_warm_enough_is_silent():
    assert judged(case_with(-2.0)).transitions == ()


def test_covering_in_store_leaves_the_pots_in_store_and_is_told_once():
    alert = opened()
    report = report_done(alert, IN_STORE, TUESDAY)
    assert report.transition.after.state is AlertState.DONE
    assert report.condition == IN_STORE
    assert undone(alert, Condition()).cover is Cover.IN_PLACE
    again = judged(case_with(-6.0, alerts=(report.transition.after,)))
    assert again.transitions == ()


def test_the_end_of_the_cold_in_store_is_told_as_an_all_clear():
    alert = report_done(opened(), IN_STORE, TUESDAY).transition.after
    later = TUESDAY + timedelta(hours=6)
    (step,) = judged(case_with(-1.0, now=later, alerts=(alert,))).transitions
    assert step.notice is not None
    assert step.notice.kind is NoticeKind.ALL_CLEAR


def test_pots_still_outside_are_moved_in():
    assert protecting_action(POTS, Condition(), growing=False) is Action.MOVE_IN
