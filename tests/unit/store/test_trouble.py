import sqlite3

import pytest

from alertd.core import StoreError
from alertd.store.trouble import explained


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (sqlite3.SQLITE_CORRUPT, "is damaged"),
        (sqlite3.SQLITE_IOERR | (3 << 8), "the disk failed"),
        (sqlite3.SQLITE_FULL, "free some space"),
        (sqlite3.SQLITE_READONLY, "this user may write"),
        (sqlite3.SQLITE_TOOBIG, "cannot be used: told so"),
    ],
)
def test_every_code_has_one_line_for_a_person(code, words):
    error = sqlite3.OperationalError("told so")
    error.sqlite_errorcode = code
    with pytest.raises(StoreError, match=words) as caught, explained("/srv/a.sqlite"):
        raise error
    assert "\n" not in str(caught.value)
    assert "/srv/a.sqlite" in str(caught.value)


def test_an_error_without_a_code_is_told_as_it_is():
    error = sqlite3.OperationalError("odd")
    with pytest.raises(StoreError, match="cannot be used: odd"), explained("x"):
        raise error


@pytest.mark.parametrize("kind", [sqlite3.ProgrammingError, sqlite3.IntegrityError, ValueError])
def test_our_own_mistakes_are_not_blamed_on_the_file(kind):
    error = kind("ours")
    with pytest.raises(kind) as caught, explained("x"):
        raise error
    assert caught.value is error
