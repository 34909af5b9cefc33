"""Open-Meteo: forecasts of many weather models, their ensembles, old forecasts and past weather.

What the service does that a client must know: an answer does not say of which model it is, nor when that was
run; local times use one offset for a whole series, whatever the clocks do; values beyond a model's horizon are
null; an answer may break off in the middle with the status of a good one. Therefore: one model in each request, the
model's status beside it, UTC in seconds since 1970, explicit units, and everything checked.
"""

from .access import Access, Endpoint
from .document import Asked
from .history import OpenMeteoArchive, OpenMeteoPreviousRuns
from .models import ARCHIVE_MODELS, ENSEMBLE_MODELS, FORECAST_MODELS, Model, SoilLayer
from .parse import LEAD_DAYS, ParsedForecast, parse_forecast, parse_models, parse_previous_runs
from .refusals import blocked_until, explain
from .run_status import RunStatus, parse_status, run_of
from .source import CREDITS, DEFAULT_MODEL, OpenMeteoEnsembleSource, OpenMeteoSource, credits_of

__all__ = [
    "ARCHIVE_MODELS",
    "CREDITS",
    "DEFAULT_MODEL",
    "ENSEMBLE_MODELS",
    "FORECAST_MODELS",
    "LEAD_DAYS",
    "Access",
    "Asked",
    "Endpoint",
    "Model",
    "OpenMeteoArchive",
    "OpenMeteoEnsembleSource",
    "OpenMeteoPreviousRuns",
    "OpenMeteoSource",
    "ParsedForecast",
    "RunStatus",
    "SoilLayer",
    "blocked_until",
    "credits_of",
    "explain",
    "parse_forecast",
    "parse_models",
    "parse_previous_runs",
    "parse_status",
    "run_of",
]
