"""A decision as facts for the audit log."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import numpy as np

from alertd.audit import AuditEvent
from alertd.core import instant_text

from .model_evidence import lowest_facts, model_evidence

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import datetime

    from alertd.alerts import Announcement, Decision, Notice, Transition
    from alertd.messages import Letter
    from alertd.risk import Assessment, ColdSpell
    from alertd.weather import Finding, Forecast, PublicWarning


def evaluation_event(decision: Decision, findings: Sequence[Finding]) -> AuditEvent:
    """Return what an evaluation saw and thought.

    Parameters
    ----------
    decision : Decision
        The evaluation.
    findings : sequence of Finding
        What quality control found in forecasts that were not seen before.

    Returns
    -------
    AuditEvent
        Kind ``evaluation``.
    """
    view = decision.outlook
    body = {
        "sources": [_forecast(forecast) for forecast in view.used],
        "refused": [
            {"source": refusal.source, "reason": refusal.reason, "is_used": refusal.is_used} for refusal in view.refused
        ],
        "findings": [finding.text for finding in findings],
        "disagreement": None if view.merged is None else _rounded(view.merged.disagreement),
        "conditions": {group: condition.cover.value for group, condition in decision.conditions.items()},
        "assessments": [_assessment(each) for each in decision.assessments],
    }
    return AuditEvent(decision.now, "evaluation", body)


def transition_events(now: datetime, transitions: Iterable[Transition]) -> list[AuditEvent]:
    """Return the steps in the lives of alerts.

    Parameters
    ----------
    now : datetime
        Aware UTC.
    transitions : iterable of Transition
        In order.

    Returns
    -------
    list of AuditEvent
        Kind ``transition``.
    """
    return [AuditEvent(now, "transition", _transition(each)) for each in transitions]


def letter_event(letter: Letter, channels: Sequence[str]) -> AuditEvent:
    """Return that a letter was put into the outbox.

    Parameters
    ----------
    letter : Letter
        The letter; its text is kept in the outbox, its digest here.
    channels : sequence of str
        Names of channels, in order.

    Returns
    -------
    AuditEvent
        Kind ``letter``.
    """
    body = {
        "reference": letter.reference,
        "recipient": letter.recipient,
        "channels": list(channels),
        "subject": letter.subject,
        "threads": list(letter.threads),
        "text_sha256": hashlib.sha256(letter.text.encode()).hexdigest(),
    }
    return AuditEvent(letter.composed, "letter", body)


def _forecast(forecast: Forecast) -> dict[str, object]:
    """Return a forecast by its names and a digest of its values."""
    series = forecast.series
    digest = hashlib.sha256(np.ascontiguousarray(series.times).tobytes())
    digest.update(np.ascontiguousarray(series.air_temperature).tobytes())
    return {
        "source": forecast.source,
        "forecast_reference_time": instant_text(forecast.forecast_reference_time),
        "retrieved": instant_text(forecast.retrieved),
        "n_realizations": series.n_realizations,
        "n_times": series.n_times,
        "sha256": digest.hexdigest(),
        "credits": forecast.credits,
        "problem": forecast.problem or None,
        **({} if forecast.warnings is None else {"warnings": [_warning(each) for each in forecast.warnings]}),
    }


def _warning(warning: PublicWarning) -> dict[str, object]:
    """Return what a weather service warns of."""
    return {
        "event": warning.event,
        "sent": instant_text(warning.sent),
        "onset": None if warning.onset is None else instant_text(warning.onset),
        "ends": None if warning.ends is None else instant_text(warning.ends),
        "severity": warning.severity,
    }


def _assessment(assessment: Assessment) -> dict[str, object]:
    """Return what a rule says of a group."""
    threshold = assessment.threshold
    return {
        "group": assessment.group,
        "rule": threshold.rule.value,
        "critical": _rounded(threshold.critical.temperature),
        "gain": _rounded(threshold.gain),
        "spells": [_spell(spell) for spell in assessment.spells],
        **({} if threshold.felt is None else {"model": lowest_facts(threshold.felt)}),
    }


def _spell(spell: ColdSpell) -> dict[str, object]:
    """Return a cold spell."""
    return {
        "onset": instant_text(spell.onset),
        "end": instant_text(spell.end),
        "probability": _rounded(spell.probability),
        "minimum": _rounded(spell.minimum),
        "margin": _rounded(spell.margin),
    }


def _transition(transition: Transition) -> dict[str, object]:
    """Return a step in the life of an alert."""
    before, after = transition.before, transition.after
    return {
        "alert_id": after.alert_id,
        "group": after.group,
        "action": after.action.value,
        "rule": after.rule.value,
        "event": transition.event.value,
        "from": None if before is None else before.state.value,
        "to": after.state.value,
        "notice": None if transition.notice is None else transition.notice.kind.value,
        "changes": [] if transition.notice is None else [change.value for change in transition.notice.changes],
        "revision": after.revision,
        "outcome": None if after.outcome is None else after.outcome.value,
        "announced": announcement_facts(after.announced),
        **_models(transition.notice),
    }


def _models(notice: Notice | None) -> dict[str, object]:
    """Return what models said of an alert, where it was told."""
    models = () if notice is None else notice.models
    facts = [model_evidence(each.rule, each.critical, each.felt) for each in models if each.felt is not None]
    return {"models": facts} if facts else {}


def announcement_facts(told: Announcement) -> dict[str, object]:
    """Return what people were told, as JSON values.

    Parameters
    ----------
    told : Announcement
        An announcement.

    Returns
    -------
    dict
        Temperatures in °C, times as RFC 3339 text.
    """
    return {
        "sent": instant_text(told.sent),
        "message_type": told.message_type.value,
        "response_type": told.response_type.value,
        "severity": told.severity.value,
        "urgency": told.urgency.value,
        "certainty": told.certainty.value,
        "onset": None if told.onset is None else instant_text(told.onset),
        "end": None if told.end is None else instant_text(told.end),
        "start_by": None if told.start_by is None else instant_text(told.start_by),
        "minimum": _rounded(told.minimum),
        "minimum_low": _rounded(told.minimum_low),
        "minimum_high": _rounded(told.minimum_high),
        "probability": _rounded(told.probability),
    }


def _rounded(value: float | None) -> float | None:
    """Return a value with the digits that mean anything."""
    return None if value is None else round(value, 4)
