"""Commands about the past: weather and old forecasts for a hindcast, past winters, and how a store room follows."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from alertd.config import build_history
from alertd.core import ConfigurationError, Problem, from_datetime64
from alertd.sources import read_weather_record
from alertd.thermal import fit_room_of
from alertd.weather import forecasts_by_lead_day, winters, write_forecast_archive_csv, write_weather_csv

from .common import config_option, json_option, load_configuration, now_utc, open_store_to_read, print_json
from .tell_room import room_facts, room_lines
from .tell_winters import winter_facts, winter_lines

if TYPE_CHECKING:
    from collections.abc import Sequence

    from alertd.weather import Finding, Winter

#: Forecasts reach this far; so much more is asked, so that the last ones are whole.
_REACH = timedelta(days=7)


class Day(click.ParamType["date"]):
    """A day like 2025-10-01, of UTC."""

    name = "day"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """Return the day that a text names; a text that names none is a usage error."""
        if isinstance(value, date):
            return value
        try:
            return date.fromisoformat(str(value))
        except ValueError:
            self.fail(f"{value!r} is no day; write it like 2025-10-01", param, ctx)


_first_option = click.option("--from", "first", type=Day(), required=True, help="First day (UTC).")
_last_option = click.option("--to", "last", type=Day(), required=True, help="Last day (UTC).")
_out_option = click.option(
    "--out", type=click.Path(path_type=Path, dir_okay=False), required=True, help="CSV to write."
)
_force_option = click.option("--force", is_flag=True, help="Write over a file that exists.")


@click.group()
def history() -> None:
    """Ask Open-Meteo for past weather at the site, old forecasts of it, and past winters; learn from a store room.

    Past weather and old forecasts are files for alertd hindcast.
    """


@history.command()
@config_option
@_first_option
@_last_option
@_out_option
@_force_option
def weather(config_path: Path | None, first: date, last: date, out: Path, *, force: bool) -> None:
    """Write past weather of the site, hour by hour."""
    _refuse_span(first, last)
    _refuse_existing(out, force=force)
    loaded = load_configuration(config_path)
    with open_store_to_read(loaded) as store:
        asked = build_history(loaded, store).archive
        series, findings = asked.record(first, last, now_utc())
    _write(out, write_weather_csv(series))
    _tell(out, f"{series.n_times} hours", asked.credits, findings)
    click.echo(f"Play it: alertd hindcast --weather {out}")


@history.command()
@config_option
@_first_option
@_last_option
@_out_option
@_force_option
@click.option("--model", help="Weather model. Default: that of the source, else icon_seamless.")
def forecasts(config_path: Path | None, first: date, last: date, out: Path, model: str | None, *, force: bool) -> None:
    """Write the forecasts of the site as they stood every six hours.

    They are put together from values predicted one to seven days before each hour, and are up to a day older than what
    was there to see.
    """
    _refuse_span(first, last)
    _refuse_existing(out, force=force)
    loaded = load_configuration(config_path)
    now = now_utc()
    with open_store_to_read(loaded) as store:
        asked = build_history(loaded, store, model).previous_runs
        by_lead, findings = asked.forecasts(first, min(last + _REACH, max(now.date(), last)), now)
    end = datetime(last.year, last.month, last.day, tzinfo=UTC) + timedelta(days=1)
    old = [(made, series) for made, series in forecasts_by_lead_day(by_lead) if made < end]
    _write(out, write_forecast_archive_csv(old))
    _tell(out, f"{len(old)} forecasts, up to {by_lead[-1][0]} days ahead", asked.credits, findings)
    click.echo(f"Play them: alertd hindcast --weather WEATHER --forecasts {out}")


@history.command("winters")
@config_option
@json_option
@click.option("--count", type=click.IntRange(1, 40), default=20, show_default=True, help="How many, up to the last.")
def past_winters(config_path: Path | None, count: int, *, as_json: bool) -> None:
    """Show how cold past winters were, when they ended, and which of your thresholds they passed."""
    loaded = load_configuration(config_path)
    now = now_utc()
    garden = loaded.garden
    found: list[Winter] = []
    with open_store_to_read(loaded) as store:
        asked = build_history(loaded, store).archive
        start = garden.site.season_start(now).date()
        for years_ago in range(count, 0, -1):
            first, last = start.replace(year=start.year - years_ago), start.replace(year=start.year - years_ago + 1)
            series, _ = asked.record(first, last, now)
            found += winters(series, garden.site.latitude)
    if as_json:
        print_json({**winter_facts(found, garden), "credits": asked.credits})
        return
    click.echo("\n".join([*winter_lines(found, garden), asked.credits]))


@history.command()
@config_option
@json_option
@click.argument("inside", type=click.Path(path_type=Path))
@click.option(
    "--outside", type=click.Path(path_type=Path), help="CSV of the air outside. Default: as Open-Meteo has it."
)
def room(config_path: Path | None, inside: Path, outside: Path | None, *, as_json: bool) -> None:
    """Learn from a thermometer in a store room how late it follows the air outside.

    INSIDE is a CSV of its readings, with the columns time and air_temperature, as for alertd hindcast; some days, with
    the doors as they are in winter.
    """
    loaded = load_configuration(config_path)
    read, findings = read_weather_record(inside)
    asked = None
    if outside is not None:
        air, more = read_weather_record(outside)
    else:
        first, last = (from_datetime64(read.times[place]).date() for place in (0, -1))
        with open_store_to_read(loaded) as store:
            asked = build_history(loaded, store).archive
            air, more = asked.record(first, last, now_utc())
    try:
        fit = fit_room_of(air, read)
    except ValueError as error:
        raise ConfigurationError([Problem(str(inside), str(error), "give a longer or fuller log")]) from error
    for finding in (*findings, *more):
        click.echo(f"alertd: {finding.text}", err=True)
    credit = [] if asked is None else [asked.credits]
    if as_json:
        print_json({**room_facts(fit), "credits": credit})
        return
    click.echo("\n".join([*room_lines(fit, loaded.garden), *credit]))


def _refuse_span(first: date, last: date) -> None:
    if last < first:
        raise ConfigurationError([Problem("--to", f"{last} lies before --from {first}", "name a later day")])


def _refuse_existing(out: Path, *, force: bool) -> None:
    if out.exists() and not force:
        raise ConfigurationError([Problem(str(out), "exists already", "choose another --out, or say --force")])


def _write(out: Path, text: str) -> None:
    try:
        out.write_text(text, encoding="utf-8")
    except OSError as error:
        raise ConfigurationError(
            [Problem(str(out), f"cannot be written ({error.strerror})", "choose another --out")]
        ) from error


def _tell(out: Path, what: str, credit: str, findings: Sequence[Finding]) -> None:
    for finding in findings:
        click.echo(f"alertd: {finding.text}", err=True)
    click.echo(f"Written to {out}: {what}. {credit}")
