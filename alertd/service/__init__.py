"""The daemon: jobs in the background, signals, the log."""

from .daemon import run
from .logs import LineFormatter, configure_logging, error_text

__all__ = ["LineFormatter", "configure_logging", "error_text", "run"]
