"""Forecast alerts for people who keep cold-tender woody plants where winters are cold."""

__version__ = "0.1.0"
