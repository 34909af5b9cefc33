"""What tissue stands: hardiness classes and critical temperatures."""

from .classes import BUILT_IN_CLASSES, HardinessClass

__all__ = ["BUILT_IN_CLASSES", "HardinessClass"]
