"""What models said is kept in the audit log."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from datetime import date

import numpy as np

from alertd.alerts import Change, Event, Notice, NoticeKind, Transition
from alertd.audit import canonical_json
from alertd.risk import Assessment
from alertd.thermal import Model, Parameter, Used
from alertd.watch import evaluation_event, transition_events
from tests.fakes.felt import WETNESS, WIND, bound_with, dip, felt_with, threshold_with
from tests.fakes.garden import POTS, Keeper, local, make_garden, nights

TUESDAY = local("2026-01-20 08:00")
SMALL = Parameter("film", 1.23456789e-7, 1.2e-7, 1.3e-7, "m", "how thick the film is", "assumed")


def look():
    return Keeper(make_garden(POTS)).look(TUESDAY, nights(date(2026, 1, 20), [0.0, -12.0, 0.0, 0.0]))


def cold(**more):
    used = (Used(WETNESS, 0.9), Used(WIND.measured(0.6), 0.0), Used(SMALL, 0.123456))
    medians = {"core": dip(96, -0.4, 50), "frozen_share": np.linspace(0.0, 0.35, 96)}
    felt = felt_with(Model.ROOT_BALL, TUESDAY, dip(96, -7.123456, 47), spread=1.3, used=used, medians=medians, **more)
    return threshold_with(felt)


def body_of(event):
    """Return what the audit log would keep: numbers that are not finite are refused by it."""
    return json.loads(canonical_json(event.body))


def test_an_evaluation_keeps_how_cold_each_model_has_its_tissue():
    decision = look()
    bound = threshold_with(bound_with(Model.ROOT_BALL, TUESDAY, np.full(96, -1.0)))
    judged = replace(
        decision,
        assessments=(*decision.assessments, Assessment("pots", cold(), ()), Assessment("pots", bound, ())),
    )
    *of_air, of_model, of_bound = body_of(evaluation_event(judged, []))["assessments"]
    assert all("model" not in each for each in of_air)
    assert of_model["rule"] == "root_zone"
    assert of_model["model"] == {
        "name": "root_ball",
        "minimum": -7.1235,
        "minimum_low": -8.5926,
        "minimum_high": -5.6543,
        "coldest": "2026-01-22T12:00:00Z",
        "spread": 1.3,
    }
    assert of_bound["model"]["is_bound"] is True


def step_with(*models):
    alert = look().transitions[0].after
    notice = Notice(NoticeKind.CHANGED, alert, None, None, None, (Change.COLDER,), models=models)
    (event,) = transition_events(TUESDAY, [Transition(Event.WORSENED, alert, alert, notice)])
    return body_of(event)


def test_a_step_that_is_told_keeps_what_models_said_and_what_they_went_by():
    body = step_with(cold(missing=("wind_speed",), remarks=("The pots touch.",)))
    (kept,) = body["models"]
    assert (kept["rule"], kept["critical"], kept["hours"]) == ("root_zone", -5.0, 9.0)
    assert kept["figures"] == {"core": -0.4, "frozen_share": 0.35}
    assert kept["missing"] == ["wind_speed"]
    assert kept["remarks"] == ["The pots touch."]
    wetness, film, wind = kept["parameters"]
    assert wetness == {
        "name": "water_content",
        "value": 0.35,
        "low": 0.25,
        "high": 0.45,
        "unit": "1",
        "meaning": "how wet the root balls are",
        "provenance": "assumed: moist",
        "is_assumed": True,
        "share": 0.9,
    }
    assert (film["value"], film["share"]) == (1.23457e-7, 0.1235)
    assert (wind["value"], wind["is_assumed"], wind["provenance"]) == (0.6, False, "own value")


def test_a_rule_of_the_air_and_a_silent_step_keep_no_models():
    decision = look()
    assert "models" not in step_with(decision.transitions[0].notice.threshold)
    silent = replace(decision.transitions[0], notice=None)
    (event,) = transition_events(TUESDAY, [silent])
    assert "models" not in body_of(event)


def test_a_number_that_is_not_finite_is_kept_as_none():
    said = cold()
    odd = (Used(Parameter("deep", math.inf, 0.0, math.inf, "m", "how deep the soil is", "assumed"), math.nan),)
    (kept,) = step_with(replace(said, felt=replace(said.felt, used=odd)))["models"]
    assert (kept["parameters"][0]["value"], kept["parameters"][0]["share"]) == (None, None)
