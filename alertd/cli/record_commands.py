"""Commands about what is remembered: mark, done, why, audit."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from alertd.audit import Head
from alertd.core import ConfigurationError, Problem, parse_instant, temperature_text, threshold_text
from alertd.hindcast import alert_facts
from alertd.messages import condition_text
from alertd.watch import MARKS
from alertd.watch import done as report_done
from alertd.watch import mark as report_mark

from .common import config_option, json_option, load_configuration, now_utc, open_store, open_store_to_read, print_json
from .tell import alert_line, group_name
from .tell_models import kept_lines, parameter_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from alertd.alerts import Alert, Garden
    from alertd.audit import AuditRow
    from alertd.store import Store


def _rows_backwards(store: Store, batch: int = 200) -> Iterator[AuditRow]:
    """Yield audit rows from the last one back."""
    last = store.head().sequence
    while last > 0:
        first = max(1, last - batch + 1)
        yield from reversed(list(store.audit_rows(first, last)))
        last = first - 1


@click.command()
@config_option
@click.argument("group")
@click.argument("word", metavar="|".join(MARKS), type=click.Choice(list(MARKS)))
def mark(config_path: Path | None, group: str, word: str) -> None:
    """Tell how a group stands.

    GROUP is then judged as it is: in place counts as protected, budbreak as tender.
    """
    loaded = load_configuration(config_path)
    with open_store(loaded) as store:
        condition = report_mark(loaded.garden, store, group, word, now_utc())
    tree_group = next(each for each in loaded.garden.groups if each.group_id == group)
    click.echo(f"Noted: {tree_group.name}, {condition_text(tree_group, condition)}, {condition.stage.value}.")


@click.command()
@config_option
@click.argument("alert")
@click.option("--not-this-time", "declined", is_flag=True, help="It will not be done this time; stop reminding.")
def done(config_path: Path | None, alert: str, *, declined: bool) -> None:
    """Tell that a task is done.

    ALERT is the id of the alert, or enough of its beginning.
    """
    loaded = load_configuration(config_path)
    with open_store(loaded) as store:
        after = report_done(loaded.garden, store, alert, now_utc(), declined=declined)
    name = group_name(loaded.garden, after.group)
    said = "not this time" if declined else "done"
    click.echo(f"Noted for {name}: {said}. No more reminders; the end of the cold will be told.")


@click.command()
@config_option
@json_option
@click.argument("alert")
def why(config_path: Path | None, alert: str, *, as_json: bool) -> None:
    """Tell why an alert was raised.

    What was seen, decided and sent about ALERT, in order; then the numbers that models went by when it was last
    told, which of them nobody has measured, and how to put in own ones.
    """
    loaded = load_configuration(config_path)
    with open_store_to_read(loaded) as store:
        found = store.find_alert(alert)
        rows = list(_rows_about(store, found))
    if as_json:
        print_json({"alert": alert_facts(found, loaded.garden), "record": [_row_facts(row) for row in rows]})
        return
    click.echo(alert_line(found, loaded.garden, now_utc()))
    models: list[dict[str, Any]] = []
    for row in rows:
        happened = parse_instant(row.happened)
        local = loaded.garden.site.local(happened).strftime("%Y-%m-%d %H:%M")
        click.echo(f"{local}  {_row_text(row, found, loaded.garden)}")
        said = json.loads(row.body).get("models", [])
        for line in kept_lines(said, loaded.garden, happened):
            click.echo(line)
        models = said or models
    for line in parameter_lines(models, found.group, loaded.garden):
        click.echo(line)


def _rows_about(store: Store, alert: Alert) -> Iterator[AuditRow]:
    """Yield the audit rows that speak of an alert, each step with the evaluation that led to it."""
    references: set[str] = set()
    evaluation: AuditRow | None = None
    for row in store.audit_rows():
        if row.kind == "evaluation":
            evaluation = row
            continue
        body = json.loads(row.body)
        if row.kind == "letter" and alert.alert_id in body["threads"]:
            references.add(body["reference"])
            yield row
        elif row.kind == "send" and body.get("reference") in references:
            yield row
        elif body.get("alert_id") == alert.alert_id:
            if row.kind == "transition" and evaluation is not None and evaluation.happened == row.happened:
                yield evaluation
                evaluation = None
            yield row


def _row_facts(row: AuditRow) -> dict[str, object]:
    """Return an audit row as JSON values."""
    return {
        "sequence": row.sequence,
        "happened": row.happened,
        "kind": row.kind,
        "body": json.loads(row.body),
        "hash": row.hash,
    }


def _row_text(row: AuditRow, alert: Alert, garden: Garden) -> str:
    """Return an audit row in a few words, as far as it is about an alert."""
    body = json.loads(row.body)
    if row.kind == "evaluation":
        sources = ", ".join(f"{each['source']} made {each['forecast_reference_time']}" for each in body["sources"])
        seen = [each for each in body["assessments"] if each["group"] == alert.group]
        rules = "; ".join(_assessment_words(each, garden) for each in seen)
        return f"seen: {sources or 'no usable forecast'}. {rules}".rstrip()
    if row.kind == "transition":
        changes = f" ({', '.join(body['changes'])})" if body["changes"] else ""
        told = "silently" if body["notice"] is None else f"told as {body['notice']}"
        return f"{body['event']}: {body['from'] or 'nothing'} to {body['to']}, {told}{changes}"
    if row.kind == "letter":
        return f"letter {body['reference']} to {body['recipient']}: {body['subject']}"
    if row.kind == "send":
        return f"sent to {body['recipient']} by {body['channel']}: {body['outcome']}, {body['reason']}"
    return f"{row.kind}: {body.get('said', '')}".rstrip(": ")


def _assessment_words(assessment: dict[str, object], garden: Garden) -> str:
    """Return an assessment of the audit log in the reader's unit."""
    critical = threshold_text(float(str(assessment["critical"])), garden.units)
    spells = assessment["spells"]
    if not isinstance(spells, list) or not spells:
        return f"{assessment['rule']} {critical}: nothing threatens"
    first = spells[0]
    lowest = temperature_text(first["minimum"], garden.units)
    return (
        f"{assessment['rule']} {critical}: lowest {lowest} from {first['onset']}, "
        f"probability {100 * first['probability']:.0f} %"
    )


