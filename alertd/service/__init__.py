"""The daemon: jobs in the background, signals, the log."""

from .daemon import run
from .logs import LineFormatter, configure_logging, error_text
from .privacy import forbid_core_dumps

__all__ = ["LineFormatter", "configure_logging", "error_text", "forbid_core_dumps", "run"]
