"""What models of root balls, wood, covers and store rooms say, in sentences for a letter."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from alertd.core import from_datetime64, in_unit, temperature_text, threshold_text, to_datetime64
from alertd.plan import Action
from alertd.risk import LAG, cold_thresholds
from alertd.site import Condition, Cover, Protection
from alertd.thermal import Model, Tissue
from alertd.thermal.lowest import Lowest, lowest_median, lowest_of, median_at
from alertd.thermal.pots import UNKNOWN_VOLUME
from alertd.thermal.sun import solar_position

from .when import when_text
from .wording import sentence

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from alertd.alerts import Garden, Notice
    from alertd.risk import Threshold
    from alertd.site import TreeGroup
    from alertd.thermal import Felt

#: Shares of a root ball that have a word.
_SHARES = {0.5: "half", 0.33: "third", 0.25: "quarter", 0.2: "fifth", 0.1: "tenth"}

#: What people call the weather that a source may not tell.
_WEATHER_WORDS = {
    "dew_point_temperature": "the humidity",
    "wind_speed": "the wind",
    "cloud_area_fraction": "the clouds",
    "precipitation_amount": "rain and snowfall",
    "surface_snow_thickness": "the snow",
}

#: [K] Differences of temperature below this are none for people. Assumed: half of the step in which they read.
_NO_DIFFERENCE = 0.5

#: [°C] A core that is no colder stays where it is for as long as its water freezes: that of root balls does so down to
#: here. Derived: the freezing point and the width of freezing that the model of root balls assumes.
_STILL_FREEZES = -0.7

#: [K] What a number adds to the uncertainty is worth a word from here on. Assumed.
_WORTH_A_WORD = 0.25

#: The second number is named only if it matters at least this much as the first. Assumed.
_MATTERS_TOO = 0.5

_ASSUMPTIONS_TOLD = 2

#: [1] A model's own uncertainty may decide whether there is harm where the limit lies within so many standard
#: deviations of the lowest: 90 % of the normal distribution lie within them (from memory).
_MAY_DECIDE = 1.645

#: [degrees] The sun is below the horizon, its disc and the bend of its light counted. By convention of almanacs.
_SUN_IS_DOWN = -0.833

#: What people call what covers the wood.
_COVERS = {Model.WRAPPED_WOOD: "the cover", Model.MULCHED_STEMS: "the mulch"}

#: Models of root balls, outside and in store.
_OF_POTS = {Model.ROOT_BALL, Model.STORE_ROOM}

#: Actions for groups whose protection is in place.
_IN_PLACE = {Action.REINFORCE, Action.COVER_IN_STORE}


@dataclass(frozen=True, slots=True)
class _Said:
    """One model of a matter, and how cold it has the tissue in that matter's time."""

    threshold: Threshold
    felt: Felt
    lowest: Lowest
    start: np.datetime64
    end: np.datetime64

    @property
    def limit(self) -> float:
        """[°C] What the tissue stands."""
        return self.threshold.critical.temperature


def felt_text(notice: Notice, garden: Garden, now: datetime) -> str:
    """Return what models say of a matter of cold, in a few sentences.

    Parameters
    ----------
    notice : Notice
        The facts.
    garden : Garden
        Units, local time, the share of a root ball that may be lost.
    now : datetime
        Aware.

    Returns
    -------
    str
        Empty if no model has anything to say.
    """
    group = next((each for each in garden.groups if each.group_id == notice.alert.group), None)
    if group is None:
        return ""
    writer = _Writer(notice, garden, now, group)
    heard = writer.heard()
    parts = [sentence(f"{'' if place else 'by the model '}{writer.said_of(said)}.") for place, said in enumerate(heard)]
    parts += [
        writer.size(heard),
        writer.assumptions(heard),
        missing_text(name for said in heard for name in said.felt.missing),
    ]
    parts += dict.fromkeys(remark for said in heard for remark in said.felt.remarks)
    return " ".join(part for part in parts if part)


def air_rule_text(notice: Notice, garden: Garden) -> str:
    """Return what the rule that judges the air for the same tissue says, where one speaks that judges by a model.

    Parameters
    ----------
    notice : Notice
        The facts.
    garden : Garden
        Rules and classes.

    Returns
    -------
    str
        A sentence; empty where a rule of the air speaks itself, or none applies.
    """
    threshold, told, task = notice.threshold, notice.alert.announced, notice.task
    if threshold is None or threshold.felt is None or task is None or told.minimum is None or told.minimum_low is None:
        return ""
    condition = Condition(cover=Cover.IN_PLACE if task.action in _IN_PLACE else Cover.OFF)
    tissue, group = threshold.critical.tissue, task.group
    hardiness_class, growing = garden.classes[group.hardiness_class], tissue is Tissue.GROWTH
    for beside in cold_thresholds(group, condition, hardiness_class, garden.rules, growing=growing):
        if beside.critical.tissue is tissue:
            limit = beside.critical.temperature - beside.gain
            too = "too, " if told.minimum < limit else ""
            only = " only" if told.minimum_low > limit else ""
            at = threshold_text(limit, garden.units)
            return f"The rule {beside.rule.value}, which judges the air, speaks {too}at {at}{only}."
    return ""


