from __future__ import annotations

import errno
import io
import os
import stat
from dataclasses import replace
from pathlib import Path

import pytest

from alertd.delivery import Outcome
from alertd.delivery.letterbox import file_letter, show_letter
from alertd.delivery.verdict import Phrase


def test_a_terminal_shows_subject_and_text(letter):
    stream = io.StringIO()
    assert show_letter(letter, stream).outcome is Outcome.ACCEPTED
    assert stream.getvalue() == f"{letter.subject}\n\nWrap 4 figs, start by 14:10.\n\n  expected \u221211 °C\n"


def test_a_terminal_that_cannot_show_a_character_shows_the_rest(letter):
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii")
    assert show_letter(letter, stream).outcome is Outcome.ACCEPTED
    assert b"expected ?11 ?C" in raw.getvalue()


def test_a_terminal_that_is_gone_is_unavailable(letter):
    stream = io.StringIO()
    stream.close()
    assert show_letter(letter, stream).phrase is Phrase.CANNOT_WRITE


def test_a_full_device_is_unavailable(letter):
    with Path("/dev/full").open("w", encoding="utf-8", buffering=1) as stream:
        verdict = show_letter(letter, stream)
        with pytest.raises(OSError, match="No space"):
            stream.close()
    assert (verdict.outcome, verdict.phrase) == (Outcome.UNAVAILABLE, Phrase.NO_SPACE)


def test_a_directory_gets_both_forms_for_the_owner_alone(letter, tmp_path):
    directory = tmp_path / "new" / "letters"
    assert file_letter(letter, directory).outcome is Outcome.ACCEPTED
    assert {path.name for path in directory.iterdir()} == {"N7-1.txt", "N7-1.html"}
    assert (directory / "N7-1.txt").read_text(encoding="utf-8").startswith(f"{letter.subject}\n\nWrap 4 figs")
    assert (directory / "N7-1.html").read_text(encoding="utf-8") == letter.html
    for path in directory.iterdir():
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_letter_that_comes_again_replaces_itself(letter, tmp_path):
    file_letter(letter, tmp_path)
    file_letter(replace(letter, text="again"), tmp_path)
    assert len(list(tmp_path.iterdir())) == 2
    assert (tmp_path / "N7-1.txt").read_text(encoding="utf-8").endswith("again\n")


@pytest.mark.parametrize(
    ("reference", "name"), [("../../etc/x", "-..-etc-x.txt"), ("a b/c", "a-b-c.txt"), ("..", "letter.txt")]
)
def test_a_reference_never_leaves_the_directory(letter, tmp_path, reference, name):
    directory = tmp_path / "a" / "b"
    file_letter(replace(letter, reference=reference), directory)
    assert (directory / name).is_file()
    assert [path.name for path in tmp_path.iterdir()] == ["a"]
    assert [path.name for path in (tmp_path / "a").iterdir()] == ["b"]


def test_a_path_below_a_file_cannot_be_written(letter, tmp_path):
    (tmp_path / "file").write_text("")
    verdict = file_letter(letter, tmp_path / "file" / "letters")
    assert (verdict.outcome, verdict.phrase) == (Outcome.UNAVAILABLE, Phrase.CANNOT_WRITE)


@pytest.mark.parametrize(("name", "text"), [("a\0b", "text"), ("letters", "half a \ud83c pair")])
def test_what_no_file_can_hold_cannot_be_written(letter, tmp_path, name, text):
    verdict = file_letter(replace(letter, text=text), tmp_path / name)
    assert (verdict.outcome, verdict.phrase) == (Outcome.UNAVAILABLE, Phrase.CANNOT_WRITE)


def test_a_failed_write_leaves_nothing_behind(letter, tmp_path, monkeypatch):
    def full(_descriptor):
        raise OSError(errno.ENOSPC, "full")

    monkeypatch.setattr(os, "fsync", full)
    verdict = file_letter(letter, tmp_path)
    assert (verdict.outcome, verdict.phrase) == (Outcome.UNAVAILABLE, Phrase.NO_SPACE)
    assert list(tmp_path.iterdir()) == []
