"""Commands that set things up and keep them going: init, schema, run, demo."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from alertd.config import StarterAnswers, json_schema, month_day, starter_text, time_zone
from alertd.core import ConfigurationError, Problem, TemperatureUnit
from alertd.hindcast.demo import play
from alertd.service import run as run_daemon
from alertd.site import Protection

from .common import config_option, load_configuration, print_json

_UNITS = {"F": TemperatureUnit.FAHRENHEIT, "C": TemperatureUnit.CELSIUS}
_GROUND_PROTECTIONS = ("wrap", "mulch_ring", "bend_and_mulch", "none")


@click.command()
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), default="alertd.toml", show_default=True)
@click.option("--site", prompt="Name of the place", help="As its people call it.")
@click.option("--latitude", prompt="Latitude [degrees north]", type=click.FloatRange(-90.0, 90.0))
@click.option(
    "--longitude", prompt="Longitude [degrees east, negative in the Americas]", type=click.FloatRange(-180.0, 180.0)
)
@click.option("--elevation", prompt="Elevation [m]", type=click.FloatRange(-430.0, 6000.0))
@click.option("--time-zone", "zone", prompt="Time zone, like America/New_York")
@click.option("--units", prompt="Units", type=click.Choice(["F", "C"], case_sensitive=False), default="F")
@click.option("--last-freeze", prompt="Date after which you trust the spring, MM-DD", default="05-15")
@click.option("--pots", prompt="Trees in containers, 0 for none", type=click.IntRange(min=0), default=0)
@click.option("--pots-species", prompt="What they are", default="figs")
@click.option("--ground", prompt="Trees in the ground, 0 for none", type=click.IntRange(min=0), default=0)
@click.option("--ground-species", prompt="What they are", default="figs")
@click.option(
    "--protection", prompt="What those in the ground get", type=click.Choice(_GROUND_PROTECTIONS), default="wrap"
)
@click.option(
    "--credential",
    prompt="Name of the credential file with your mail or chat address (empty: messages to the terminal)",
    default="",
)
@click.option("--force", is_flag=True, help="Write over a file that exists.")
def init(
    out: Path,
    site: str,
    latitude: float,
    longitude: float,
    elevation: float,
    zone: str,
    units: str,
    last_freeze: str,
    pots: int,
    pots_species: str,
    ground: int,
    ground_species: str,
    protection: str,
    credential: str,
    *,
    force: bool,
) -> None:
    """Write a commented configuration after a few questions."""
    if out.exists() and not force:
        raise ConfigurationError([Problem(str(out), "exists already", "choose another --out, or say --force")])
    try:
        time_zone(zone)
        answers = StarterAnswers(
            site_name=site,
            latitude=latitude,
            longitude=longitude,
            elevation=elevation,
            time_zone=zone,
            units=_UNITS[units.upper()],
            last_freeze=month_day(last_freeze),
            container_trees=pots,
            container_species=pots_species,
            ground_trees=ground,
            ground_species=ground_species,
            ground_protection=Protection(protection),
            credential=credential or None,
        )
    except ValueError as error:
        raise ConfigurationError([Problem("answers", str(error), "answer once more")]) from error
    try:
        out.write_text(starter_text(answers), encoding="utf-8")
    except OSError as error:
        raise ConfigurationError(
            [Problem(str(out), f"cannot be written ({error.strerror})", "choose another --out")]
        ) from error
    click.echo(f"Written to {out}. Look it over, then: alertd check --config {out}")


@click.command()
def schema() -> None:
    """Print the JSON Schema of the configuration."""
    print_json(json_schema())


@click.command()
@config_option
def run(config_path: Path | None) -> None:
    """Watch until stopped: the daemon."""
    sys.exit(run_daemon(load_configuration(config_path)))


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the database and the letters as files. Default: a temporary one.",
)
def demo(out: Path | None) -> None:
    """Play one invented winter in an invented orchard, with every message as its reader gets it."""
    play(out, sys.stdout)
