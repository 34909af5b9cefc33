import io
import socket
import time

import pytest

from alertd.sources.small_connection import DeadlineReader


@pytest.fixture
def ends():
    one, other = socket.socketpair()
    with one, other:
        yield one, other


def test_after_the_deadline_nothing_is_read_though_it_is_there(ends):
    one, other = ends
    other.sendall(b"early")
    with pytest.raises(TimeoutError):
        DeadlineReader(one, time.monotonic() - 1.0, 100).read(5)


def test_silence_is_waited_for_until_the_deadline(ends):
    begun = time.monotonic()
    with pytest.raises(TimeoutError):
        DeadlineReader(ends[0], begun + 0.2, 100).read(5)
    assert 0.15 < time.monotonic() - begun < 5.0


def test_after_so_many_bytes_it_seems_to_end(ends):
    one, other = ends
    other.sendall(b"a long story")
    with io.BufferedReader(DeadlineReader(one, time.monotonic() + 5.0, 6)) as reader:
        assert reader.read(100) == b"a long"
        assert reader.read(100) == b""