def missing_text(names: Iterable[str]) -> str:
    """Return which weather no source tells.

    Parameters
    ----------
    names : iterable of str
        CF names, each possibly several times.

    Returns
    -------
    str
        A sentence; empty for none.
    """
    words = [_WEATHER_WORDS.get(name, "the " + name.replace("_", " ")) for name in dict.fromkeys(names)]
    return f"No source tells {_list_text(words, 'or')}: assumed." if words else ""


def share_text(share: float) -> tuple[str, bool]:
    """Return a share of a root ball in words, and whether they are a singular noun.

    Parameters
    ----------
    share : float
        0 to 1.

    Returns
    -------
    tuple of (str, bool)
        Like ``fifth``; else in percent.
    """
    word = _SHARES.get(round(share, 2))
    return (f"{100.0 * share:.3g} %", False) if word is None else (word, True)


def _list_text(words: Sequence[str], conjunction: str) -> str:
    """Return words as a list that reads well."""
    *first, last = words
    return f"{', '.join(first)} {conjunction} {last}" if first else last


@dataclass(frozen=True, slots=True)
class _Writer:
    """Finds the words for one matter."""

    notice: Notice
    garden: Garden
    now: datetime
    group: TreeGroup

    def heard(self) -> list[_Said]:
        """Return the models that have something to say: that of the tissue that raised the alert, and what threatens.

        Of two rules that judge by one model, the first is enough.
        """
        raised = None if self.notice.threshold is None else self.notice.threshold.critical.tissue
        foremost = sorted(self.notice.models, key=lambda each: each.critical.tissue is not raised)
        heard: dict[Model, _Said] = {}
        for threshold in foremost:
            said = self._said(threshold)
            if said is None or said.felt.model in heard:
                continue
            if threshold.critical.tissue is raised or not self._is_above(said):
                heard[said.felt.model] = said
        return list(heard.values())

    def _said(self, threshold: Threshold) -> _Said | None:
        """Return how cold a model has the tissue in the matter's time."""
        felt, told = threshold.felt, self.notice.latest or self.notice.alert.announced
        if felt is None or told.onset is None:
            return None
        end = max(self.notice.alert.end or told.onset, told.end or told.onset)
        start, last = told.onset - LAG, end + LAG
        exposure = felt.exposure.window(start, last)
        lowest = lowest_of(exposure)
        if lowest is None:
            return None
        return _Said(threshold, felt, lowest, to_datetime64(start), to_datetime64(last))

    def degrees(self, temperature: float) -> str:
        """Return a temperature in the reader's unit."""
        return temperature_text(temperature, self.garden.units)

    def floor(self, said: _Said) -> str:
        """Return the temperature above which a tissue all but surely stays, in whole degrees of the reader."""
        return f"{math.floor(in_unit(said.lowest.low, self.garden.units))} {self.garden.units.symbol}"

    def _is_above(self, said: _Said) -> bool:
        """Return whether a tissue all but surely stays clear of what it stands, as far as people read it."""
        units = self.garden.units
        return math.floor(in_unit(said.lowest.low, units)) > in_unit(said.limit, units)

    def at(self, time: np.datetime64) -> str:
        """Return a time as people say it."""
        return when_text(from_datetime64(time), self.now, self.garden.site)

    def reached(self, said: _Said) -> str:
        """Return the lowest temperature with its range."""
        low, high = self.degrees(said.lowest.low), self.degrees(said.lowest.high)
        spread = "" if low == high else f" ({low.split()[0]} to {high})"
        return f"{self.degrees(said.lowest.temperature)}{spread}"

    def said_of(self, said: _Said) -> str:
        """Return what one model says, without its full stop."""
        model = said.felt.model
        if model is Model.ROOT_BALL:
            text = self._root_ball(said)
        elif model is Model.STORE_ROOM:
            text = self._store_room(said)
        elif model in _COVERS:
            text = self._under_cover(said)
        else:
            text = self._wood(said)
        return f"{text}{self._harm(said)}"

    def _harm(self, said: _Said) -> str:
        """Return from where on the tissue is hurt."""
        limit = threshold_text(said.limit, self.garden.units)
        if said.threshold.critical.tissue is Tissue.ROOTS:
            return f"; roots may die below {limit}"
        return f"; damage begins {'at' if said.threshold.critical.at_or_below else 'below'} {limit}"

    def _root_ball(self, said: _Said) -> str:
        """Return how cold root balls get."""
        balls = "the root ball" if self.group.count == 1 else "the root balls"
        if said.felt.is_bound:
            return f"{balls} {'stays' if self.group.count == 1 else 'stay'} above {self.floor(said)}"
        share, is_one = share_text(self.garden.rules.root_share)
        subject = f"the coldest {share} of {balls}"
        if self._is_above(said):
            return f"{subject} {'stays' if is_one else 'stay'} above {self.floor(said)}"
        when = self.at(said.lowest.time)
        return f"{subject} {'reaches' if is_one else 'reach'} {self.reached(said)} by {when}{self._core(said)}"

    def _core(self, said: _Said) -> str:
        """Return how cold the middle of a root ball gets."""
        core = lowest_median(said.felt, "core", said.start, said.end)
        if core is None:
            return ""
        if core[0] < said.limit:
            return f", even the core {self.degrees(core[0])}"
        stays = "stays at" if core[0] >= _STILL_FREEZES else "gets no colder than"
        return f", while the core {stays} {self.degrees(core[0])}"

    def _store_room(self, said: _Said) -> str:
        """Return how cold a store and the roots in it get."""
        room = lowest_median(said.felt, "air", said.start, said.end)
        if self._is_above(said):
            return f"the roots in store stay above {self.floor(said)}"
        roots = f"{self.reached(said)} by {self.at(said.lowest.time)}"
        if room is None or abs(room[0] - said.lowest.temperature) < _NO_DIFFERENCE:
            return f"the room reaches {roots}"
        return f"the room reaches {self.degrees(room[0])} by {self.at(room[1])}, and the roots in it {roots}"

    def _wood(self, said: _Said) -> str:
        """Return how cold bare wood gets, in terms of the air that would make it so cold."""
        is_wood = said.threshold.critical.tissue is Tissue.WOOD
        subject, get, it = ("the wood", "gets", "it") if is_wood else ("shoots and buds", "get", "them")
        if self._is_above(said):
            return f"{subject} {get} no colder than air of {self.floor(said)} would make {it}"
        as_air, by = f"air of {self.reached(said)}", f"by {self.at(said.lowest.time)}"
        difference = said.lowest.temperature - self._air(said)
        if difference <= -_NO_DIFFERENCE:
            then = " on this calm clear night" if self._is_night(said.lowest.time) else ""
            return f"{subject} {get} as cold{then} as {as_air} would make {it}, {by}"
        if difference >= _NO_DIFFERENCE:
            wall = "the warm wall, " if self.group.place.wall_view > 0.0 else ""
            return f"{wall}wind and cloud keep {subject} as warm as {as_air} would, {by}"
        return f"{subject} {get} as cold as the air, {self.reached(said)}, {by}"

    def _is_night(self, time: np.datetime64) -> bool:
        """Return whether the sun is down at the site."""
        site = self.garden.site
        return bool(solar_position(np.array([time]), site.latitude, site.longitude).elevation[0] < _SUN_IS_DOWN)

    def _under_cover(self, said: _Said) -> str:
        """Return how cold covered wood gets, in the same terms, and what its cover gains."""
        is_wood = said.threshold.critical.tissue is Tissue.WOOD
        subject, get, it = ("the wood", "gets", "it") if is_wood else ("shoots and buds", "get", "them")
        cover = _COVERS[said.felt.model]
        under = "in" if self.group.protection is Protection.MULCH_RING else "under"
        if self._is_above(said):
            return f"{subject} {under} {cover} {get} no colder than air of {self.floor(said)} would make {it}"
        gain, by = self._gain(said, cover), self.at(said.lowest.time)
        return f"{gain}{subject} {under} {cover} {get} as cold as air of {self.reached(said)} would make {it}, by {by}"

    def _air(self, said: _Said) -> float:
        """Return the lowest air of the matter [°C]."""
        told = self.notice.latest or self.notice.alert.announced
        return said.lowest.temperature if told.minimum is None else told.minimum

    def _gain(self, said: _Said, cover: str) -> str:
        """Return what a cover gains when it is coldest."""
        gain = median_at(said.felt, "gain", said.lowest.time)
        if gain is None:
            return ""
        whole = round(in_unit(gain, self.garden.units) - in_unit(0.0, self.garden.units))
        gained = f"{whole} {self.garden.units.symbol}" if whole > 0 else "nothing"
        return f"{cover} gains {gained}, and "

    def assumptions(self, heard: Iterable[_Said]) -> str:
        """Return which numbers that nobody measured matter most, where they decide whether there is harm."""
        for said in heard:
            used = [each for each in said.felt.assumed if each.share >= _WORTH_A_WORD]
            used = [each for each in used if each.share >= _MATTERS_TOO * used[0].share][:_ASSUMPTIONS_TOLD]
            if used and abs(said.lowest.temperature - said.limit) <= _MAY_DECIDE * said.felt.spread:
                meanings = [each.parameter.meaning.partition(",")[0] for each in used]
                return f"Assumed, not measured, and it may decide: {_list_text(meanings, 'and')}."
        return ""

    def size(self, heard: Iterable[_Said]) -> str:
        """Return how large pots are taken to be of which nobody said it, where root balls are told of."""
        pot = self.group.pot
        is_known = (self.group.container_volume, pot.top_diameter, pot.height) != (None, None, None)
        if is_known or all(said.felt.model not in _OF_POTS for said in heard):
            return ""
        pots = "the pot is" if self.group.count == 1 else "the pots are"
        return f"Nobody said how large {pots}: taken to hold {UNKNOWN_VOLUME:g} litres."
