"""What models say, in `assess` and `why`."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import numpy as np
import pytest

from alertd.alerts import Event, Notice, NoticeKind, Transition
from alertd.cli.tell import assessment_facts, assessment_lines
from alertd.cli.tell_models import exposure_facts, parameter_lines
from alertd.core import TemperatureUnit
from alertd.risk import Assessment
from alertd.store import Commit, Store
from alertd.thermal import Model, Parameter, Used
from alertd.thermal.pots import POT_PARAMETERS
from alertd.watch import model_evidence, transition_events
from tests.fakes.felt import SUN, WETNESS, WIND, bound_with, dip, felt_with, threshold_with
from tests.fakes.garden import FIGS, POTS, Keeper, local, make_garden, nights

if TYPE_CHECKING:
    from tests.fakes.command_line import CommandLine

TUESDAY = local("2026-01-20 08:00")
DEPTH = Parameter("depth", 0.2, 0.1, 0.3, "m", "how deep the mulch lies", "assumed")
EMISSIVITY = Parameter("emissivity", 0.95, 0.95, 0.95, "1", "how well bark radiates", "FAO-56, seen")
USED = (Used(WETNESS, 0.9), Used(DEPTH, 0.25), Used(WIND.measured(0.6), 0.0), Used(EMISSIVITY, 0.0))


def root_ball(start=TUESDAY, **more):
    medians = {"shell": dip(96, -7.5, 46), "core": dip(96, -0.4, 50), "frozen_share": np.linspace(0.0, 0.35, 96)}
    named = {"spread": 1.3, "used": USED, "medians": medians, **more}
    return threshold_with(felt_with(Model.ROOT_BALL, start, dip(96, -7.0, 47), **named))


def judged(*thresholds, garden):
    """Return an evaluation with what further rules say of the first group."""
    decision = Keeper(garden).look(TUESDAY, nights(date(2026, 1, 20), [0.0, -12.0, 0.0, 0.0]))
    said = tuple(Assessment(garden.groups[0].group_id, each, ()) for each in thresholds)
    return replace(decision, assessments=(*decision.assessments, *said))


def lines_of(*thresholds, group=POTS):
    garden = make_garden(group, units=TemperatureUnit.FAHRENHEIT)
    return assessment_lines(judged(*thresholds, garden=garden), garden)


def test_assess_tells_below_each_rule_that_judges_by_a_model_what_it_computes():
    lines = lines_of(root_ball())
    place = lines.index("  root_zone 23 °F: nothing threatens")
    assert lines[place + 1] == (
        "    model root_ball: lowest 19 °F (17 to 22 °F) at 07:00 on Thu 22 Jan, uncertain by 2.3 °F, shell 18 °F, "
        "core 31 °F, 35 % of it below 23 °F, 7 h past 23 °F"
    )
    assert sum(line.startswith("    model") for line in lines) == 1, "rules of the air have none"


def test_assess_tells_a_bound_and_the_gain_of_a_cover():
    bound = threshold_with(bound_with(Model.ROOT_BALL, TUESDAY, np.full(96, -1.0)))
    assert "    model root_ball: stays above 30 °F, that is all that was needed" in lines_of(bound)
    gain = {"gain": np.full(96, 2.2)}
    wrap = threshold_with(felt_with(Model.WRAPPED_WOOD, TUESDAY, dip(96, -9.0, 45), medians=gain))
    assert "    model wrapped_wood: lowest 16 °F at 05:00 on Thu 22 Jan, gain 4.0 °F" in lines_of(wrap, group=FIGS)


def test_assess_gives_what_a_model_computes_as_json_in_the_reader_s_unit():
    garden = make_garden(POTS, units=TemperatureUnit.FAHRENHEIT)
    *of_air, of_model = assessment_facts(judged(root_ball(missing=("wind_speed",)), garden=garden), garden)
    assert all(each["model"] is None for each in of_air)
    facts = of_model["model"]
    assert facts["name"] == "root_ball"
    assert (facts["minimum"], facts["spread"]) == (19.4, 2.34)
    assert facts["minimum_low"] < facts["minimum"] < facts["minimum_high"]
    assert facts["coldest"] == "2026-01-22T12:00:00Z"
    assert facts["is_bound"] is False
    assert facts["figures"] == {"shell": 18.5, "core": 31.28, "frozen_share": 0.35}
    assert facts["hours"] == 7.0
    assert facts["missing"] == ["wind_speed"]
    assert facts["parameters"][0]["name"] == "water_content"
    assert facts["parameters"][0]["share"] == 1.62


def test_assess_gives_exposures_hour_by_hour_for_a_chart():
    unknown = {"air": np.append(np.full(95, -3.0), np.nan), "gain": np.full(96, 2.0), "hours_below": np.arange(96.0)}
    garden = make_garden(POTS, units=TemperatureUnit.FAHRENHEIT)
    (facts,) = exposure_facts([Assessment("pots", root_ball(medians=unknown), ())], garden)
    assert (facts["group"], facts["rule"], facts["model"]) == ("pots", "root_zone", "root_ball")
    assert (facts["unit"], facts["critical"]) == ("degF", 23.0)
    assert facts["times"][0] == "2026-01-20T13:00:00Z"
    assert list(facts["percentiles"]) == ["5", "25", "50", "75", "95"]
    assert {len(values) for values in facts["percentiles"].values()} == {96}
    assert facts["percentiles"]["50"][47] == 19.4
    assert facts["percentiles"]["5"][47] < 19.4 < facts["percentiles"]["95"][47]
    assert (facts["air"][0], facts["air"][95]) == (26.6, None)
    assert facts["gain"][0] == 3.6
    assert facts["hours_below"][95] == 95.0


def test_hours_of_which_nothing_is_known_are_null_in_a_chart():
    values = dip(96, -7.0, 47)
    values[:3] = np.nan
    garden = make_garden(POTS)
    said = threshold_with(felt_with(Model.ROOT_BALL, TUESDAY, values))
    (facts,) = exposure_facts([Assessment("pots", said, ())], garden)
    assert facts["percentiles"]["50"][:4] == [None, None, None, 1.0]


def test_assess_charts_each_rule_that_judges_by_a_model(command_line: CommandLine) -> None:
    facts = command_line.json("assess")
    assert isinstance(facts, dict)
    of_models = {(each["group"], each["rule"]) for each in facts["assessments"] if each["model"] is not None}
    assert {(each["group"], each["rule"]) for each in facts["exposures"]} == of_models
    assert ("pots", "root_zone") in of_models
    roots = next(each for each in facts["exposures"] if each["rule"] == "root_zone")
    assert roots["model"] == "root_ball"
    assert len(roots["times"]) == len(roots["shell"]) == len(roots["percentiles"]["50"]) > 24
    told = command_line("assess").stdout
    assert "  model root_ball: lowest " in told
    assert re.search(r"  root_zone 23 °F: from .*, lowest air \d+ °F", told), "which is the air's, not the root ball's"


def test_a_hindcast_charts_what_models_make_of_the_record_for_comparison_with_a_probe(
    command_line: CommandLine,
) -> None:
    """The hours are those of the record, and the shell is where a probe is pushed in."""
    rows = ["time,air_temperature[degF],wind_speed[[mi_i]/h]"]
    rows += [
        f"2026-01-{day:02d}T{hour:02d}:00:00Z,{10 if hour < 12 else 25},4" for day in range(1, 6) for hour in range(24)
    ]
    (command_line.folder / "past.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    facts = command_line.json("hindcast", "--weather", "past.csv", "--exact", "--from", "2026-01-03T00:00:00Z")
    assert isinstance(facts, dict)
    roots = next(each for each in facts["exposures"] if (each["group"], each["rule"]) == ("pots", "root_zone"))
    assert (roots["times"][0], roots["times"][-1]) == ("2026-01-03T00:00:00Z", "2026-01-05T23:00:00Z")
    assert len(roots["shell"]) == len(roots["times"]) == 72
    assert 5.0 < min(roots["shell"]) < 15.0, "near the air of the nights, under a sky that is colder still"
    assert min(roots["core"]) > min(roots["shell"])
    assert not any(each["rule"] == "container_roots" for each in facts["exposures"])


def keep_step(command_line: CommandLine, *models, kind=NoticeKind.CHANGED) -> str:
    """Let the audit log keep that an alert was told with what models say; return its id."""
    now = datetime.now(tz=UTC).replace(microsecond=0)
    with Store.open(command_line.folder / "alertd.sqlite") as store:
        alert = store.find_alert("pots")
        notice = Notice(kind, alert, None, None, None, models=models)
        step = Transition(Event.WORSENED, alert, alert, notice)
        store.commit(Commit(now, events=tuple(transition_events(now, [step]))))
    return alert.alert_id


def test_why_prints_what_models_said_and_the_numbers_that_they_went_by(command_line: CommandLine) -> None:
    command_line.evaluate()
    alert_id = keep_step(command_line, root_ball(missing=("wind_speed",), remarks=("The pots touch.",)))
    lines = command_line("why", alert_id).stdout.splitlines()
    told = next(place for place, line in enumerate(lines) if "worsened: " in line)
    assert lines[told + 1].startswith("  model root_ball for root_zone: lowest 19 °F (17 to 22 °F) at ")
    table = lines.index("The model root_ball went by:")
    assert lines[table + 1 : table + 7] == [
        "  water_content  0.35   assumed    adds 1.6 °F  how wet the root balls are (assumed: moist)",
        "  depth          0.2 m  assumed    adds 0.5 °F  how deep the mulch lies (assumed)",
        "  wind_share     0.6    own value  adds 0.0 °F  how much wind reaches the pots",
        "  emissivity     0.95   known      adds 0.0 °F  how well bark radiates (FAO-56, seen)",
        "  No source tells the wind: assumed.",
        "  The pots touch.",
    ]
    assert lines[-1] == (
        "Put in what you measured under [groups.measured] of the group pots, like water_content = 0.35; "
        "alertd schema describes each."
    )
    record = command_line.json("why", alert_id)
    assert isinstance(record, dict)
    *_, kept = [each["body"]["models"] for each in record["record"] if "models" in each["body"]]
    assert kept[0]["parameters"][2]["provenance"] == "own value"


def test_why_prints_the_numbers_of_the_last_message_only(command_line: CommandLine) -> None:
    command_line.evaluate()
    keep_step(command_line, root_ball(used=(Used(SUN, 0.3),)))
    alert_id = keep_step(command_line, root_ball())
    output = command_line("why", alert_id).stdout
    assert output.count("  model root_ball for root_zone: ") == 3, "one by the first look"
    assert output.count("went by:") == 1
    assert "albedo" not in output


def facts(threshold):
    return model_evidence(threshold.rule, threshold.critical, threshold.felt)


def test_a_model_that_two_rules_judge_by_has_one_table():
    garden = make_garden(FIGS)
    wood, buds = (
        threshold_with(felt_with(Model.BARE_WOOD, TUESDAY, dip(96, -9.0, 45), used=USED), of_growth=of_growth)
        for of_growth in (False, True)
    )
    lines = parameter_lines([facts(wood), facts(buds)], "figs", garden)
    assert [line for line in lines if line.endswith("went by:")] == ["The model bare_wood went by:"]
    assert len(lines) == 1 + len(USED) + 1


@pytest.mark.parametrize(
    "threshold",
    [
        threshold_with(bound_with(Model.ROOT_BALL, TUESDAY, np.full(96, -1.0))),
        threshold_with(felt_with(Model.ROOT_BALL, TUESDAY, dip(96, -9.0, 45))),
    ],
)
def test_a_model_that_went_by_nothing_has_no_table(threshold):
    assert parameter_lines([facts(threshold)], "pots", make_garden(POTS)) == []


def test_a_model_that_went_by_weather_alone_says_so():
    said = facts(threshold_with(felt_with(Model.ROOT_BALL, TUESDAY, dip(96, -9.0, 45), missing=("wind_speed",))))
    assert parameter_lines([said], "pots", make_garden(POTS)) == [
        "The model root_ball went by:",
        "  No source tells the wind: assumed.",
    ]


def test_what_nobody_can_measure_is_not_asked_for():
    gone = next(each for each in POT_PARAMETERS if each.name == "days_before_warmer_by")
    said = facts(root_ball(used=(Used(gone, 2.0),)))
    lines = parameter_lines([said], "pots", make_garden(POTS))
    assert "how cold the days before were" in lines[-1]
    both = facts(root_ball(used=(Used(gone, 2.0), Used(WETNESS, 0.5))))
    assert "like water_content = " in parameter_lines([both], "pots", make_garden(POTS))[-1]


def test_numbers_that_are_all_measured_need_no_advice():
    said = facts(root_ball(used=(Used(WIND.measured(0.6), 0.0),)))
    lines = parameter_lines([said], "pots", make_garden(POTS))
    assert lines[-1] == "  wind_share  0.6  own value  adds 0.0 °C  how much wind reaches the pots"
