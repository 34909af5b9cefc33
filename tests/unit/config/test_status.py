"""How others learn that the program lives, in the configuration."""

from __future__ import annotations

import pytest


def with_section(valid: str, section: str) -> str:
    """Return the valid configuration with a section of status."""
    return f"{valid}\n[status]\n{section}\n"


def test_nobody_is_answered_unless_asked_for(loaded, valid):
    assert loaded(valid).status.listen is None


def test_it_listens_on_loopback(loaded, valid):
    assert loaded(with_section(valid, 'listen = "127.0.0.1:9108"')).status.listen == ("127.0.0.1", 9108)


def test_it_listens_for_other_machines_only_when_told_so(loaded, problems, valid):
    assert problems(with_section(valid, 'listen = "0.0.0.0:9108"')) == [
        (
            "status.listen: can be reached from other machines; listen at 127.0.0.1, or set "
            "status.open_to_network to true if others shall ask"
        )
    ]
    opened = loaded(with_section(valid, 'listen = "0.0.0.0:9108"\nopen_to_network = true'))
    assert opened.status.listen == ("0.0.0.0", 9108)


@pytest.mark.parametrize("text", ["127.0.0.1:70000", "300.0.0.1:80"])
def test_what_is_no_address_is_told(problems, valid, text):
    assert problems(with_section(valid, f'listen = "{text}"')) == [
        "status.listen: is no address and port; write one like 127.0.0.1:9108"
    ]


def test_an_address_without_a_port_is_told(problems, valid):
    (line,) = problems(with_section(valid, 'listen = "127.0.0.1"'))
    assert line.startswith("status.listen: has characters that do not belong there")
