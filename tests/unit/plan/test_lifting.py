import pytest

from alertd.plan import people_per_pot, pot_mass, recommended_weight_limit


@pytest.mark.parametrize("bad", [(-1.0, 75.0, 25.0), (25.0, -1.0, 25.0), (25.0, 75.0, -1.0), (25.0, 75.0, 25.0, -1.0)])
def test_lengths_and_angles_below_zero_are_refused(bad):
    with pytest.raises(ValueError, match="must not be negative"):
        recommended_weight_limit(*bad)


@pytest.mark.parametrize("bad", [{"frequency": 1.1}, {"coupling": 1.1}, {"frequency": -0.1}, {"coupling": -0.1}])
def test_multipliers_outside_zero_to_one_are_refused(bad):
    with pytest.raises(ValueError, match="multipliers must be within 0 to 1"):
        recommended_weight_limit(25.0, 75.0, 25.0, **bad)


def test_what_is_nearer_than_a_forearm_or_lower_than_a_hand_counts_as_that():
    assert recommended_weight_limit(0.0, 75.0, 0.0) == recommended_weight_limit(25.0, 75.0, 25.0)


def test_out_of_reach_or_turned_around_nothing_should_be_lifted():
    assert recommended_weight_limit(25.0, 500.0, 25.0) == 0.0
    assert recommended_weight_limit(25.0, 75.0, 25.0, asymmetry=360.0) == 0.0


@pytest.mark.parametrize(
    ("volume", "people"), [(0.0, 1), (8.0, 1), (8.7, 1), (8.8, 2), (17.5, 2), (17.6, 3), (40.0, 5)]
)
def test_a_pot_is_shared_among_as_many_people_as_its_mass_asks_for(volume, people):
    assert people_per_pot(volume) == people


def test_a_moist_pot_weighs_a_little_more_than_water():
    assert pot_mass(40.0) == pytest.approx(44.0)
