"""The rules that may raise an alert, and the numbers that people adjust."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum


class Rule(StrEnum):
    """What raised an alert.

    ``container_roots``, ``wood`` and ``spring_frost`` judge the air, as the trade does; ``root_zone``,
    ``wood_temperature``, ``bud_temperature`` and ``store_room`` judge what models of the root ball, of bare or covered
    wood, of buds in growth and of a pot in store compute.
    """

    CONTAINER_ROOTS = "container_roots"
    WOOD = "wood"
    SPRING_FROST = "spring_frost"
    UNCOVER = "uncover"
    BRING_OUT = "bring_out"
    ROOT_ZONE = "root_zone"
    WOOD_TEMPERATURE = "wood_temperature"
    BUD_TEMPERATURE = "bud_temperature"
    STORE_ROOM = "store_room"
    BLIND = "blind"

    @property
    def judges_by_model(self) -> bool:
        """Whether it judges what a model computes, and not the air."""
        return self in {Rule.ROOT_ZONE, Rule.WOOD_TEMPERATURE, Rule.BUD_TEMPERATURE, Rule.STORE_ROOM}


@dataclass(frozen=True, slots=True)
class RuleSettings:
    """Numbers of one rule.

    Parameters
    ----------
    enabled : bool
        Whether the rule speaks at all.
    margin : float
        [°C] Added to the critical temperature: the rule speaks this much earlier.
    hysteresis : float
        [°C] An open alert closes only when the forecast stays this much above the threshold.
    horizon : timedelta
        How far ahead the rule looks.
    probability_open : float
        An alert opens at this probability or above.
    probability_close : float
        An open alert closes below this probability (with the hysteresis added to the threshold).
    spell_gap : timedelta
        Threatened hours closer together than this are one cold spell.

    Raises
    ------
    ValueError
        If a probability is outside 0 to 1, the closing one exceeds the opening one, or a length is
        not positive.
    """

    enabled: bool = True
    margin: float = 0.0
    #: Assumed: archived US forecasts of one night change by 0.75 to 0.8 °C (1 sd) from issue to issue.
    hysteresis: float = 1.0
    horizon: timedelta = timedelta(hours=72)
    #: Assumed; in a test on archived US forecasts a probability of 0.2 found 97 % of nights at or below
    #: 15 °F with a false alarm ratio of 0.3.
    probability_open: float = 0.2
    #: Assumed: half of the opening probability.
    probability_close: float = 0.1
    spell_gap: timedelta = timedelta(hours=36)

    def __post_init__(self) -> None:
        """Refuse numbers that cannot work."""
        if not 0.0 < self.probability_close <= self.probability_open <= 1.0:
            message = (
                f"probabilities must satisfy 0 < close <= open <= 1, not close {self.probability_close} "
                f"and open {self.probability_open}"
            )
            raise ValueError(message)
        if self.hysteresis < 0.0:
            message = f"hysteresis must be 0 °C or more, not {self.hysteresis} °C"
            raise ValueError(message)
        if self.horizon <= timedelta(0) or self.spell_gap <= timedelta(0):
            message = f"horizon and spell gap must be positive, not {self.horizon} and {self.spell_gap}"
            raise ValueError(message)


@dataclass(frozen=True, slots=True)
class Rules:
    """All rules of a site.

    Parameters
    ----------
    container_roots, wood, spring_frost, uncover, bring_out : RuleSettings
        Numbers of each rule.
    container_threshold : float
        [°C] Root threshold of classes that state none (common practice, no source: 15 °F).
    credits : dict of str to float
        [°C] What a protection in place gains, by its name (common practice, no source: a wrap 5 °F).
    root_zone, wood_temperature, bud_temperature, store_room : RuleSettings
        Numbers of each rule that judges what a model computes.
    root_share : float
        Above 0, below 1: part of the root ball that may be lost before it counts.

    Raises
    ------
    ValueError
        If the share of the root ball is not between 0 and 1.
    """

    container_roots: RuleSettings
    wood: RuleSettings
    spring_frost: RuleSettings
    uncover: RuleSettings
    bring_out: RuleSettings
    container_threshold: float
    credits: dict[str, float]
    root_zone: RuleSettings = RuleSettings()
    wood_temperature: RuleSettings = RuleSettings()
    bud_temperature: RuleSettings = RuleSettings()
    store_room: RuleSettings = RuleSettings()
    #: Assumed: woody plants outlive the loss of a fifth of their roots; nobody has measured it for these species.
    root_share: float = 0.2

    @property
    def judge_by_models(self) -> bool:
        """Whether any rule speaks that judges what a model computes."""
        return any(
            each.enabled for each in (self.root_zone, self.wood_temperature, self.bud_temperature, self.store_room)
        )

    def __post_init__(self) -> None:
        """Refuse a share that is none or everything."""
        if not 0.0 < self.root_share < 1.0:
            message = f"the share of the root ball that may be lost must be between 0 and 1, not {self.root_share}"
            raise ValueError(message)
