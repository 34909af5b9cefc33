"""The hardiness classes against what is published or said in the trade, and the provenance of each value.

The trade's numbers in °F (common practice, no source): container roots may take damage below 15 °F; wood of most
fig cultivars around 10 °F; 2.5 to 5 % of cultivars stand about 5 °F and about 0.25 % stand 0 °F.
"""

import re

import pytest

from alertd.config.temperatures import DEFAULT_CONTAINER_THRESHOLD
from alertd.hardiness import BUILT_IN_CLASSES

CLASSES = {each.name: each for each in BUILT_IN_CLASSES}
MARKS = ("seen", "from memory", "derived", "assumed", "common practice, no source")


@pytest.mark.parametrize(
    ("name", "fahrenheit", "degrees"), [("fig", 10.0, -12.2), ("fig_hardy", 5.0, -15.0), ("fig_very_hardy", 0.0, -17.8)]
)
def test_wood_of_figs_stands_what_the_trade_says(name, fahrenheit, degrees):
    assert round(CLASSES[name].wood, 1) == degrees
    assert CLASSES[name].wood == pytest.approx((fahrenheit - 32.0) * 5.0 / 9.0)
    assert f"{fahrenheit:g} °F" in CLASSES[name].provenance
    assert CLASSES[name].roots is None


def test_roots_that_no_class_states_stand_fifteen_fahrenheit():
    assert round(DEFAULT_CONTAINER_THRESHOLD, 1) == -9.4


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("fig", (-110 / 9, None, -1.1, -5.0)),
        ("fig_hardy", (-15.0, None, -1.1, -5.0)),
        ("fig_very_hardy", (-160 / 9, None, -1.1, -5.0)),
        ("tender_evergreen", (-1.7, -3.0, 0.0, -3.0)),
        ("mediterranean_evergreen", (-7.0, -3.9, -1.1, -3.9)),
        ("mediterranean_deciduous", (-9.4, -3.9, -1.1, -3.9)),
        ("temperate", (-17.0, -5.0, -1.1, -5.0)),
    ],
)
def test_no_value_changes_unnoticed(name, values):
    each = CLASSES[name]
    assert (each.wood, each.roots, each.spring_limit, each.root_zone) == pytest.approx(values)


def statements(provenance):
    """Return what a provenance says of wood, roots, the root zone and the spring limit."""
    parts = re.split(r"(?:^|(?:; |\. ))(?=wood |roots |root zone |spring limit )", provenance)
    return {part.split()[0]: part for part in parts if part}


@pytest.mark.parametrize("each", BUILT_IN_CLASSES, ids=lambda each: each.name)
def test_every_value_says_where_it_comes_from(each):
    said = statements(each.provenance)
    assert set(said) == {"wood", "roots", "root", "spring"}
    for name, text in said.items():
        assert any(mark in text for mark in MARKS), (each.name, name)
    values = {"wood": each.wood, "roots": each.roots, "root": each.root_zone, "spring": each.spring_limit}
    for name, value in values.items():
        if value is not None:
            numbers = {float(number) for number in re.findall(r"-?\d+(?:\.\d+)?(?= °C)", said[name])}
            assert any(number == pytest.approx(value, abs=0.051) for number in numbers), (each.name, name, numbers)
