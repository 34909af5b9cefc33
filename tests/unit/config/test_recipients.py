"""Quiet hours, digests and who is asked next."""

from datetime import time

import pytest

from alertd.config.outline import shown
from alertd.site import QuietHours
from alertd.watch import readership

ROBIN = 'name = "Robin"\nchannels = ["screen", "letters"]\n'
BO = '\n[[recipients]]\nname = "Bo"\nchannels = ["letters"]\ngroups = ["patio-pots"]\n'
CEM = '\n[[recipients]]\nname = "Cem"\nchannels = ["letters"]\n'


def people(valid, robin="", bo="", cem=""):
    return valid.replace(ROBIN, f"{ROBIN}{robin}{BO}{bo}{CEM}{cem}")


def test_what_a_recipient_asks_for_reaches_the_readership(valid, loaded):
    keys = 'quiet_hours = "22:00-06:30"\ndigest = "07:00"\ndigest_when_calm = false\nescalate_to = "Bo"\n'
    robin, bo, cem = readership(loaded(people(valid, keys))).readers
    assert robin.quiet_hours == QuietHours(time(22), time(6, 30))
    assert robin.digest == time(7)
    assert not robin.digest_when_calm
    assert robin.escalates_to == "Bo"
    assert (bo.quiet_hours, bo.digest, bo.digest_when_calm, bo.escalates_to) == (None, None, True, "")
    assert bo.groups == {"patio-pots"}
    assert cem.groups == frozenset()


@pytest.mark.parametrize("text", ["22:00-6:30", "22:00", "22:00-06:60", "24:00-06:00", "22:00 to 06:30", "07:00-07:00"])
def test_malformed_quiet_hours_are_refused_in_one_line(text, valid, problems):
    assert problems(people(valid, f'quiet_hours = "{text}"\n')) == [
        (
            f"recipients[0].quiet_hours: {shown(text)} is no span from one time of day to another; "
            'write it as text, like "22:00-06:30"'
        )
    ]


def test_a_malformed_digest_hour_is_refused_in_one_line(valid, problems):
    assert problems(people(valid, 'digest = "7"\n')) == [
        'recipients[0].digest: "7" is not a time of day; write hours and minutes as text, like "07:30"'
    ]


def test_a_digest_in_the_quiet_hours_is_refused_and_one_at_their_end_is_not(valid, problems, loaded):
    assert problems(people(valid, 'quiet_hours = "22:00 - 07:00"\ndigest = "06:59"\n')) == [
        (
            "recipients[0].digest: the digest at 06:59 would come in the quiet hours 22:00 - 07:00; "
            "choose an hour outside, like their end"
        )
    ]
    assert loaded(people(valid, 'quiet_hours = "22:00-07:00"\ndigest = "07:00"\n')).recipients[0].digest == time(7)


def test_whoever_is_asked_next_must_be_somebody_else(valid, problems):
    assert problems(people(valid, 'escalate_to = "Robin"\n', 'escalate_to = "Ced"\n')) == [
        'recipients[0].escalate_to: "Robin" is this very recipient; name another one, or leave it out',
        ('recipients[1].escalate_to: "Ced" is no known recipient; did you mean "Cem"? use one of: Robin, Bo, Cem'),
    ]


def test_rings_are_refused_once_with_their_way(valid, problems):
    text = people(valid, 'escalate_to = "Bo"\n', 'escalate_to = "Cem"\n', 'escalate_to = "Robin"\n')
    assert problems(text) == [
        (
            'recipients[2].escalate_to: goes round in a ring: "Cem" to "Robin", "Robin" to "Bo", "Bo" to "Cem"; '
            "let the last one name nobody"
        )
    ]


def test_a_chain_and_two_who_ask_the_same_are_no_ring(valid, loaded):
    chain = loaded(people(valid, 'escalate_to = "Bo"\n', 'escalate_to = "Cem"\n'))
    assert [each.escalates_to for each in chain.recipients] == ["Bo", "Cem", ""]
    both = loaded(people(valid, 'escalate_to = "Cem"\n', 'escalate_to = "Cem"\n'))
    assert [each.escalates_to for each in both.recipients] == ["Cem", "Cem", ""]


def test_all_of_it_is_told_at_once(valid, problems):
    robin = 'quiet_hours = "late"\ndigest = "early"\ndigest_when_calm = "yes"\nescalate_to = "nobody"\n'
    places = [line.partition(":")[0] for line in problems(people(valid, robin))]
    assert sorted(places) == [
        "recipients[0].digest",
        "recipients[0].digest_when_calm",
        "recipients[0].escalate_to",
        "recipients[0].quiet_hours",
    ]


def test_an_unnamed_recipient_is_told_its_own_problem_only(valid, problems):
    text = valid.replace('name = "Robin"\n', 'escalate_to = "Bo"\n') + BO + 'escalate_to = "Bo"\n'
    places = [line.partition(":")[0] for line in problems(text)]
    assert sorted(places) == ["recipients[0].name", "recipients[1].escalate_to"]
