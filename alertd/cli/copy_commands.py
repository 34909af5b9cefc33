"""Commands about copies of what is remembered: export backup, restore."""

from __future__ import annotations

from pathlib import Path

import click

from alertd.core import ConfigurationError, Problem, StoreError
from alertd.store import back_up
from alertd.store import restore as put_back

from .common import config_option, json_option, load_configuration, now_utc, print_json


@click.group()
def export() -> None:
    """Write what is remembered into files."""


@export.command()
@config_option
@json_option
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Write over a file that exists.")
def backup(config_path: Path | None, file: Path, *, as_json: bool, force: bool) -> None:
    """Copy the database into FILE, as it is at one moment.

    The daemon may run meanwhile. The copy is checked before it gets its name; alertd restore puts it back.
    """
    loaded = load_configuration(config_path)
    if not loaded.database.exists():
        raise ConfigurationError(
            [Problem(str(loaded.database), "there is no database yet", "start alertd run, or name another --config")]
        )
    copied = back_up(loaded.database, file, overwrite=force)
    if as_json:
        print_json({"file": str(file), "head": copied.head.full_text, "version": copied.version})
        return
    click.echo(f"Written to {file}: the audit log in it is whole, up to {copied.head}.")


@click.command()
@config_option
@json_option
@click.argument("file", type=click.Path(path_type=Path))
def restore(config_path: Path | None, file: Path, *, as_json: bool) -> None:
    """Put FILE, a copy by alertd export backup, in the place of the database.

    The daemon must not run. FILE is checked first; the database that was there is kept beside under a dated name.
    """
    loaded = load_configuration(config_path)
    if not loaded.database.parent.is_dir():
        message = f"there is no folder {loaded.database.parent}; make it, or name another --config"
        raise StoreError(message)
    restored = put_back(file, loaded.database, now_utc())
    copied = restored.copied
    if as_json:
        kept = None if restored.kept is None else str(restored.kept)
        print_json(
            {
                "database": str(loaded.database),
                "head": copied.head.full_text,
                "version": copied.version,
                "kept": kept,
                "waiting": copied.waiting,
            }
        )
        return
    click.echo(f"Restored {loaded.database} from {file}, up to {copied.head}.")
    if restored.kept is not None:
        click.echo(f"What was there is now {restored.kept}.")
    if copied.waiting:
        letters = "1 message was" if copied.waiting == 1 else f"{copied.waiting} messages were"
        click.echo(f"{letters} waiting then; alertd run sends what waits, under the same reference.")
    click.echo("Tell how each group stands with alertd mark if that has changed since the copy was made.")
