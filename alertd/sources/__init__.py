"""Where weather comes from."""

from .answer import AnswerStore, MemoryAnswers
from .fetch import Fetcher, FetchSettings, Request
from .file import FileSource, read_weather_record
from .json_body import read_json
from .metno import MetNorwaySource
from .mosmix import MosmixSource
from .nws import NwsAlertSource, NwsObservationSource, NwsSource, PointSource, StationReport, WarnedSource
from .observations import PushSettings, ThermometerFile, ThermometerServer
from .open_meteo import DEFAULT_MODEL, OpenMeteoArchive, OpenMeteoEnsembleSource, OpenMeteoPreviousRuns, OpenMeteoSource
from .protocol import Source
from .quota import call_weight

__all__ = [
    "DEFAULT_MODEL",
    "AnswerStore",
    "FetchSettings",
    "Fetcher",
    "FileSource",
    "MemoryAnswers",
    "MetNorwaySource",
    "MosmixSource",
    "NwsAlertSource",
    "NwsObservationSource",
    "NwsSource",
    "OpenMeteoArchive",
    "OpenMeteoEnsembleSource",
    "OpenMeteoPreviousRuns",
    "OpenMeteoSource",
    "PointSource",
    "PushSettings",
    "Request",
    "Source",
    "StationReport",
    "ThermometerFile",
    "ThermometerServer",
    "WarnedSource",
    "call_weight",
    "read_json",
    "read_weather_record",
]
