"""What every command shares: finding the configuration, printing, and errors as one line."""

from __future__ import annotations

import json
import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from alertd.config import load
from alertd.core import AlertdError, ConfigurationError, Problem, parse_instant
from alertd.delivery import judging_apart
from alertd.store import Store

if TYPE_CHECKING:
    from alertd.config import Loaded

#: Where the configuration is looked for when no file is named.
DEFAULT_PLACES = (Path("alertd.toml"), Path("/etc/alertd/alertd.toml"))


class Instant(click.ParamType["datetime"]):
    """An RFC 3339 time with its offset."""

    name = "time"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> datetime:  # noqa: ANN401 - click's signature
        """Return the instant that a text names; a text that names none is a usage error."""
        if isinstance(value, datetime):
            return value
        try:
            return parse_instant(str(value))
        except ValueError as error:
            self.fail(str(error), param, ctx)


class OneLineGroup(click.Group):
    """A group of commands whose errors are lines for people, never tracebacks."""

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's signature
        """Run the command; print what a person can mend and exit 1."""
        try:
            return super().invoke(ctx)
        except AlertdError as error:
            for line in str(error).splitlines():
                click.echo(f"alertd: {line}", err=True)
            sys.exit(1)
        except BrokenPipeError:
            # Whoever read has had enough. What is left in the buffer must not raise once more at the end.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(1)


config_option = click.option(
    "--config",
    "-c",
    "config_path",
    type=click.Path(path_type=Path),
    help="Configuration file. Default: alertd.toml here, else /etc/alertd/alertd.toml.",
)

json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON instead of text.")


def load_configuration(config_path: Path | None, *, is_for_long: bool = False) -> Loaded:
    """Return the configuration of a file, or of the first default place that has one.

    Parameters
    ----------
    config_path : Path or None
        As named on the command line.
    is_for_long : bool
        Whether it is for the daemon, which stays small by having channels judged apart, and logs warnings itself.

    Returns
    -------
    Loaded
        Checked.

    Raises
    ------
    ConfigurationError
        With every problem found.
    """
    path = config_path or next((place for place in DEFAULT_PLACES if place.exists()), None)
    if path is None:
        places = " nor ".join(str(place) for place in DEFAULT_PLACES)
        raise ConfigurationError(
            [
                Problem(
                    "configuration", f"neither {places} exists", "make one with alertd init, or name one with --config"
                )
            ]
        )
    if is_for_long:
        with judging_apart() as judge:
            return load(path, os.environ, judge)
    loaded = load(path, os.environ)
    for warning in loaded.warnings:
        click.echo(f"alertd: warning: {warning}", err=True)
    return loaded


def open_store(loaded: Loaded) -> Store:
    """Return the store of a configuration.

    Parameters
    ----------
    loaded : Loaded
        Names the database.

    Returns
    -------
    Store
        To be closed by the caller.

    Raises
    ------
    StoreError
        If it cannot be opened.
    """
    return Store.open(loaded.database)


def open_store_to_read(loaded: Loaded) -> Store:
    """Return the store of a configuration, or an empty one in memory if nothing has been remembered yet.

    Parameters
    ----------
    loaded : Loaded
        Names the database; a file is not made.

    Returns
    -------
    Store
        To be closed by the caller.

    Raises
    ------
    StoreError
        If it cannot be opened.
    """
    return Store.open(loaded.database if loaded.database.exists() else None)


def print_json(value: object) -> None:
    """Print a value as indented JSON."""
    click.echo(json.dumps(value, indent=2, ensure_ascii=False))


def now_utc() -> datetime:
    """Return the present instant, aware UTC, in whole seconds."""
    return datetime.now(tz=UTC).replace(microsecond=0)
