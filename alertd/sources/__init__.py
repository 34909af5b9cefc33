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
from .protocol import PastSource, Source
from .quota import call_weight
from .small_connection import Listener, SmallConnection
from .small_server import ServerThread, SmallServer
from .transport import Transport, TransportFailure, WebTransport

__all__ = [
    "DEFAULT_MODEL",
    "AnswerStore",
    "FetchSettings",
    "Fetcher",
    "FileSource",
    "Listener",
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
    "PastSource",
    "PointSource",
    "PushSettings",
    "Request",
    "ServerThread",
    "SmallConnection",
    "SmallServer",
    "Source",
    "StationReport",
    "ThermometerFile",
    "ThermometerServer",
    "Transport",
    "TransportFailure",
    "WarnedSource",
    "WebTransport",
    "call_weight",
    "read_json",
    "read_weather_record",
]
