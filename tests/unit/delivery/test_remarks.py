from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

from alertd.delivery import SENT_AGAIN, is_report, not_taken, put_at_end, put_in_front, report_unreached

NOW = datetime(2026, 1, 22, 10, tzinfo=UTC)


def test_a_line_in_front_stands_before_both_forms(letter):
    changed = put_in_front(letter, "a < b")
    assert changed.text == f"a < b\n\n{letter.text}"
    assert changed.html == "<html><body class='x'><p>a &lt; b</p><p>Wrap 4 figs</p></body></html>"
    assert changed.reference == letter.reference


def test_a_line_at_the_end_stands_after_both_forms(letter):
    changed = put_at_end(letter, SENT_AGAIN)
    assert changed.text.endswith(f"expected \u221211 °C\n\n{SENT_AGAIN}\n")
    assert changed.html == f"<html><body class='x'><p>Wrap 4 figs</p><p>{SENT_AGAIN}</p></body></html>"
    assert changed.reference == letter.reference


def test_html_without_a_body_element_gets_its_lines_too(letter):
    bare = replace(letter, html="<p>x</p>")
    assert put_in_front(bare, "a").html == "<p>a</p><p>x</p>"
    assert put_at_end(bare, "a").html == "<p>x</p><p>a</p>"


def test_a_report_names_who_was_not_reached_and_what_about(letter):
    report = report_unreached(letter, "Ben", number=4, channel="phone", reason="HTTP 404", now=NOW)
    assert report.recipient == "Ben"
    assert report.reference == "N7-1-unreached-4"
    assert report.subject == f"Ann could not be reached: {letter.subject}"
    for words in ("Ann", "phone", "HTTP 404", letter.subject, "N7-1"):
        assert words in report.text
        assert words in report.html
    assert report.threads == letter.threads


def test_only_reports_are_reports(letter):
    assert not is_report(letter)
    assert is_report(report_unreached(letter, "Ben", number=4, channel="phone", reason="HTTP 404", now=NOW))


def test_the_opening_line_names_the_channel_and_the_reason():
    assert not_taken("phone", "SMTP 550") == (
        'The channel "phone" did not take this message (SMTP 550), so it comes by another one.'
    )
