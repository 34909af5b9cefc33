"""From the checked document to what the rest of the program works with."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from alertd.alerts import Garden
from alertd.core import TemperatureUnit, celsius, celsius_difference
from alertd.hardiness import BUILT_IN_CLASSES, HardinessClass
from alertd.risk import Rules, RuleSettings
from alertd.site import Growing, Protection, Site, TreeGroup, WorkHours
from alertd.store import Retention

from .loaded import DeliverySettings, Polling, Recipient
from .quantities import length_of_time, month_day, quiet_hours, time_of_day, time_zone
from .standing import cover_build, mulch_build, place_of, pot_standing, store_room
from .temperatures import DEFAULT_CONTAINER_THRESHOLD, DEFAULT_CREDITS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from .document import Document
    from .garden_sections import ClassSection, GroupSection, RuleSection, RulesSection, SiteSection, WorkSection

#: What own values are called in the record when their owner does not say where they come from.
OWN_VALUE = "own value"

#: Where the system keeps the configuration of alertd, and its state. Source: Filesystem Hierarchy Standard 3.0.
SYSTEM_CONFIGURATION = Path("/etc/alertd")
SYSTEM_STATE = Path("/var/lib/alertd")

_DATABASE = "alertd.sqlite"


def build_garden(document: Document) -> Garden:
    """Return the garden that a document describes, in °C.

    Parameters
    ----------
    document : Document
        Checked.

    Returns
    -------
    Garden
        For the pure core.
    """
    return Garden(
        site=_site(document.site),
        units=document.units,
        work=_work(document.work),
        groups=tuple(_group(section, document.units) for section in document.groups),
        classes=build_classes(document),
        rules=_rules(document.rules, document.units),
        stale_after=length_of_time(document.polling.stale_after),
    )


def build_recipients(document: Document) -> tuple[Recipient, ...]:
    """Return the people of a document, each with the groups that they are told about.

    Parameters
    ----------
    document : Document
        Checked.

    Returns
    -------
    tuple of Recipient
        In the order of the file.
    """
    ids = [group.id for group in document.groups]
    return tuple(
        Recipient(
            name=section.name,
            channels=tuple(section.channels),
            groups=tuple(each for each in ids if section.groups is None or each in section.groups),
            quiet_hours=None if section.quiet_hours is None else quiet_hours(section.quiet_hours),
            digest=None if section.digest is None else time_of_day(section.digest),
            digest_when_calm=section.digest_when_calm,
            escalates_to=section.escalate_to or "",
        )
        for section in document.recipients
    )


def build_polling(document: Document) -> Polling:
    """Return how often to look."""
    section = document.polling
    return Polling(
        every=length_of_time(section.every),
        stale_after=length_of_time(section.stale_after),
        request_deadline=length_of_time(section.request_deadline),
        proxies_from_environment=section.proxies_from_environment,
        non_commercial=section.non_commercial,
    )


def build_delivery(document: Document) -> DeliverySettings:
    """Return how hard to try."""
    section = document.delivery
    return DeliverySettings(
        deadline=length_of_time(section.deadline),
        first_retry=length_of_time(section.first_retry),
        max_retry=length_of_time(section.max_retry),
        max_tries=section.max_tries,
        give_up_after=length_of_time(section.give_up_after),
    )


def build_retention(document: Document) -> Retention:
    """Return how long to remember."""
    section = document.state
    return Retention(
        letters=length_of_time(section.keep_letters),
        alerts=length_of_time(section.keep_alerts),
        observations=length_of_time(section.keep_observations),
        answers=length_of_time(section.keep_answers),
        record=None if section.keep_record is None else length_of_time(section.keep_record),
    )


def database_path(document: Document, base: Path, environ: Mapping[str, str]) -> Path:
    """Return where the database is.

    Parameters
    ----------
    document : Document
        Checked.
    base : Path
        Directory of the configuration file.
    environ : mapping of str to str
        ``STATE_DIRECTORY`` is where systemd lets a service keep its state; of several, the first counts.

    Returns
    -------
    Path
        As the configuration says, else in the state directory, else in that of the system if the configuration is
        the system's, so that a person's commands and the service mean the same one; else beside the configuration.
    """
    if document.state.database is not None:
        return base / document.state.database
    given = environ.get("STATE_DIRECTORY", "").partition(":")[0]
    if given:
        return Path(given) / _DATABASE
    return (SYSTEM_STATE if base == SYSTEM_CONFIGURATION else base) / _DATABASE


def _site(section: SiteSection) -> Site:
    return Site(
        name=section.name,
        latitude=section.latitude,
        longitude=section.longitude,
        elevation=section.elevation_m,
        time_zone=time_zone(section.time_zone),
        contact=section.contact,
        last_freeze=month_day(section.last_freeze),
    )


def _work(section: WorkSection) -> WorkHours:
    return WorkHours(
        earliest=time_of_day(section.earliest),
        latest=time_of_day(section.latest),
        daylight_only=section.daylight_only,
        people=section.people,
        reminder_before=length_of_time(section.reminder_before),
    )


def _group(section: GroupSection, unit: TemperatureUnit) -> TreeGroup:
    return TreeGroup(
        group_id=section.id,
        name=section.name,
        growing=Growing(section.growing),
        count=section.count,
        species=section.species,
        hardiness_class=section.class_,
        protection=Protection(section.protection),
        container_volume=section.litres,
        minutes_per_tree=section.minutes_per_tree,
        notes=section.notes,
        pot=pot_standing(section.pot),
        cover_build=cover_build(section.cover, unit),
        mulch_build=mulch_build(section.mulch),
        place=place_of(section.place, unit),
        store_room=store_room(section.store, unit),
        parameters=tuple(sorted(section.measured.items())),
    )


def build_classes(document: Document) -> dict[str, HardinessClass]:
    """Return the built-in classes with a document's own ones and its changes.

    Parameters
    ----------
    document : Document
        Checked.

    Returns
    -------
    dict of str to HardinessClass
        By name, in °C.

    Raises
    ------
    ValueError
        If an own class lacks a temperature that it needs.
    """
    classes = {built.name: built for built in BUILT_IN_CLASSES}
    for name, section in document.classes.items():
        classes[name] = _class(name, section, document.units, classes.get(name))
    return classes


def _class(name: str, section: ClassSection, unit: TemperatureUnit, under: HardinessClass | None) -> HardinessClass:
    def chosen(value: float | None, built_in: float | None) -> float | None:
        return built_in if value is None else celsius(value, unit)

    wood = chosen(section.wood, under.wood if under else None)
    spring_limit = chosen(section.spring_limit, under.spring_limit if under else None)
    if wood is None or spring_limit is None:
        message = f"class {name!r} has no wood temperature or no spring limit [°C]"
        raise ValueError(message)
    return HardinessClass(
        name=name,
        wood=wood,
        roots=chosen(section.roots, under.roots if under else None),
        spring_limit=spring_limit,
        provenance=_provenance(section, under),
        root_zone=chosen(section.root_zone, under.root_zone if under else None),
    )


def _provenance(section: ClassSection, under: HardinessClass | None) -> str:
    if under is None:
        return section.provenance or OWN_VALUE
    changed = [key for key in ("wood", "roots", "root_zone", "spring_limit") if getattr(section, key) is not None]
    if not changed:
        return section.provenance or under.provenance
    return f"{' and '.join(changed)}: {section.provenance or OWN_VALUE}. Otherwise as built in: {under.provenance}"


def _rules(section: RulesSection, unit: TemperatureUnit) -> Rules:
    given = section.container_roots.threshold
    credits_given = section.credits.model_dump(exclude_none=True)
    return Rules(
        container_roots=_rule(section.container_roots, unit),
        wood=_rule(section.wood, unit),
        spring_frost=_rule(section.spring_frost, unit),
        root_zone=_rule(section.root_zone, unit),
        wood_temperature=_rule(section.wood_temperature, unit),
        bud_temperature=_rule(section.bud_temperature, unit),
        store_room=_rule(section.store_room, unit),
        root_share=section.root_zone.share,
        uncover=_rule(section.uncover, unit),
        bring_out=_rule(section.bring_out, unit),
        container_threshold=DEFAULT_CONTAINER_THRESHOLD if given is None else celsius(given, unit),
        credits=DEFAULT_CREDITS | {name: celsius_difference(value, unit) for name, value in credits_given.items()},
    )


def _rule(section: RuleSection, unit: TemperatureUnit) -> RuleSettings:
    built_in = RuleSettings()
    margin, hysteresis = section.margin, section.hysteresis
    return RuleSettings(
        enabled=section.enabled,
        margin=built_in.margin if margin is None else celsius_difference(margin, unit),
        hysteresis=built_in.hysteresis if hysteresis is None else celsius_difference(hysteresis, unit),
        horizon=length_of_time(section.horizon),
        probability_open=section.probability_open,
        probability_close=section.probability_close,
        spell_gap=length_of_time(section.spell_gap),
    )
