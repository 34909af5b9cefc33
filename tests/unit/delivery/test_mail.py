from __future__ import annotations

from dataclasses import replace

from alertd.delivery.mail import mail_headers, thread_root


def test_a_mail_says_that_a_program_wrote_it(letter):
    assert mail_headers(letter, "north")["Auto-Submitted"] == "auto-generated"


def test_a_mail_carries_its_reference(letter):
    assert mail_headers(letter, "north")["X-Alertd-Reference"] == "N7-1"


def test_a_mail_belongs_to_the_threads_of_its_alerts_the_most_urgent_as_parent(letter):
    headers = mail_headers(letter, "north")
    assert headers["References"] == "<b2.north@alertd.invalid> <a7.north@alertd.invalid>"
    assert headers["In-Reply-To"] == "<a7.north@alertd.invalid>"


def test_a_letter_without_alerts_belongs_to_no_thread(letter):
    headers = mail_headers(replace(letter, threads=()), "north")
    assert set(headers) == {"Auto-Submitted", "X-Alertd-Reference"}


def test_a_field_never_grows_beyond_a_line(letter):
    many = replace(letter, threads=tuple(f"alert-{number}" for number in range(100)))
    headers = mail_headers(many, "north")
    assert len(headers["References"]) <= 900
    assert headers["References"].endswith(" <alert-1.north@alertd.invalid> <alert-0.north@alertd.invalid>")
    one = replace(letter, threads=("x" * 950,))
    assert mail_headers(one, "north")["References"] == thread_root("x" * 950, "north")


def test_an_id_that_a_header_cannot_hold_is_made_fit():
    assert thread_root("fig/2026 01\r\nBcc: x", "grüner-hof") == "<fig-2026-01-Bcc-x.gr-ner-hof@alertd.invalid>"
    assert thread_root("", "…") == "<x.x@alertd.invalid>"
