"""Cold spells: stretches of time in which a tissue's margin is threatened."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import Certainty, Severity, from_datetime64

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

    from alertd.thermal import Exposure

    from .critical import CriticalTemperature
    from .rules import RuleSettings

#: Median margin [°C] at or below which the severity is that of the key. Assumed: nobody has published
#: damage against margin for these species; lab freezing tests step by about 3 °C.
SEVERITY_MARGINS = ((-5.0, Severity.EXTREME), (-2.5, Severity.SEVERE), (0.0, Severity.MODERATE))

#: Probability from which CAP's ``Likely`` holds. Source: CAP 1.2, certainty (seen): likely is p > ~50 %.
LIKELY_PROBABILITY = 0.5

_LOW_PERCENTILE, _HIGH_PERCENTILE = 5.0, 95.0


@dataclass(frozen=True, slots=True)
class ColdSpell:
    """One stretch of threatened time for one tissue of one group.

    Parameters
    ----------
    onset : datetime
        Aware UTC: the hour by which the tissue has passed its critical temperature with the
        probability that the rule asks for.
    end : datetime
        Aware UTC: the last threatened hour.
    probability : float
        Share of realizations that pass the critical temperature within the spell.
    minimum, minimum_low, minimum_high : float
        [°C] Lowest air temperature of the spell: median, 5th and 95th percentile of realizations.
    margin : float
        [°C] Median over realizations of the lowest exposure minus the critical temperature.
    """

    onset: datetime
    end: datetime
    probability: float
    minimum: float
    minimum_low: float
    minimum_high: float
    margin: float

    @property
    def severity(self) -> Severity:
        """CAP severity by the margin."""
        for margin, severity in SEVERITY_MARGINS:
            if self.margin <= margin:
                return severity
        return Severity.MINOR

    @property
    def certainty(self) -> Certainty:
        """CAP certainty by the probability."""
        return Certainty.LIKELY if self.probability > LIKELY_PROBABILITY else Certainty.POSSIBLE


def cold_spells(
    exposure: Exposure,
    air_temperature: NDArray[np.float64],
    critical: CriticalTemperature,
    settings: RuleSettings,
    *,
    lingering: bool = False,
    lead: timedelta = timedelta(0),
) -> tuple[ColdSpell, ...]:
    """Return the cold spells that an exposure holds for a critical temperature.

    An hour is threatened where at least the closing probability of the realizations has passed the
    critical temperature. Threatened hours closer together than the rule's gap are one spell. A spell
    counts when the share of realizations that pass the critical temperature within it reaches the
    rule's opening probability; for an alert that is already open (`lingering`), when it reaches the
    closing probability with the hysteresis added to the critical temperature.

    Parameters
    ----------
    exposure : Exposure
        Temperature [°C], shape (n_realizations, n_times).
    air_temperature : numpy.ndarray
        [°C] Same shape; what people are told.
    critical : CriticalTemperature
        What the tissue stands.
    settings : RuleSettings
        Margin, hysteresis, probabilities, gap.
    lingering : bool
        Judge as for an alert that is open already.
    lead : timedelta
        The lowest air of a spell is sought so long before it, too: a tissue that follows the air slowly.

    Returns
    -------
    tuple of ColdSpell
        In order of onset.
    """
    level = critical.temperature + settings.margin + (settings.hysteresis if lingering else 0.0)
    needed = settings.probability_close if lingering else settings.probability_open
    passed = exposure.temperature <= level if critical.at_or_below else exposure.temperature < level
    hourly = _share(passed, exposure.temperature)
    threatened = np.flatnonzero(hourly >= settings.probability_close)
    if threatened.size == 0:
        return ()
    steps = np.diff(exposure.times[threatened]) > np.timedelta64(settings.spell_gap)
    spells = []
    for hours in np.split(threatened, np.flatnonzero(steps) + 1):
        span = slice(hours[0], hours[-1] + 1)
        early = int(np.searchsorted(exposure.times, exposure.times[hours[0]] - np.timedelta64(lead)))
        spell = _spell(exposure, air_temperature[:, early : span.stop], critical, passed, span, needed)
        if spell is not None:
            spells.append(spell)
    return tuple(spells)


def _spell(
    exposure: Exposure,
    air_temperature: NDArray[np.float64],
    critical: CriticalTemperature,
    passed: NDArray[np.bool_],
    span: slice,
    needed: float,
) -> ColdSpell | None:
    """Return the spell of one span of hours, or None if too few realizations pass."""
    known = ~np.all(np.isnan(exposure.temperature[:, span]), axis=1)
    crossing = passed[known, span]
    crosses = crossing.any(axis=1)
    probability = float(crosses.mean())
    if probability < needed:
        return None
    first = np.where(crosses, crossing.argmax(axis=1), crossing.shape[1])
    rank = min(int(np.ceil(needed * first.size)), int(np.count_nonzero(crosses))) - 1
    onset = span.start + int(np.sort(first)[rank])
    lowest_air = np.nanmin(air_temperature[known], axis=1)
    lowest_exposure = np.nanmin(exposure.temperature[known, span], axis=1)
    low, middle, high = np.percentile(lowest_air, [_LOW_PERCENTILE, 50.0, _HIGH_PERCENTILE])
    return ColdSpell(
        onset=from_datetime64(exposure.times[onset]),
        end=from_datetime64(exposure.times[span.stop - 1]),
        probability=probability,
        minimum=float(middle),
        minimum_low=float(low),
        minimum_high=float(high),
        margin=float(np.median(lowest_exposure)) - critical.temperature,
    )


def _share(passed: NDArray[np.bool_], temperature: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the hourly share of known realizations that pass; 0 where none is known."""
    known = np.count_nonzero(~np.isnan(temperature), axis=0)
    share: NDArray[np.float64] = np.count_nonzero(passed, axis=0) / np.maximum(known, 1)
    return share
