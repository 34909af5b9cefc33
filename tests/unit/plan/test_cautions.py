from dataclasses import replace

import pytest

from alertd.plan import CAUTION_TEXTS, MINUTES_PER_TREE, Action, Caution, cautions
from tests.fakes.garden import FIGS, POTS

SMALL = replace(POTS, container_volume=5.0)
UNKNOWN = replace(POTS, container_volume=None)


def minded(group, action, *, expects_ice=False, is_dark=False):
    return [each.value for each in cautions(group, action, expects_ice=expects_ice, is_dark=is_dark)]


@pytest.mark.parametrize(
    ("group", "action", "expected"),
    [
        (POTS, Action.MOVE_IN, ["heavy_pots", "store_heat"]),
        (SMALL, Action.MOVE_IN, ["wheels", "store_heat"]),
        (UNKNOWN, Action.MOVE_IN, ["wheels", "store_heat"]),
        (POTS, Action.COVER_IN_STORE, ["heavy_pots", "store_heat", "store_cords"]),
        (SMALL, Action.COVER_IN_STORE, ["wheels", "store_heat", "store_cords"]),
        (POTS, Action.BRING_OUT, ["heavy_pots"]),
        (SMALL, Action.CLUSTER, ["wheels"]),
        (FIGS, Action.WRAP, ["heaters", "ladder"]),
        (FIGS, Action.COVER_AGAIN, ["heaters", "ladder"]),
        (FIGS, Action.SHIELD, ["heaters"]),
        (FIGS, Action.REINFORCE, ["heaters"]),
        (FIGS, Action.BEND_DOWN, ["brittle_wood"]),
        (FIGS, Action.FILL_RING, []),
        (FIGS, Action.OPEN_COVER, ["hot_cover"]),
        (FIGS, Action.LIFT_COVER, ["hot_cover"]),
        (FIGS, Action.LOOK_YOURSELF, []),
    ],
)
def test_cautions_ride_with_the_task_that_needs_them(group, action, expected):
    assert minded(group, action) == expected


@pytest.mark.parametrize("action", Action)
def test_ice_and_darkness_are_minded_whenever_they_are_met(action):
    plain = minded(FIGS, action)
    assert minded(FIGS, action, is_dark=True) == [*plain, "darkness"]
    is_indoors = action in {Action.LOOK_YOURSELF, Action.COVER_IN_STORE}
    ice = [] if is_indoors else ["ice"]
    assert minded(FIGS, action, expects_ice=True, is_dark=True) == [*plain, *ice, "darkness"]


def test_every_caution_has_words_and_every_action_a_time():
    assert set(CAUTION_TEXTS) == set(Caution)
    assert set(MINUTES_PER_TREE) == set(Action)
    assert all(text[0].isupper() and text.endswith(".") and "!" not in text for text in CAUTION_TEXTS.values())
