from datetime import timedelta

import pytest

from alertd.risk import RuleSettings


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
