"""Thermometers in the configuration."""

from __future__ import annotations

import pytest

TOKEN = "canary-token-of-thermometers"


def with_section(valid: str, section: str) -> str:
    """Return the valid configuration with a section of observations."""
    return f"{valid}\n[observations]\n{section}\n"


def with_token(tmp_path) -> None:
    """Put the token into a credential file."""
    folder = tmp_path / "credentials"
    folder.mkdir(exist_ok=True)
    (folder / "devices").write_text(TOKEN)
    (folder / "devices").chmod(0o600)


def test_nothing_is_observed_unless_asked_for(loaded, valid):
    observations = loaded(valid).observations
    assert (observations.file, observations.push, observations.nearest_stations) == (None, None, False)


def test_a_file_and_a_place_for_devices(loaded, valid, tmp_path):
    with_token(tmp_path)
    section = 'file = "barn.csv"\nstation = "barn"\npush = "127.0.0.1:8790"\npush_token = "devices"'
    result = loaded(with_section(valid, section))
    assert result.observations.file == tmp_path / "barn.csv"
    assert result.observations.station == "barn"
    assert (result.observations.push.address, result.observations.push.port) == ("127.0.0.1", 8790)
    assert TOKEN not in repr(result)


@pytest.mark.parametrize(
    ("section", "line"),
    [
        ('push = "127.0.0.1:8790"', "observations.push_token: is missing, and its other half is there; add it"),
        ('push_token = "devices"', "observations.push: is missing, and its other half is there; add it"),
        (
            'push = "everywhere"\npush_token = "devices"',
            (
                "observations.push: has characters that do not belong there; write an address and a port, like "
                "127.0.0.1:8790"
            ),
        ),
        (
            'push = "8.8.8.8:80"\npush_token = "devices"',
            (
                "observations.push: 8.8.8.8 is not an address of a private network; name the one in your own network; "
                "compare it with the documentation of the key"
            ),
        ),
        (
            "nearest_stations = true",
            (
                "site.contact: is missing, and the weather service wants to know whom it may write to; add a mail "
                "address, or leave out observations.nearest_stations"
            ),
        ),
    ],
)
def test_what_is_wrong_is_told(problems, valid, tmp_path, section, line):
    with_token(tmp_path)
    assert problems(with_section(valid, section)) == [line]


def test_a_token_that_is_not_there_is_told(problems, valid):
    (line,) = problems(with_section(valid, 'push = "127.0.0.1:8790"\npush_token = "devices"'))
    assert line.startswith("observations.push_token: there is no file")
