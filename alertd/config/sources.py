"""From source sections to sources: what each kind needs, which are chosen by position, and how they are made."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from random import SystemRandom
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from alertd import __version__
from alertd.site import MonthDay, Site
from alertd.sources import (
    Fetcher,
    FetchSettings,
    FileSource,
    MemoryAnswers,
    MetNorwaySource,
    MosmixSource,
    NwsAlertSource,
    NwsObservationSource,
    NwsSource,
    OpenMeteoEnsembleSource,
    OpenMeteoSource,
    PointSource,
    WarnedSource,
)

from .channels import credential_directories, read_credential
from .loaded import SourceSpec

if TYPE_CHECKING:
    from collections.abc import Mapping

    from alertd.sources import AnswerStore, Source

    from .findings import Draft, Findings
    from .loaded import Loaded

_OPEN_METEO = ("open_meteo", "open_meteo_ensemble")

#: Keys that mean something for some kinds only.
_KINDS_OF_KEY = {
    "path": ("file",),
    "station": ("mosmix",),
    "base_url": ("nws", "met_norway", *_OPEN_METEO, "mosmix"),
    "status_url": _OPEN_METEO,
    "model": _OPEN_METEO,
    "days": _OPEN_METEO,
    "non_commercial": _OPEN_METEO,
    "api_key": _OPEN_METEO,
}

#: Keys that a kind cannot do without.
_NEEDED = {"file": "path", "mosmix": "station"}

#: Services that want to know whom they may write to.
_WANT_CONTACT = ("nws", "met_norway")

#: Boxes [degrees: south, north, west, east] of the United States: contiguous states, Alaska, Hawaii, Puerto Rico. Where
#: a box holds another country too, the service answers that it does not cover the place, and the second source stands.
_UNITED_STATES = (
    (24.4, 49.4, -125.0, -66.9),
    (51.0, 71.5, -180.0, -129.9),
    (18.5, 22.5, -160.6, -154.5),
    (17.5, 18.6, -67.5, -65.1),
)

#: Box of Europe with the Nordic countries, in which MET Norway's models are at home.
_EUROPE = (34.0, 72.0, -25.0, 45.0)


#: A place for trying whether a source can be made; nothing is asked for it.
_ANYWHERE = Site("anywhere", 0.0, 0.0, 0.0, ZoneInfo("UTC"), "", MonthDay(5, 1))


def default_source_kinds(latitude: float, longitude: float) -> tuple[str, ...]:
    """Return which sources are used where the configuration names none.

    Parameters
    ----------
    latitude, longitude : float
        [degrees north, degrees east]

    Returns
    -------
    tuple of str
        Two kinds, so that a stale one is noticed; the first is the one at home there.

    Examples
    --------
    >>> default_source_kinds(41.2, -75.9)
    ('nws', 'open_meteo')
    """
    if any(_is_within(box, latitude, longitude) for box in _UNITED_STATES):
        return ("nws", "open_meteo")
    if _is_within(_EUROPE, latitude, longitude):
        return ("met_norway", "open_meteo")
    return ("open_meteo", "met_norway")


def _is_within(box: tuple[float, float, float, float], latitude: float, longitude: float) -> bool:
    south, north, west, east = box
    return south <= latitude <= north and west <= longitude <= east


def source_specs(draft: Draft, base: Path, environ: Mapping[str, str], findings: Findings) -> tuple[SourceSpec, ...]:
    """Return the sources that can be used, and note what is wrong with the others.

    Parameters
    ----------
    draft : Draft
        The configuration.
    base : Path
        Directory of the configuration file.
    environ : mapping of str to str
        Names the directory of credentials.
    findings : Findings
        Takes problems and warnings.

    Returns
    -------
    tuple of SourceSpec
        In the order of the file; where it names none, as the position suggests.
    """
    if not draft.raw.get("sources"):
        return _by_position(draft, findings)
    directories = credential_directories(draft.sound, base, environ)
    specs = []
    for position, section in draft.entries("sources"):
        path = ("sources", position)
        kind = section.get("kind")
        if kind is None or "name" not in section:
            continue
        _check_keys(path, kind, section, draft, findings)
        if kind in _WANT_CONTACT and not draft.has("site", "contact"):
            what = f"is missing, and {kind} wants to know whom it may write to"
            findings.refuse(("site", "contact"), what, "add a mail address")
        key = section.get("api_key")
        secret = None if key is None else read_credential(key, (*path, "api_key"), directories, findings)
        spec = _spec(section, base, secret)
        if _has_needed(section):
            _check_values(path, spec, findings)
        specs.append(spec)
    return tuple(specs)


def _check_values(path: tuple[str | int, ...], spec: SourceSpec, findings: Findings) -> None:
    """Note what the source itself refuses, like a model that its service does not have."""
    try:
        _source(spec, _ANYWHERE, Fetcher("alertd", MemoryAnswers()))
    except ValueError as error:
        findings.refuse(path, str(error), "compare it with the examples")


def _check_keys(
    path: tuple[str | int, ...], kind: str, section: Mapping[str, Any], draft: Draft, findings: Findings
) -> None:
    for key, kinds in _KINDS_OF_KEY.items():
        if section.get(key) is not None and kind not in kinds:
            findings.refuse((*path, key), f"means nothing for the kind {kind}", "remove it")
    needed = _NEEDED.get(kind, "kind")
    if not draft.has(*path, needed):
        findings.refuse((*path, needed), f"is missing, and the kind {kind} needs it", "add it")


def _has_needed(section: Mapping[str, Any]) -> bool:
    """Whether the key is there, with the right type, that the kind cannot do without."""
    return section.get(_NEEDED.get(section["kind"], "kind")) is not None


def _spec(section: Mapping[str, Any], base: Path, api_key: str | None) -> SourceSpec:
    given = section.get("path")
    return SourceSpec(
        name=section["name"],
        kind=section["kind"],
        weight=section.get("weight", 1.0),
        path=None if given is None else base / given,
        credits=section.get("credits"),
        base_url=section.get("base_url"),
        status_url=section.get("status_url"),
        model=section.get("model"),
        days=section.get("days"),
        non_commercial=bool(section.get("non_commercial")),
        api_key=api_key,
        station=section.get("station"),
    )


def _by_position(draft: Draft, findings: Findings) -> tuple[SourceSpec, ...]:
    latitude, longitude = draft.value(("site", "latitude"), None), draft.value(("site", "longitude"), None)
    if latitude is None or longitude is None:
        return ()
    has_contact = draft.has("site", "contact")
    is_non_commercial = bool(draft.value(("polling", "non_commercial"), default=False))
    specs = []
    for kind in default_source_kinds(latitude, longitude):
        if kind in _WANT_CONTACT and not has_contact:
            findings.warnings.append(f"sources: {kind} is left out, it wants a contact; add site.contact")
        elif kind in _OPEN_METEO and not is_non_commercial:
            what = f"sources: {kind} is left out, its free service is for non-commercial use"
            findings.warnings.append(f"{what}; set polling.non_commercial to true if yours is")
        else:
            specs.append(SourceSpec(name=kind, kind=kind, non_commercial=is_non_commercial))
    return tuple(specs)


@dataclass(frozen=True, slots=True)
class Services:
    """What a configuration asks, all by one fetcher, so that no host is asked twice at once.

    Parameters
    ----------
    sources : tuple of Source
        Of forecasts, in the order of the file.
    stations : NwsObservationSource or None
        Of public stations near the site.
    """

    sources: tuple[Source, ...]
    stations: NwsObservationSource | None


def build_services(loaded: Loaded, answers: AnswerStore) -> Services:
    """Return what a configuration asks; nothing is asked yet.

    Parameters
    ----------
    loaded : Loaded
        The configuration.
    answers : AnswerStore
        Keeps the last good answer of each service.

    Returns
    -------
    Services
        Sources of forecasts, and stations.
    """
    polling, site = loaded.polling, loaded.garden.site
    settings = FetchSettings(
        deadline=polling.request_deadline, proxies_from_environment=polling.proxies_from_environment
    )
    fetcher = Fetcher(f"alertd/{__version__} {site.contact}".rstrip(), answers, settings, random=SystemRandom())
    stations = None
    if loaded.observations.nearest_stations:
        base_url = next((spec.base_url for spec in loaded.sources if spec.kind == "nws"), None)
        points = PointSource(_STATIONS, site, fetcher, base_url=base_url)
        stations = NwsObservationSource(_STATIONS, site, fetcher, points, base_url=base_url)
    return Services(tuple(_source(spec, site, fetcher) for spec in loaded.sources), stations)


#: Name of the public stations in the log and in stored answers.
_STATIONS = "public stations"


def _source(spec: SourceSpec, site: Site, fetcher: Fetcher) -> Source:
    if spec.kind == "file":
        return FileSource(name=spec.name, path=spec.path or Path(), credits=spec.credits or "", weight=spec.weight)
    common: dict[str, Any] = {"base_url": spec.base_url, "credits": spec.credits, "weight": spec.weight}
    if spec.kind == "nws":
        forecasts = NwsSource(spec.name, site, fetcher, **common)
        return WarnedSource(forecasts, NwsAlertSource(spec.name, site, fetcher, base_url=spec.base_url))
    if spec.kind == "met_norway":
        return MetNorwaySource(spec.name, site, fetcher, **common)
    if spec.kind == "mosmix":
        return MosmixSource(spec.name, site, fetcher, station=spec.station or "", **common)
    chosen: dict[str, Any] = {"model": spec.model, "days": spec.days, "status_url": spec.status_url}
    options = {key: value for key, value in chosen.items() if value is not None}
    kind = OpenMeteoEnsembleSource if spec.kind == "open_meteo_ensemble" else OpenMeteoSource
    return kind(spec.name, site, fetcher, api_key=spec.api_key, non_commercial=spec.non_commercial, **common, **options)
