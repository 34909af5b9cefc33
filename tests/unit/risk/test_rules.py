from dataclasses import replace
from datetime import timedelta

import pytest

from alertd.risk import Rule, Rules, RuleSettings
from tests.fakes.garden import make_rules


@pytest.mark.parametrize(
    ("low", "high"), [(0.3, 0.2), (0.0, 0.2), (-0.1, 0.2), (0.1, 1.1), (float("nan"), 0.2), (0.1, float("nan"))]
)
def test_probabilities_that_cannot_work_are_refused(low, high):
    with pytest.raises(ValueError, match=r"0 < close <= open <= 1, not close"):
        RuleSettings(probability_close=low, probability_open=high)


@pytest.mark.parametrize(("low", "high"), [(0.2, 0.2), (1.0, 1.0), (0.001, 1.0)])
def test_probabilities_at_the_edge_are_taken(low, high):
    assert RuleSettings(probability_close=low, probability_open=high).probability_open == high


def test_a_hysteresis_below_zero_is_refused():
    assert RuleSettings(hysteresis=0.0).hysteresis == 0.0
    with pytest.raises(ValueError, match=r"hysteresis must be 0 °C or more, not -0\.5 °C"):
        RuleSettings(hysteresis=-0.5)


@pytest.mark.parametrize(
    "lengths", [{"horizon": timedelta(0)}, {"spell_gap": timedelta(0)}, {"horizon": timedelta(-1)}]
)
def test_lengths_must_be_positive(lengths):
    with pytest.raises(ValueError, match="horizon and spell gap must be positive"):
        RuleSettings(**lengths)


def test_rules_that_judge_by_models_speak_unless_told_otherwise():
    usual = RuleSettings()
    rules = Rules(usual, usual, usual, usual, usual, container_threshold=-9.4, credits={})
    for name in (Rule.ROOT_ZONE, Rule.WOOD_TEMPERATURE, Rule.BUD_TEMPERATURE, Rule.STORE_ROOM):
        assert getattr(rules, name.value) == usual


def test_a_fifth_of_the_root_ball_may_be_lost_unless_told_otherwise():
    assert make_rules().root_share == 0.2
    assert make_rules(root_share=0.05).root_share == 0.05


@pytest.mark.parametrize("share", [0.0, 1.0, -0.1, 1.5, float("nan")])
def test_a_share_of_the_root_ball_is_a_part_of_it(share):
    with pytest.raises(ValueError, match="share of the root ball that may be lost must be between 0 and 1"):
        make_rules(root_share=share)


def test_rules_judge_by_models_only_where_one_of_them_speaks() -> None:
    rules = make_rules()
    assert not rules.judge_by_models
    assert replace(rules, store_room=RuleSettings()).judge_by_models


def test_four_rules_judge_by_models():
    by_model = {Rule.ROOT_ZONE, Rule.WOOD_TEMPERATURE, Rule.BUD_TEMPERATURE, Rule.STORE_ROOM}
    assert {rule for rule in Rule if rule.judges_by_model} == by_model
