"""The Revised NIOSH Lifting Equation against worked numbers.

RWL = 23 kg * (25/H) * (1 - 0.003 |V - 75|) * (0.82 + 4.5/D) * (1 - 0.0032 A) * FM * CM, cm and degrees
(multipliers: CCOHS, Calculating RWL, seen; the formula of asymmetry from memory). The numbers were worked out
apart from the program; the table of the asymmetry multiplier is that of CCOHS (seen), in two decimals.
"""

import pytest

from alertd.plan import recommended_weight_limit
from alertd.plan.lifting import LOAD_CONSTANT, POT_LIFT


def test_the_load_constant_is_23_kg():
    assert LOAD_CONSTANT == 23.0


@pytest.mark.parametrize(
    ("lift", "limit"),
    [
        ({"horizontal": 25.0, "vertical": 75.0, "distance": 25.0}, 23.0),
        ({"horizontal": 40.0, "vertical": 20.0, "distance": 60.0, "coupling": 0.9}, 9.6685),
        ({"horizontal": 50.0, "vertical": 10.0, "distance": 70.0, "coupling": 0.9}, 7.3676),
        (
            {
                "horizontal": 30.0,
                "vertical": 15.0,
                "distance": 25.0,
                "asymmetry": 30.0,
                "frequency": 0.94,
                "coupling": 0.95,
            },
            12.6876,
        ),
    ],
)
def test_worked_examples(lift, limit):
    assert recommended_weight_limit(**lift) == pytest.approx(limit, abs=5e-5)


@pytest.mark.parametrize(("asymmetry", "multiplier"), [(0, 1.00), (30, 0.90), (45, 0.86), (60, 0.81), (90, 0.71)])
def test_the_table_of_the_asymmetry_multiplier(asymmetry, multiplier):
    share = recommended_weight_limit(25.0, 75.0, 25.0, asymmetry=float(asymmetry)) / LOAD_CONSTANT
    assert share == pytest.approx(multiplier, abs=0.0051)


def test_a_pot_lifted_from_the_ground_is_the_second_example():
    assert recommended_weight_limit(**POT_LIFT) == pytest.approx(9.6685, abs=5e-5)
