"""The site's own thermometers: a file that grows, or values that devices send."""

from .growing_file import GrowingFile, NewLines
from .keeping import KeepObservations
from .push_body import Refused, observations_of
from .push_server import ThermometerServer
from .push_settings import PushSettings
from .rate import RateLimit
from .thermometer_file import ThermometerFile

__all__ = [
    "GrowingFile",
    "KeepObservations",
    "NewLines",
    "PushSettings",
    "RateLimit",
    "Refused",
    "ThermometerFile",
    "ThermometerServer",
    "observations_of",
]
