"""A store of which its people say nothing is as they chose it: no model judges it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from alertd.site import StoreKind, StoreRoom
from alertd.thermal import ModelMemory, Models, ModelWeather, Tissue
from alertd.weather import Series
from tests.fakes.garden import POTS, make_garden

HOURS = np.datetime64("2026-01-20T18:00:00", "s") + np.arange(48) * np.timedelta64(3600, "s")
BITTER = Series(HOURS, {"air_temperature": np.full((1, 48), -25.0)})


@pytest.mark.parametrize("memory", [None, ModelMemory(timedelta(hours=24))])
def test_a_store_that_nobody_described_is_judged_by_no_model(memory):
    def felt(group, *, is_in_place):
        weather = ModelWeather(make_garden().site, BITTER, None, {}, memory)
        return Models(group, weather, 0.2).felt(Tissue.ROOTS, -3.0, -5.0, is_in_place=is_in_place)

    assert felt(POTS, is_in_place=True) is None
    assert felt(POTS, is_in_place=False) is not None, "pots outside are judged, wherever they will be stored"
    described = replace(POTS, store_room=StoreRoom(StoreKind.SHED))
    assert felt(described, is_in_place=True).minimum < -5.0
