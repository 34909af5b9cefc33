"""Commands that look at weather and trees: check, assess, hindcast, demo."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click
import numpy as np

from alertd.config import build_services, length_of_time
from alertd.core import (
    ConfigurationError,
    Problem,
    SourceError,
    from_datetime64,
    in_unit,
    instant_text,
    temperature_text,
)
from alertd.delivery import Outcome, send
from alertd.hindcast import HindcastSettings, hindcast_facts, hindcast_text, run_hindcast
from alertd.messages import Reader, letter_for_test, warning_lines, when_text
from alertd.sources import FileSource, read_weather_record
from alertd.watch import Watch, readership
from alertd.weather import observed_weather

from .common import (
    Instant,
    config_option,
    json_option,
    load_configuration,
    now_utc,
    open_store_to_read,
    print_json,
)
from .tell import (
    assessment_facts,
    assessment_lines,
    observed_facts,
    observed_lines,
    series_facts,
    source_facts,
)
from .tell_ground import ground_facts, ground_lines, snow_facts, snow_lines
from .tell_models import exposure_facts
from .tell_warnings import warning_facts

if TYPE_CHECKING:
    from datetime import datetime, timedelta

    from alertd.config import Loaded
    from alertd.sources import Source


class LengthOfTime(click.ParamType["timedelta"]):
    """A length of time like 1h, 30min or 7d."""

    name = "length"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> timedelta:
        """Return the length that a text names; a text that names none is a usage error."""
        try:
            return length_of_time(str(value))
        except ValueError as error:
            self.fail(str(error), param, ctx)


@click.command()
@config_option
@json_option
@click.option("--online", is_flag=True, help="Ask each public service once, too, and show what came back.")
@click.option("--send", "sends", is_flag=True, help="Send a Test message to every recipient, by every channel.")
def check(config_path: Path | None, *, as_json: bool, online: bool, sends: bool) -> None:
    """Check configuration, sources and channels."""
    loaded = load_configuration(config_path)
    now = now_utc()
    with open_store_to_read(loaded) as store:
        asked = [
            source
            for spec, source in zip(loaded.sources, build_services(loaded, store).sources, strict=True)
            if online or spec.kind == "file"
        ]
        sources = [_source_facts(source, loaded, now) for source in asked]
    sent = _send_tests(loaded, now) if sends else []
    is_fine = all(each["problem"] is None for each in sources) and all(each["outcome"] == "accepted" for each in sent)
    if as_json:
        print_json({"configuration": str(loaded.path), "sources": sources, "sent": sent, "is_fine": is_fine})
    else:
        garden = loaded.garden
        click.echo(
            f"{loaded.path}: {len(garden.groups)} groups, {len(loaded.recipients)} recipients, "
            f"{len(loaded.channels)} channels, {len(loaded.sources)} sources"
        )
        site = garden.site
        click.echo(f"position {site.latitude:.4f} N, {site.longitude:.4f} E, {site.elevation:.0f} m, {site.time_zone}")
        for spec in loaded.sources:
            if not online and spec.kind != "file":
                click.echo(f"source {spec.name}: {spec.kind}, not asked; alertd check --online asks it")
        for each in sources:
            click.echo(_source_line(each, loaded, now))
        for each in sent:
            reason = "" if each["reason"] is None else f" ({each['reason']})"
            click.echo(f"{each['recipient']} by {each['channel']}: {each['outcome']}{reason}")
        click.echo("All is well." if is_fine else "Something is wrong; see above.")
    sys.exit(0 if is_fine else 1)


def _source_facts(source: Source, loaded: Loaded, now: datetime) -> dict[str, object]:
    """Ask a source once, and return what came back."""
    facts: dict[str, object] = {"name": source.name, "problem": None}
    try:
        forecast, findings = source.get(now)
    except SourceError as error:
        return {**facts, "problem": str(error)}
    series = forecast.series
    lowest = float(np.nanmin(series.air_temperature))
    age = now - forecast.forecast_reference_time
    if age > loaded.garden.stale_after:
        facts["problem"] = f"stale: made {instant_text(forecast.forecast_reference_time)}"
    elif forecast.problem:
        facts["problem"] = forecast.problem
    return {
        **facts,
        "forecast_reference_time": instant_text(forecast.forecast_reference_time),
        "until": instant_text(from_datetime64(series.times[-1])),
        "hours": series.n_times,
        "horizon_h": round((from_datetime64(series.times[-1]) - now).total_seconds() / 3600.0, 1),
        "n_realizations": series.n_realizations,
        "minimum": round(in_unit(lowest, loaded.garden.units), 2),
        "minimum_text": temperature_text(lowest, loaded.garden.units),
        "findings": [finding.text for finding in findings],
        "credits": forecast.credits,
    }


def _source_line(facts: dict[str, object], loaded: Loaded, now: datetime) -> str:
    """Return what a source gave, for reading."""
    if facts["problem"] is not None:
        return f"source {facts['name']}: {facts['problem']}"
    made = when_text(Instant().convert(facts["forecast_reference_time"], None, None), now, loaded.garden.site)
    findings = facts["findings"]
    assert isinstance(findings, list)  # noqa: S101 - made above
    return "\n".join(
        [
            f"source {facts['name']}: made {made}, {facts['hours']} times to {facts['horizon_h']} h ahead, "
            f"{facts['n_realizations']} realization(s), lowest {facts['minimum_text']}. {facts['credits']}".rstrip(),
            *(f"  {finding}" for finding in findings),
        ]
    )


def _send_tests(loaded: Loaded, now: datetime) -> list[dict[str, object]]:
    """Send a Test message by every channel of every recipient, outside the outbox."""
    by_name = {channel.name: channel for channel in loaded.channels}
    results: list[dict[str, object]] = []
    with open_store_to_read(loaded) as store:
        head = str(store.head())
    for recipient in loaded.recipients:
        letter = letter_for_test(loaded.garden, Reader(recipient.name), now, head)
        for name in recipient.channels:
            result = send(by_name[name], letter, site_slug=loaded.garden.site.slug, deadline=loaded.delivery.deadline)
            results.append(
                {
                    "recipient": recipient.name,
                    "channel": name,
                    "outcome": result.outcome.value,
                    "reason": None if result.outcome is Outcome.ACCEPTED else result.reason,
                }
            )
    return results


@click.command()
@config_option
@json_option
@click.option("--at", type=Instant(), help="Judge as of this time (RFC 3339) instead of now.")
def assess(config_path: Path | None, at: datetime | None, *, as_json: bool) -> None:
    """Judge now and print it; change and send nothing."""
    loaded = load_configuration(config_path)
    with open_store_to_read(loaded) as store:
        watch = Watch(loaded.garden, build_services(loaded, store).sources, readership(loaded), store)
        decision = watch.assess(at or now_utc())
        observed = observed_weather(store.recent_observations(decision.now))
    if as_json:
        print_json(
            {
                "now": instant_text(decision.now),
                "unit": loaded.garden.units.value,
                "is_blind": decision.outlook.series is None,
                "sources": source_facts(decision),
                "series": series_facts(decision, loaded.garden),
                "observed": observed_facts(observed, loaded.garden),
                "ground": ground_facts(decision, loaded.garden),
                "snow": snow_facts(decision),
                "warnings": warning_facts(decision),
                "assessments": assessment_facts(decision, loaded.garden),
                "exposures": exposure_facts(decision.assessments, loaded.garden),
            }
        )
        return
    lines = [
        *assessment_lines(decision, loaded.garden),
        *warning_lines(decision, loaded.garden, only_of_cold=False),
        *ground_lines(decision, loaded.garden),
        *snow_lines(decision),
        *observed_lines(observed, loaded.garden, decision.now),
    ]
    click.echo("\n".join(lines))


@click.command()
@config_option
@json_option
@click.option("--weather", "weather", type=click.Path(path_type=Path), required=True, help="Weather CSV: the record.")
@click.option("--forecasts", type=click.Path(path_type=Path), help="Archive of the forecasts of that time (CSV).")
@click.option("--from", "start", type=Instant(), help="First evaluation (RFC 3339). Default: the record's start.")
@click.option("--to", "end", type=Instant(), help="Last evaluation (RFC 3339). Default: the record's end.")
@click.option("--every", type=LengthOfTime(), help="Between evaluations. Default: polling.every.")
@click.option("--reach", type=LengthOfTime(), default="7d", show_default=True, help="How far each forecast goes.")
@click.option("--exact", "is_exact", is_flag=True, help="The forecast is the truth, without an error of its own.")
@click.option("--assume-done", "assumes_done", is_flag=True, help="Each task is done and reported at its latest start.")
def hindcast(
    config_path: Path | None,
    weather: Path,
    forecasts: Path | None,
    start: datetime | None,
    end: datetime | None,
    every: timedelta | None,
    reach: timedelta,
    *,
    as_json: bool,
    is_exact: bool,
    assumes_done: bool,
) -> None:
    """Play past weather through the whole chain.

    Prints what would have been told, and how it met what the weather did.
    """
    loaded = load_configuration(config_path)
    record, findings = read_weather_record(weather)
    sources = () if forecasts is None else (FileSource(forecasts.name, forecasts),)
    settings = HindcastSettings(start, end, every or loaded.polling.every, reach, is_exact, assumes_done)
    try:
        result = run_hindcast(loaded.garden, readership(loaded), record, settings, sources)
    except ValueError as error:
        raise ConfigurationError([Problem(str(weather), str(error), "choose other --from and --to times")]) from error
    if as_json:
        exposures = exposure_facts(result.hours_below, result.garden)
        told = [finding.text for finding in findings]
        print_json({**hindcast_facts(result, record), "exposures": exposures, "findings": told})
        return
    for finding in findings:
        click.echo(f"alertd: {weather.name}: {finding.text}", err=True)
    click.echo(hindcast_text(result, record), nl=False)
