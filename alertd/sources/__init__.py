"""Where weather comes from."""

from .answer import AnswerStore, MemoryAnswers
from .fetch import Fetcher, FetchSettings, Request
from .file import FileSource, read_weather_record
from .json_body import read_json
from .metno import MetNorwaySource
from .mosmix import MosmixSource
from .nws import NwsSource
from .open_meteo import OpenMeteoEnsembleSource, OpenMeteoSource
from .protocol import Source
from .quota import call_weight

__all__ = [
    "AnswerStore",
    "FetchSettings",
    "Fetcher",
    "FileSource",
    "MemoryAnswers",
    "MetNorwaySource",
    "MosmixSource",
    "NwsSource",
    "OpenMeteoEnsembleSource",
    "OpenMeteoSource",
    "Request",
    "Source",
    "call_weight",
    "read_json",
    "read_weather_record",
]
