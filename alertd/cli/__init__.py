"""Commands for people."""

from .main import main

__all__ = ["main"]
