"""Where weather comes from."""

from .answer import AnswerStore, MemoryAnswers
from .fetch import Fetcher, FetchSettings, Request
from .file import FileSource, read_weather_record
from .json_body import read_json
from .protocol import Source
from .quota import call_weight

__all__ = [
    "AnswerStore",
    "FetchSettings",
    "Fetcher",
    "FileSource",
    "MemoryAnswers",
    "Request",
    "Source",
    "call_weight",
    "read_json",
    "read_weather_record",
]
