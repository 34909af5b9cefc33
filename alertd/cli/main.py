"""The command `alertd`."""

from __future__ import annotations

import click

from alertd import __version__

from .common import OneLineGroup
from .copy_commands import export, restore
from .history_commands import history
from .judge_commands import assess, check, hindcast
from .record_commands import audit, done, mark, why
from .set_up_commands import demo, init, run, schema
from .status_command import status


@click.group(cls=OneLineGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, message="%(prog)s %(version)s")
def main() -> None:
    """Forecast alerts for people who keep cold-tender woody plants where winters are cold."""


_COMMANDS = (init, check, assess, run, status, mark, done, why, hindcast, history, audit, export, restore, schema, demo)

for command in _COMMANDS:
    main.add_command(command)
