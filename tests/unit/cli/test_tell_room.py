"""What is said of a room that was fitted, and what a person is to do with it."""

from __future__ import annotations

import pytest

from alertd.cli.tell_room import room_facts, room_lines
from alertd.core import TemperatureUnit
from alertd.thermal import RoomFit
from tests.fakes.garden import make_garden

HOUR = 3600.0


def test_a_garage_is_told_with_what_to_write():
    fit = RoomFit(28.2 * HOUR, 0.97, 0.5, 0.41, 480)
    first, second = room_lines(fit, make_garden())
    assert first == (
        "From 480 hours of both thermometers: the room follows the air outside in 28 h. "
        "What that leaves is 0.4 °C (rms)."
    )
    assert second == (
        'Write it into each group that winters there: store = { kind = "unheated_garage", time_constant = "28h" }'
    )


def test_a_cellar_rests_warmer_than_the_air():
    garden = make_garden(units=TemperatureUnit.FAHRENHEIT)
    lines = room_lines(RoomFit(100.0 * HOUR, 0.41, 5.0, 0.5, 720), garden)
    assert lines[0].endswith("What that leaves is 0.9 °F (rms).")
    assert lines[1] == (
        "It changes by 0.41 of what the air changes, and would rest at 41 °F in air of 32 °F: ground or house warm it."
    )
    assert lines[2].endswith('store = { kind = "cellar", time_constant = "100h" }')


@pytest.mark.parametrize(
    ("hours", "log", "words"),
    [
        (100.0, 96, "read on until you have 13 days, with a change of weather among them."),
        (0.5, 480, "are both thermometers where they should be, and is one of them outside?"),
    ],
)
def test_a_room_that_cannot_be_told_gets_no_number(hours, log, words):
    fit = RoomFit(hours * HOUR, 1.0, 0.0, 0.3, log)
    (line,) = room_lines(fit, make_garden())
    assert line.startswith(f"From {log} hours of both thermometers it cannot be told how the room follows: ")
    assert line.endswith(words)
    assert room_facts(fit)["is_settled"] is False


def test_the_facts_are_in_units_of_the_si():
    assert room_facts(RoomFit(28.0 * HOUR, 0.97123, 0.456, 0.414, 480)) == {
        "time_constant_s": 100800,
        "outside_share": 0.971,
        "warmth_degC": 0.46,
        "rms_K": 0.41,
        "hours": 480,
        "kind": "unheated_garage",
        "is_settled": True,
    }
