"""One invented winter in a teaching orchard, played through the whole chain."""

from .files import FORECASTS_FILE, WEATHER_FILE, write_files
from .play import Played, play
from .source import DemoSource
from .weather import DemoWeather, demo_weather

__all__ = [
    "FORECASTS_FILE",
    "WEATHER_FILE",
    "DemoSource",
    "DemoWeather",
    "Played",
    "demo_weather",
    "play",
    "write_files",
]
