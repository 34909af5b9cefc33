"""What to do, how long it takes, and by when it must begin."""

from .actions import ACTION_OF_PROTECTION, MINUTES_PER_TREE, Action
from .agenda import Work, agenda
from .cautions import CAUTION_TEXTS, Caution, cautions
from .lifting import KILOGRAMS_PER_POUND, people_per_pot, pot_mass, recommended_weight_limit
from .schedule import Schedule, effort
from .task import Task, task_at_leisure, task_by

__all__ = [
    "ACTION_OF_PROTECTION",
    "CAUTION_TEXTS",
    "KILOGRAMS_PER_POUND",
    "MINUTES_PER_TREE",
    "Action",
    "Caution",
    "Schedule",
    "Task",
    "Work",
    "agenda",
    "cautions",
    "effort",
    "people_per_pot",
    "pot_mass",
    "recommended_weight_limit",
    "task_at_leisure",
    "task_by",
]
