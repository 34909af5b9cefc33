"""What keeps secrets of a process from its surroundings."""

from __future__ import annotations

import resource


def forbid_core_dumps() -> None:
    """Let no crash write this process's memory, with all passwords in it, to a disk; children inherit that."""
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
