"""What models say, made of invented arrays: the real type with the real uncertainty, without any physics."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np

from alertd.risk import CriticalTemperature, Rule, RuleSettings, Threshold
from alertd.thermal import Felt, Model, Models, ModelWeather, Parameter, Tissue, Used, felt_bound, felt_of

if TYPE_CHECKING:
    from alertd.alerts import Notice
    from alertd.site import Site, TreeGroup
    from alertd.weather import Series

#: What roots of figs stand by a model: 23 °F; wood 10 °F, buds 28 °F.
ROOTS, WOOD, GROWTH = (
    CriticalTemperature(Tissue.ROOTS, -5.0, at_or_below=False),
    CriticalTemperature(Tissue.WOOD, (10.0 - 32.0) / 1.8, at_or_below=True),
    CriticalTemperature(Tissue.GROWTH, (28.0 - 32.0) / 1.8, at_or_below=False),
)

WETNESS = Parameter("water_content", 0.35, 0.25, 0.45, "1", "how wet the root balls are", "assumed: moist")
WIND = Parameter("wind_share", 0.5, 0.35, 0.7, "1", "how much wind reaches the pots", "assumed: beside a house")
SUN = Parameter("albedo", 0.3, 0.2, 0.4, "1", "how dark the pots are", "assumed: terracotta")

_RULE_OF_MODEL = {
    Model.ROOT_BALL: (Rule.ROOT_ZONE, ROOTS),
    Model.BARE_WOOD: (Rule.WOOD_TEMPERATURE, WOOD),
    Model.WRAPPED_WOOD: (Rule.WOOD_TEMPERATURE, WOOD),
    Model.MULCHED_STEMS: (Rule.WOOD_TEMPERATURE, WOOD),
    Model.STORE_ROOM: (Rule.STORE_ROOM, ROOTS),
}


class SaidModels(Models):
    """Models that say what they were told to say, by tissue and whether the protection is in place."""

    said: dict[tuple[Tissue, bool], Felt]

    def felt(self, tissue: Tissue, limit: float, critical: float, *, is_in_place: bool) -> Felt | None:
        """Return what was given for it."""
        assert limit >= critical
        return self.said.get((tissue, is_in_place))


def models_saying(group: TreeGroup, site: Site, series: Series, said: dict[tuple[Tissue, bool], Felt]) -> SaidModels:
    """Return models of a group that say what stands here and nothing else."""
    models = SaidModels(group, ModelWeather(site, series, None), 0.2)
    models.said = said
    return models


def hours_from(start: datetime, count: int) -> np.ndarray:
    """Return hourly times from an aware instant on."""
    first = np.datetime64(start.astimezone(UTC).replace(tzinfo=None), "s")
    return first + np.arange(count) * np.timedelta64(3600, "s")


def dip(count: int, lowest: float, at: int, usual: float = 1.0) -> np.ndarray:
    """Return temperatures [°C] that fall evenly to a lowest one at an hour and rise again, 0.5 °C an hour."""
    return np.minimum(usual, lowest + 0.5 * np.abs(np.arange(count) - at))


def felt_with(
    model: Model,
    start: datetime,
    temperature: np.ndarray,
    *,
    spread: float = 0.0,
    used: tuple[Used, ...] = (),
    medians: dict[str, np.ndarray] | None = None,
    **more: object,
) -> Felt:
    """Return what a model says from `start` on, for one realization or several."""
    values = np.atleast_2d(np.asarray(temperature, dtype=np.float64))
    times = hours_from(start, values.shape[1])
    tissue = _RULE_OF_MODEL[model][1].tissue
    return felt_of(model, tissue, times, values, np.full(times.size, spread), used, medians or {}, **more)


def bound_with(model: Model, start: datetime, temperature: np.ndarray) -> Felt:
    """Return that a tissue stays above what stands here."""
    values = np.atleast_2d(np.asarray(temperature, dtype=np.float64))
    return felt_bound(model, _RULE_OF_MODEL[model][1].tissue, hours_from(start, values.shape[1]), values)


def threshold_with(felt: Felt, *, of_growth: bool = False) -> Threshold:
    """Return the rule that judges by what a model says."""
    rule, critical = _RULE_OF_MODEL[felt.model]
    if of_growth:
        rule, critical = Rule.BUD_TEMPERATURE, GROWTH
    return Threshold(rule, critical, 0.0, RuleSettings(), felt)


def with_models(notice: Notice, *models: Threshold, raised_by: Threshold | None = None) -> Notice:
    """Return a notice with what models say, raised by the rule of one of them or by what raised it before."""
    return replace(notice, models=models, threshold=raised_by or notice.threshold)
