"""What to do, how long it takes, and by when it must begin."""

from .actions import ACTION_OF_PROTECTION, MINUTES_PER_TREE, Action

__all__ = ["ACTION_OF_PROTECTION", "MINUTES_PER_TREE", "Action"]
