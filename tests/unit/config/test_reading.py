from hashlib import sha256

import pytest

from alertd.config.reading import LARGEST_FILE, read_toml
from alertd.core import ConfigurationError


@pytest.fixture
def refused(tmp_path):
    def refused_text(content):
        path = tmp_path / "a.toml"
        path.write_bytes(content)
        with pytest.raises(ConfigurationError) as caught:
            read_toml(path)
        return str(caught.value).replace(str(path), "a.toml")

    return refused_text


def test_a_file_is_read_as_toml(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text("[a]\nb = 1\n")
    assert read_toml(path) == ({"a": {"b": 1}}, sha256(path.read_bytes()).hexdigest())


def test_a_directory_is_no_file(tmp_path):
    with pytest.raises(ConfigurationError) as caught:
        read_toml(tmp_path)
    assert str(caught.value) == f"{tmp_path}: is a directory; name the configuration file in it"


def test_a_path_below_a_file_cannot_be_read(tmp_path):
    (tmp_path / "a").touch()
    with pytest.raises(ConfigurationError, match=r"cannot be read \(Not a directory\); check its owner"):
        read_toml(tmp_path / "a" / "b.toml")


def test_a_name_that_is_no_path_is_refused(tmp_path):
    with pytest.raises(ConfigurationError, match="the name is not a path"):
        read_toml(tmp_path / "a\0b")


def test_broken_toml_is_told_with_its_line(refused):
    assert refused(b"a = 1\nb = \n") == (
        "a.toml line 2: is not valid TOML (invalid value); compare the line with the examples; text needs double quotes"
    )
    assert refused(b"a = 1\n\nb 2\n").startswith(
        "a.toml line 3: is not valid TOML (expected '=' after a key in a key/value pair);"
    )


def test_toml_that_ends_too_early_is_told_with_its_last_line(refused):
    assert refused(b"a = 1\nb = [1,\n").startswith("a.toml line 3: is not valid TOML (")
    assert refused(b'a = """x\n').startswith("a.toml line 2: is not valid TOML (")


def test_keys_are_not_repeated_from_broken_toml(refused):
    assert refused(b"[hunter2]\n[hunter2]\n").startswith(
        "a.toml line 2: is not valid TOML (cannot declare a table twice);"
    )
    assert refused(b"a = {hunter2 = 1, hunter2 = 2}\n").startswith(
        "a.toml line 1: is not valid TOML (duplicate inline table key);"
    )


def test_an_unfinished_secret_is_not_repeated(refused):
    assert "hunter2" not in refused(b'url = "json://hunter2@example.org\n')


def test_text_that_is_not_utf8_is_told_with_its_line(refused):
    assert refused(b"a = 1\nb = '\xff'\n") == "a.toml line 2: is not UTF-8 text; save the file as UTF-8"


def test_too_deep_and_too_long_values_are_refused(refused):
    expected = "a.toml: is not valid TOML (a value is too deep or too long); shorten it"
    assert refused(b"a = " + b"[" * 100_000) == expected
    assert refused(b"a = " + b"9" * 5000) == expected


def test_a_file_that_is_far_too_large_is_not_read(refused):
    assert refused(b"#" * (LARGEST_FILE + 1)) == "a.toml: is too large for a configuration; name another file"
