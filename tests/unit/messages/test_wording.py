from dataclasses import replace

import pytest

from alertd.messages import action_phrase, condition_text, sentence
from alertd.messages.wording import ACTION_ADVICE, ACTION_PHRASES, RULE_REASONS
from alertd.plan import Action
from alertd.risk import Rule
from alertd.site import Condition, Cover, Protection
from tests.fakes.garden import FIGS


@pytest.mark.parametrize("action", Action)
def test_every_action_has_a_phrase_with_a_verb_and_advice_in_sentences(action):
    phrase = action_phrase(action, "the figs")
    assert phrase[0].islower()
    assert "{" not in phrase
    assert "!" not in phrase + ACTION_ADVICE[action]
    assert ACTION_ADVICE[action].endswith(".")
    assert set(ACTION_PHRASES) == set(ACTION_ADVICE) == set(Action)


def test_every_rule_of_cold_gives_its_reason():
    assert set(RULE_REASONS) == set(Rule) - {Rule.UNCOVER, Rule.BRING_OUT, Rule.BLIND}
    for reason in RULE_REASONS.values():
        assert reason.startswith(("below which ", "at or below which "))
        assert not reason.endswith(".")


def test_a_sentence_begins_in_upper_case():
    assert sentence("wrap the figs") == "Wrap the figs"
    assert sentence("") == ""


@pytest.mark.parametrize(
    ("protection", "texts"),
    [
        (Protection.STORE, ("outside", "in store", "brought out")),
        (Protection.CLUSTER, ("outside", "pushed together", "cover lifted, kept at hand")),
        (Protection.WRAP, ("not covered yet", "wrapped", "cover lifted, kept at hand")),
        (Protection.MULCH_RING, ("not covered yet", "in their mulch rings", "cover lifted, kept at hand")),
        (Protection.BEND_AND_MULCH, ("not covered yet", "bent down and buried", "cover lifted, kept at hand")),
        (Protection.NONE, ("bare, as planned", "covered", "cover lifted, kept at hand")),
    ],
)
def test_a_group_stands_as_it_was_reported(protection, texts):
    group = replace(FIGS, protection=protection)
    covers = (Cover.OFF, Cover.IN_PLACE, Cover.LIFTED)
    assert tuple(condition_text(group, Condition(cover=cover)) for cover in covers) == texts
    assert condition_text(group, Condition(cover=Cover.OPENED)) == "cover opened"
