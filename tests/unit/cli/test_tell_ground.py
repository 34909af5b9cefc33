from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from alertd.cli.tell_ground import ground_facts, ground_lines, snow_facts, snow_lines
from alertd.core import TemperatureUnit, to_datetime64
from alertd.weather import Series, SoilTemperatures
from tests.fakes.garden import POTS, Keeper, local, make_forecast, make_garden, nights

NOW = local("2026-01-20 08:30")


def decision_with(garden, *, soil=None, snow=None):
    series = nights(date(2026, 1, 20), [0.0] * 8)
    if snow is not None:
        depth = np.broadcast_to(snow(series.times), series.air_temperature.shape).astype(float)
        series = Series(series.times, {**series.variables, "surface_snow_thickness": depth})
    return Keeper(garden).look(NOW, replace(make_forecast(NOW, series, "meteo"), soil=soil))


def soil_of(values):
    start = to_datetime64(local("2026-01-20 06:00"))
    times = start + np.arange(values.shape[2]) * np.timedelta64(3600, "s")
    return SoilTemperatures("icon_seamless", ((0.0, 0.0), (0.06, 0.06), (0.07, 0.28)), times, values)


def test_the_ground_is_told_by_layer_from_the_running_hour_on_with_the_model_s_name():
    values = np.stack([np.array([[-9.0, -8.0, 1.0, -2.0]]), np.array([[3.0, 3.0, 2.0, 1.5]]), np.full((1, 4), np.nan)])
    garden = make_garden(POTS, units=TemperatureUnit.FAHRENHEIT)
    decision = decision_with(garden, soil=soil_of(values))
    surface, deeper = ground_facts(decision, garden)
    assert (surface["source"], surface["model"], surface["top"], surface["bottom"]) == ("meteo", "icon_seamless", 0, 0)
    assert (surface["temperature"], surface["minimum"]) == (33.8, 28.4)
    assert (deeper["temperature"], deeper["minimum"]) == (35.6, 34.7)
    assert surface["until"] == "2026-01-20T14:00:00Z"
    (line,) = ground_lines(decision, garden)
    plain = line.replace("\N{NO-BREAK SPACE}", " ")
    assert plain == (
        "ground by meteo, model icon_seamless, until 09:00 today: at the surface 34 °F (lowest 28 °F); "
        "6 cm 36 °F (lowest 35 °F)"
    )


def test_layers_are_named_by_both_depths_and_realizations_by_their_median():
    values = np.full((3, 3, 4), np.nan)
    values[2] = np.array([[1.0], [2.0], [6.0]])
    garden = make_garden(POTS, units=TemperatureUnit.FAHRENHEIT)
    (facts,) = ground_facts(decision_with(garden, soil=soil_of(values)), garden)
    assert (facts["top"], facts["bottom"], facts["temperature"]) == (0.07, 0.28, 35.6)
    (line,) = ground_lines(decision_with(garden, soil=soil_of(values)), garden)
    assert "7 to 28 cm" in line


def test_ground_of_which_nothing_is_known_ahead_is_not_told():
    garden = make_garden(POTS, units=TemperatureUnit.FAHRENHEIT)
    values = np.full((3, 1, 4), 1.0)
    old = soil_of(values)
    past = replace(old, times=old.times - np.timedelta64(86400, "s"))
    assert ground_facts(decision_with(garden, soil=past), garden) == []
    assert ground_lines(decision_with(garden), garden) == []


def test_snow_is_told_where_there_is_any():
    garden = make_garden(POTS, units=TemperatureUnit.FAHRENHEIT)
    decision = decision_with(garden, snow=lambda times: np.linspace(0.05, 0.0, times.size))
    (facts,) = snow_facts(decision)
    assert 0.04 < facts["surface_snow_thickness"] <= facts["maximum"] < 0.05
    assert snow_lines(decision) == ["snow by meteo: 5 cm, deepest ahead 5 cm"]
    bare = decision_with(garden, snow=lambda times: np.zeros(times.size))
    assert snow_facts(bare) == [{"source": "meteo", "surface_snow_thickness": 0.0, "maximum": 0.0}]
    assert snow_lines(bare) == []
    assert snow_facts(decision_with(garden, snow=lambda times: np.full(times.size, np.nan))) == []
    assert NOW - timedelta(hours=1) < decision.now
