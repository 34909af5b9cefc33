"""Where weather comes from."""

from .file import FileSource, read_weather_record
from .protocol import Source

__all__ = ["FileSource", "Source", "read_weather_record"]
