"""What tissue feels: exposures."""

from .exposure import Exposure, Tissue, air_exposure

__all__ = ["Exposure", "Tissue", "air_exposure"]
