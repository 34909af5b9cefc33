"""Commands that set things up and keep them going: init, schema, run, demo."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from alertd.config import StarterAnswers, json_schema, month_day, starter_text, time_zone
from alertd.core import ConfigurationError, Problem, TemperatureUnit
from alertd.site import Protection

from .common import config_option, load_configuration, print_json

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

_UNITS = {"F": TemperatureUnit.FAHRENHEIT, "C": TemperatureUnit.CELSIUS}
_UNITS_CHOICE = click.Choice(["F", "C"], case_sensitive=False)
_PROTECTION_CHOICE = click.Choice(["wrap", "mulch_ring", "bend_and_mulch", "none"])
_LATITUDE, _LONGITUDE = click.FloatRange(-90.0, 90.0), click.FloatRange(-180.0, 180.0)
_ELEVATION = click.FloatRange(-430.0, 6000.0)
_COUNT = click.IntRange(min=0)


class Answer(click.ParamType["object"]):
    """An answer that a function of the configuration understands."""

    name = "text"

    def __init__(self, read: Callable[[str], object]) -> None:
        self._read = read

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> object:  # noqa: ANN401 - click's signature
        """Return what the function makes of a text; what it refuses is a usage error."""
        if not isinstance(value, str):
            return value
        try:
            return self._read(value)
        except ValueError as error:
            self.fail(str(error), param, ctx)


@click.command()
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), default="alertd.toml", show_default=True)
@click.option("--site", help="Name of the place.")
@click.option("--latitude", type=_LATITUDE, help="[degrees north]")
@click.option("--longitude", type=_LONGITUDE, help="[degrees east], negative in the Americas.")
@click.option("--elevation", type=_ELEVATION, help="[m]")
@click.option("--time-zone", "zone", type=Answer(time_zone), help="Like America/New_York.")
@click.option("--units", type=_UNITS_CHOICE, help="Fahrenheit or Celsius.")
@click.option("--last-freeze", type=Answer(month_day), help="Date after which you trust the spring, MM-DD.")
@click.option("--pots", type=_COUNT, help="Trees in containers.")
@click.option("--pots-species", help="What those are.")
@click.option("--ground", type=_COUNT, help="Trees in the ground.")
@click.option("--ground-species", help="What those are.")
@click.option("--protection", type=_PROTECTION_CHOICE, help="What those in the ground get.")
@click.option("--credential", help="Name of the credential file with your mail or chat address.")
@click.option("--contact", help="Mail address that weather services may write to.")
@click.option("--non-commercial", type=click.BOOL, help="Whether your use is non-commercial.")
@click.option("--force", is_flag=True, help="Write over a file that exists.")
def init(out: Path, *, force: bool, **given: Any) -> None:  # noqa: ANN401 - answers of several types
    """Write a commented configuration after a few questions."""
    if out.exists() and not force:
        raise ConfigurationError([Problem(str(out), "exists already", "choose another --out, or say --force")])
    try:
        answers = _answers(given)
    except ValueError as error:
        raise ConfigurationError([Problem("answers", str(error), "answer once more")]) from error
    try:
        out.write_text(starter_text(answers), encoding="utf-8")
    except OSError as error:
        raise ConfigurationError(
            [Problem(str(out), f"cannot be written ({error.strerror})", "choose another --out")]
        ) from error
    click.echo(f"Written to {out}. Look it over, then: alertd check --config {out}")


def _answers(given: Mapping[str, Any]) -> StarterAnswers:
    """Ask what the command line did not say."""

    def ask(key: str, text: str, kind: click.ParamType[Any] | None = None, default: object = None) -> Any:  # noqa: ANN401 - as asked
        return given[key] if given[key] is not None else click.prompt(text, type=kind, default=default)

    place = {
        "site_name": ask("site", "Name of the place"),
        "latitude": ask("latitude", "Latitude [degrees north]", _LATITUDE),
        "longitude": ask("longitude", "Longitude [degrees east, negative in the Americas]", _LONGITUDE),
        "elevation": ask("elevation", "Elevation [m]", _ELEVATION),
        "time_zone": str(ask("zone", "Time zone, like America/New_York", Answer(time_zone))),
        "units": _UNITS[ask("units", "Units", _UNITS_CHOICE, "F").upper()],
        "last_freeze": ask("last_freeze", "Date after which you trust the spring, MM-DD", Answer(month_day)),
    }
    pots = ask("pots", "Trees in containers, 0 for none", _COUNT, 0)
    pots_species = ask("pots_species", "What they are", None, "figs") if pots else ""
    ground = ask("ground", "Trees in the ground, 0 for none", _COUNT, 0)
    ground_species = ask("ground_species", "What they are", None, "figs") if ground else ""
    protection = ask("protection", "What they get when cold comes", _PROTECTION_CHOICE, "wrap") if ground else "none"
    credential = ask(
        "credential",
        "Name of the credential file with your mail or chat address (empty: messages to the terminal)",
        None,
        "",
    )
    contact = ask("contact", "Mail address that weather services may write to (empty: none)", None, "")
    is_non_commercial = ask(
        "non_commercial", "Is your use non-commercial, as Open-Meteo's free service asks", click.BOOL, "yes"
    )
    return StarterAnswers(
        **place,
        container_trees=pots,
        container_species=pots_species,
        ground_trees=ground,
        ground_species=ground_species,
        ground_protection=Protection(protection),
        credential=credential or None,
        contact=contact,
        is_non_commercial=is_non_commercial,
    )


@click.command()
def schema() -> None:
    """Print the JSON Schema of the configuration."""
    print_json(json_schema())


@click.command()
@config_option
def run(config_path: Path | None) -> None:
    """Watch until stopped: the daemon."""
    from alertd.service import configure_logging, forbid_core_dumps  # noqa: PLC0415 - the scheduler is for the daemon
    from alertd.service import run as run_daemon  # noqa: PLC0415

    forbid_core_dumps()
    configure_logging()
    sys.exit(run_daemon(load_configuration(config_path, is_for_long=True)))


@click.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for the database and the letters as files. Default: a temporary one.",
)
def demo(out: Path | None) -> None:
    """Play one invented winter.

    An invented orchard, every message as its reader gets it.
    """
    from alertd.hindcast.demo import play  # noqa: PLC0415 - loaded by this command only

    play(out, sys.stdout)
