from itertools import product

import pytest

from alertd.alerts import TABLE, AlertState, Event, NoticeKind, Outcome, Step, step

STATES = (None, *AlertState)
ENDINGS = {
    Outcome.CANCELLED: NoticeKind.CANCELLED,
    Outcome.EXPIRED: NoticeKind.EXPIRED,
    Outcome.DONE: NoticeKind.ALL_CLEAR,
    Outcome.DECLINED: NoticeKind.CLOSED,
}

#: What may follow what, written down a second time: state, event, state, notice, outcome.
LIVES = """
              foreseen       prepare    opened      -
              due            execute    opened      -
    prepare   due            execute    act         -
    prepare   worsened       prepare    changed     -
    prepare   eased          ended      cancelled   cancelled
    prepare   passed         ended      expired     expired
    prepare   reported_done  done       -           -
    prepare   declined       declined   -           -
    execute   worsened       execute    changed     -
    execute   postponed      prepare    postponed   -
    execute   reminder       execute    reminder    -
    execute   final_call     execute    final_call  -
    execute   eased          ended      cancelled   cancelled
    execute   passed         ended      expired     expired
    execute   reported_done  done       -           -
    execute   declined       declined   -           -
    done      eased          ended      all_clear   done
    done      passed         ended      all_clear   done
    done      undone         execute    act         -
    declined  eased          ended      closed      declined
    declined  passed         ended      closed      declined
    declined  worsened       execute    changed     -
    declined  reported_done  done       -           -
"""


def expected_steps():
    steps = {}
    for line in LIVES.strip().splitlines():
        *start, event, state, notice, outcome = line.split()
        before = AlertState(start[0]) if start else None
        told = None if notice == "-" else NoticeKind(notice)
        steps[before, Event(event)] = Step(AlertState(state), told, None if outcome == "-" else Outcome(outcome))
    return steps


@pytest.mark.parametrize(("state", "event"), list(product(STATES, Event)))
def test_every_pair_of_state_and_event_leads_where_it_should_or_is_refused(state, event):
    expected = expected_steps().get((state, event))
    if expected is None:
        with pytest.raises(ValueError, match=f"'{event.value}' cannot happen to an alert in state"):
            step(state, event)
    else:
        assert step(state, event) == expected


def test_a_refused_event_names_the_state():
    with pytest.raises(ValueError, match="'reminder' cannot happen to an alert in state 'done'"):
        step(AlertState.DONE, Event.REMINDER)


def test_an_ended_alert_never_moves_again():
    assert not [state for state, _ in TABLE if state is AlertState.ENDED]


@pytest.mark.parametrize("to", list(TABLE.values()))
def test_an_alert_has_an_outcome_and_its_notice_exactly_when_it_ends(to):
    assert (to.state is AlertState.ENDED) == (to.outcome is not None)
    if to.outcome is not None:
        assert to.notice is ENDINGS[to.outcome]


@pytest.mark.parametrize("state", [state for state in AlertState if state is not AlertState.ENDED])
def test_every_open_state_can_end_whether_the_forecast_eases_or_the_cold_passes(state):
    assert step(state, Event.EASED).state is AlertState.ENDED
    assert step(state, Event.PASSED).state is AlertState.ENDED


def test_what_people_report_is_never_announced_back_to_them():
    for (_, event), to in TABLE.items():
        if event in {Event.REPORTED_DONE, Event.DECLINED}:
            assert to.notice is None
