import pytest

from alertd.thermal.parameters import Parameter, with_unit


@pytest.mark.parametrize(
    ("unit", "written"), [("Cel", "2 to 8 °C"), ("1", "2 to 8"), ("W/m2/K", "2 to 8 W/m2/K"), ("K", "2 to 8 K")]
)
def test_numbers_are_written_with_the_units_that_people_know(unit, written):
    assert with_unit("2 to 8", unit) == written


@pytest.mark.parametrize(("low", "high"), [(0.6, 0.7), (0.3, 0.4), (float("nan"), 0.7)])
def test_a_value_outside_its_own_range_is_refused(low, high):
    with pytest.raises(ValueError, match=r"the parameter wind_share has 0\.5 outside"):
        Parameter("wind_share", 0.5, low, high, "1", "wind", "assumed")


def test_a_measured_value_has_no_spread_and_is_its_owners():
    assumed = Parameter("wind_share", 0.5, 0.3, 0.7, "1", "wind", "assumed")
    own = assumed.measured(0.9)
    assert (assumed.is_assumed, own.is_assumed) == (True, False)
    assert (own.low, own.value, own.high, own.provenance) == (0.9, 0.9, 0.9, "own value")
