"""From a configuration to past weather of its site."""

from __future__ import annotations

from dataclasses import dataclass
from random import SystemRandom
from typing import TYPE_CHECKING, Any

from alertd import __version__
from alertd.core import ConfigurationError, Problem
from alertd.sources import DEFAULT_MODEL, Fetcher, FetchSettings, OpenMeteoArchive, OpenMeteoPreviousRuns

from .loaded import SourceSpec

if TYPE_CHECKING:
    from alertd.sources import AnswerStore

    from .loaded import Loaded

_KINDS = ("open_meteo", "open_meteo_ensemble")
_NAME = "open_meteo"


@dataclass(frozen=True, slots=True)
class History:
    """What is asked of the past.

    Parameters
    ----------
    archive : OpenMeteoArchive
        Past weather.
    previous_runs : OpenMeteoPreviousRuns
        What was forecast of it.
    """

    archive: OpenMeteoArchive
    previous_runs: OpenMeteoPreviousRuns


def build_history(loaded: Loaded, answers: AnswerStore, model: str | None = None) -> History:
    """Return what is asked of the past of a site; nothing is asked yet.

    Parameters
    ----------
    loaded : Loaded
        The configuration; its first source of Open-Meteo says how that service is reached.
    answers : AnswerStore
        Keeps the last answer.
    model : str or None
        Whose old forecasts; by default that of the source.

    Returns
    -------
    History
        Past weather is a reanalysis, whatever the model.

    Raises
    ------
    ConfigurationError
        If the configuration does not say that the service may be used.
    """
    polling, site = loaded.polling, loaded.garden.site
    spec = next((each for each in loaded.sources if each.kind in _KINDS), None)
    if spec is None:
        if not polling.non_commercial:
            what = "is not set, and past weather comes from Open-Meteo, whose free service is for non-commercial use"
            mending = "set it to true if yours is, or name a source of the kind open_meteo with an api_key"
            raise ConfigurationError([Problem("polling.non_commercial", what, mending)])
        spec = SourceSpec(name=_NAME, kind=_KINDS[0], non_commercial=True)
    settings = FetchSettings(
        deadline=polling.request_deadline, proxies_from_environment=polling.proxies_from_environment
    )
    fetcher = Fetcher(f"alertd/{__version__} {site.contact}".rstrip(), answers, settings, random=SystemRandom())
    access: dict[str, Any] = {
        "base_url": spec.base_url,
        "api_key": spec.api_key,
        "non_commercial": spec.non_commercial,
    }
    whose = model or (spec.model if spec.kind == _KINDS[0] else None)
    return History(
        OpenMeteoArchive(spec.name, site, fetcher, **access),
        OpenMeteoPreviousRuns(spec.name, site, fetcher, **access, model=whose or DEFAULT_MODEL),
    )