@click.group()
def audit() -> None:
    """Look into the audit log, or prove that it is whole."""


@audit.command("verify")
@config_option
@json_option
@click.option("--head", "heads", multiple=True, help="A head kept elsewhere, like 1234:ab12cd34ef56; may be repeated.")
def audit_verify(config_path: Path | None, heads: tuple[str, ...], *, as_json: bool) -> None:
    """Find any edit, deletion, reordering or truncation, and say where."""
    loaded = load_configuration(config_path)
    try:
        outside = [Head.parse(text) for text in heads]
    except ValueError as error:
        raise ConfigurationError([Problem("--head", str(error), "copy it from a message or the daily line")]) from error
    if not loaded.database.exists():
        raise ConfigurationError(
            [Problem(str(loaded.database), "there is no database yet", "start alertd run, or name another --config")]
        )
    with open_store_to_read(loaded) as store:
        head = str(store.head())
        faults = store.verify_audit(outside)
    if as_json:
        print_json({"head": head, "faults": [{"sequence": each.sequence, "text": each.text} for each in faults]})
    elif faults:
        for fault in faults:
            click.echo(f"row {fault.sequence}: {fault.text}" if fault.sequence else fault.text)
    else:
        click.echo(f"The audit log is whole, up to {head}.")
    sys.exit(1 if faults else 0)


@audit.command("show")
@config_option
@json_option
@click.option("--last", default=20, show_default=True, type=click.IntRange(min=1), help="How many rows.")
@click.option("--kind", help="Only rows of this kind, like transition or send.")
def audit_show(config_path: Path | None, last: int, kind: str | None, *, as_json: bool) -> None:
    """Show the last rows."""
    loaded = load_configuration(config_path)
    with open_store_to_read(loaded) as store:
        rows = []
        for row in _rows_backwards(store):
            if kind is None or row.kind == kind:
                rows.append(row)
            if len(rows) == last:
                break
    rows.reverse()
    if as_json:
        print_json([_row_facts(row) for row in rows])
        return
    for row in rows:
        click.echo(f"{row.sequence}  {row.happened}  {row.kind}  {row.hash[:12]}  {row.body}")


@audit.command("export")
@config_option
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="File to write. Default: standard output.")
def audit_export(config_path: Path | None, out: Path | None) -> None:
    """Write every row as one JSON line."""
    loaded = load_configuration(config_path)
    with open_store_to_read(loaded) as store:
        lines = (json.dumps(_row_facts(row), ensure_ascii=False) + "\n" for row in store.audit_rows())
        if out is None:
            for line in lines:
                click.echo(line, nl=False)
            return
        try:
            with out.open("w", encoding="utf-8") as file:
                file.writelines(lines)
        except OSError as error:
            raise ConfigurationError(
                [Problem(str(out), f"cannot be written ({error.strerror})", "choose another --out")]
            ) from error
    click.echo(f"Written to {out}.")
