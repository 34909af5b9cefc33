"""An invented garden, its weather night by night, and somebody who keeps the daemon's memory for it.

The place is Philadelphia's latitude in New York time, so that local times are easy to read: in January
local time is UTC - 5 h, the sun is up from about 07:20 to 17:00.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from alertd.alerts import Alert, Decision, Garden, State, decide, report_declined, report_done
from alertd.core import TemperatureUnit
from alertd.hardiness import BUILT_IN_CLASSES
from alertd.plan import Schedule, Task, Work, agenda, effort, task_by
from alertd.risk import Rules, RuleSettings
from alertd.site import Condition, Growing, MonthDay, Protection, Site, TreeGroup, WorkHours
from alertd.weather import Forecast, Series

NEW_YORK = ZoneInfo("America/New_York")

#: The rectangular night of `nights`: local hours from the first to before the last.
NIGHT_BEGINS, NIGHT_ENDS = 22, 7

_SITE = Site(
    name="Hillside",
    latitude=40.0,
    longitude=-75.0,
    elevation=60.0,
    time_zone=NEW_YORK,
    contact="keeper@example.org",
    last_freeze=MonthDay(4, 25),
)

#: Five fig trees in 40 L pots that go into store; roots stand 15 °F (-9.4 °C), wood 10 °F (-12.2 °C).
POTS = TreeGroup(
    group_id="pots",
    name="the patio pots",
    growing=Growing.CONTAINER,
    count=5,
    species="figs",
    hardiness_class="fig",
    protection=Protection.STORE,
    container_volume=40.0,
)

#: Three figs in the ground that are wrapped; wood stands 10 °F (-12.2 °C).
FIGS = TreeGroup(
    group_id="figs",
    name="the south figs",
    growing=Growing.IN_GROUND,
    count=3,
    species="figs",
    hardiness_class="fig",
    protection=Protection.WRAP,
)

_SPRING = RuleSettings(horizon=timedelta(hours=120))

#: Judging by the air only: what models say is a matter of its own tests, which let them speak.
_SILENT = RuleSettings(enabled=False)

_RULES = Rules(
    container_roots=RuleSettings(),
    wood=RuleSettings(),
    spring_frost=RuleSettings(),
    uncover=_SPRING,
    bring_out=_SPRING,
    container_threshold=(15.0 - 32.0) / 1.8,
    credits={"wrap": 5.0 / 1.8, "cluster": 1.0},
    root_zone=_SILENT,
    wood_temperature=_SILENT,
    bud_temperature=_SILENT,
    store_room=_SILENT,
)


def make_site(**changes: object) -> Site:
    """Return the site with some fields changed."""
    return replace(_SITE, **changes)


def make_rules(**changes: object) -> Rules:
    """Return the rules with some fields changed."""
    return replace(_RULES, **changes)


def make_garden(*groups: TreeGroup, **changes: object) -> Garden:
    """Return a garden of the groups, forecasts taken as exact unless said otherwise."""
    garden = Garden(
        site=_SITE,
        units=TemperatureUnit.CELSIUS,
        work=WorkHours(),
        groups=groups or (FIGS,),
        classes={each.name: each for each in BUILT_IN_CLASSES},
        rules=_RULES,
        stale_after=timedelta(hours=12),
        is_exact=True,
    )
    return replace(garden, **changes)


def local(text: str, zone: ZoneInfo = NEW_YORK) -> datetime:
    """Return the instant of a local time like ``2026-01-22 15:10``, UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=zone).astimezone(UTC)


def make_series(start: datetime, air_temperature, step: timedelta = timedelta(hours=1)) -> Series:
    """Return values [°C] from `start` on; a flat list is one realization."""
    values = np.atleast_2d(np.array(air_temperature, dtype=np.float64))
    first = np.datetime64(start.astimezone(UTC).replace(tzinfo=None), "s")
    times = first + np.arange(values.shape[1]) * np.timedelta64(int(step.total_seconds()), "s")
    return Series(times, {"air_temperature": values})


