import math

import pytest

from alertd.thermal.all_parameters import ALL_PARAMETERS, KNOWN_PARAMETERS
from alertd.thermal.parameters import Parameter
from alertd.thermal.possible import possible_range
from alertd.thermal.pots import POSSIBLE, POT_PARAMETERS
from alertd.thermal.substrates import DRIEST, MIXES


def parameter(low, high, unit="1"):
    """Return an invented number of which only its usual range and unit are known."""
    return Parameter("invented_number", (low + high) / 2, low, high, unit, "an invented number", "assumed")


@pytest.mark.parametrize("known", ALL_PARAMETERS, ids=lambda each: each.name)
def test_what_is_usual_is_possible_and_no_bound_is_open(known):
    least, most = possible_range(known)
    assert least <= known.low
    assert known.high <= most
    assert math.isfinite(least)
    assert math.isfinite(most)


@pytest.mark.parametrize("known", POT_PARAMETERS, ids=lambda each: each.name)
def test_a_number_of_a_pot_is_bounded_as_its_model_bounds_it(known):
    expected = (DRIEST, MIXES["peat"].porosity) if known.name == "water_content" else POSSIBLE[known.name]
    assert possible_range(known) == expected


@pytest.mark.parametrize("mix", MIXES.values(), ids=MIXES)
def test_no_mix_is_drier_than_air_dry_peat_or_holds_more_than_its_pores(mix):
    assert possible_range(KNOWN_PARAMETERS["water_content"], mix) == (DRIEST, mix.porosity)


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (parameter(0.3, 0.7), (0.0, 1.0)),
        (parameter(0.3, 1.0), (0.0, 1.0)),
        (parameter(0.5, 1.5), (0.05, 15.0)),
        (parameter(0.3, 0.7, "m"), (0.03, 7.0)),
        (parameter(2.0, 10.0, "Cel"), (-20.0, 25.0)),
        (parameter(-1.0, 1.0, "K"), (-30.0, 30.0)),
        (parameter(180.0, 330.0, "kg/m3"), (20.0, 917.0)),
        (parameter(-1.0, 1.0, "m/s"), (-math.inf, math.inf)),
    ],
)
def test_a_number_that_has_no_bounds_of_its_own_is_bounded_by_its_unit_or_by_what_is_usual(given, expected):
    assert possible_range(given) == pytest.approx(expected)
