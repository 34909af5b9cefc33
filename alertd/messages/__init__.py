"""What people read."""

from .letter import Letter

__all__ = ["Letter"]
