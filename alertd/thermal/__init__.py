"""What tissue feels: exposures, by the air and by models."""

from .all_parameters import ALL_PARAMETERS, KNOWN_PARAMETERS
from .exposure import Exposure, Tissue, air_exposure
from .felt import DRAWS, Felt, Model, Used, felt_bound, felt_of, with_spread
from .forcing import SPIN_UP
from .memory import ModelMemory
from .models import Models, ModelWeather
from .parameters import Parameter
from .room_fit import RoomFit, fit_room_of

__all__ = [
    "ALL_PARAMETERS",
    "DRAWS",
    "KNOWN_PARAMETERS",
    "SPIN_UP",
    "Exposure",
    "Felt",
    "Model",
    "ModelMemory",
    "ModelWeather",
    "Models",
    "Parameter",
    "RoomFit",
    "Tissue",
    "Used",
    "air_exposure",
    "felt_bound",
    "felt_of",
    "fit_room_of",
    "with_spread",
]