def make_forecast(made: datetime, series: Series, source: str = "north") -> Forecast:
    """Return a forecast that was made and read at `made`."""
    return Forecast(source, made, made, series, credits=f"Data: {source}.example.org")


def nights(first: date, lows: list[float], by_day: float = 6.0, zone: ZoneInfo = NEW_YORK) -> Series:
    """Return weather with one low [°C] for each night from the evening of `first` on.

    From 22:00 to 06:00 local time the air has the night's low, otherwise `by_day`; the first value is that
    of local midnight at the beginning of `first`, and the last night is followed by a day.
    """
    start = datetime.combine(first, time(0), tzinfo=zone).astimezone(UTC)
    hours = 24 * (len(lows) + 1)
    values = []
    for hour in range(hours):
        clock = (start + timedelta(hours=hour)).astimezone(zone)
        evening = clock.date() if clock.hour >= NIGHT_BEGINS else clock.date() - timedelta(days=1)
        place = (evening - first).days
        is_night = clock.hour >= NIGHT_BEGINS or clock.hour < NIGHT_ENDS
        values.append(lows[place] if is_night and 0 <= place < len(lows) else by_day)
    return make_series(start, values)


@dataclass
class Keeper:
    """Somebody who looks, keeps what is remembered, and reports."""

    garden: Garden
    conditions: dict[str, Condition] = field(default_factory=dict)
    alerts: dict[str, Alert] = field(default_factory=dict)

    @property
    def state(self) -> State:
        """What is remembered."""
        return State(dict(self.conditions), tuple(self.alerts.values()))

    @property
    def open_alerts(self) -> list[Alert]:
        """Alerts that have not ended."""
        return [alert for alert in self.alerts.values() if alert.is_open]

    def the_alert(self) -> Alert:
        """Return the only alert there is."""
        (alert,) = self.alerts.values()
        return alert

    def look(self, now: datetime, *weather: Series | Forecast, failures=()) -> Decision:
        """Judge once and remember; plain weather is a forecast made now."""
        forecasts = [
            each if isinstance(each, Forecast) else make_forecast(now, each, f"source {place}")
            for place, each in enumerate(weather, start=1)
        ]
        decision = decide(now, self.garden, forecasts, failures, self.state)
        self.alerts |= {alert.alert_id: alert for alert in decision.changed_alerts}
        return decision

    def kinds(self, now: datetime, *weather: Series | Forecast) -> list[str]:
        """Judge once and return the kinds of the notices."""
        return [notice.kind.value for notice in self.look(now, *weather).notices]

    def done(self, alert_id: str, now: datetime, *, declined: bool = False) -> None:
        """Report an alert's task done, or *not this time*."""
        alert = self.alerts[alert_id]
        condition = self.conditions.get(alert.group, Condition()).in_season(self.garden.site, now)
        report = (report_declined if declined else report_done)(alert, condition, now)
        self.alerts[alert_id] = report.transition.after
        self.conditions[alert.group] = report.condition

    def mark(self, group_id: str, now: datetime, **marks: object) -> None:
        """Report how a group stands: ``cover`` or ``stage``."""
        current = self.conditions.get(group_id, Condition()).in_season(self.garden.site, now)
        since = {f"{name}_since": now for name in marks}
        self.conditions[group_id] = replace(current, **marks, **since)


def schedule(site: Site, work: WorkHours, now: datetime, deadline: datetime, needed: timedelta) -> Schedule:
    """Return when a crew must begin work that is all it has to do."""
    return agenda(site, work, now, [Work("all", deadline, needed)])[0]


def task_before(site, work, group, action, now, deadline, *, expects_ice) -> Task:
    """Return the task of an action that must be done before a deadline, and is all the crew has to do."""
    plan = schedule(site, work, now, deadline, effort(group, action, work.people))
    return task_by(work, group, action, plan, expects_ice=expects_ice)
