import os

import pytest

from alertd.core import SourceMalformed, SourceUnavailable
from alertd.sources.observations import GrowingFile

HEADER = "time,air_temperature[Cel]\n"


@pytest.fixture
def path(tmp_path):
    return tmp_path / "barn.csv"


def append(path, text):
    with path.open("a", encoding="utf-8") as file:
        file.write(text)


def looked(growing):
    """Look once and accept."""
    new = growing.look()
    growing.accept(new)
    return new


def test_only_new_lines_are_read(path):
    growing = GrowingFile(path)
    path.write_text(f"{HEADER}a\nb\n")
    new = looked(growing)
    assert (new.header, new.lines, new.remarks) == (HEADER.strip(), ("a", "b"), ())
    assert looked(growing).lines == ()
    append(path, "c\n")
    assert looked(growing).lines == ("c",)


def test_what_is_not_accepted_comes_again(path):
    growing = GrowingFile(path)
    path.write_text(f"{HEADER}a\n")
    assert growing.look().lines == ("a",)
    assert looked(growing).lines == ("a",)


def test_a_half_written_last_line_is_left_for_the_next_look(path):
    growing = GrowingFile(path)
    path.write_text(f"{HEADER}a\nhal")
    assert looked(growing).lines == ("a",)
    append(path, "f\nnext")
    assert looked(growing).lines == ("half",)


def test_a_half_written_header_is_left_for_the_next_look(path):
    growing = GrowingFile(path)
    path.write_text("")
    assert looked(growing).header == ""
    append(path, "time,air")
    assert looked(growing).lines == ()
    append(path, "_temperature[Cel]\r\na\r\n")
    new = looked(growing)
    assert (new.header, new.lines) == (HEADER.strip(), ("a\r",))


def test_a_replaced_file_is_read_from_its_beginning(path):
    growing = GrowingFile(path)
    path.write_text(f"{HEADER}a\n")
    looked(growing)
    path.rename(path.with_suffix(".old"))
    path.write_text(f"{HEADER}a\nb\nc\n")
    new = looked(growing)
    assert new.lines == ("a", "b", "c")
    assert new.remarks == ("barn.csv: is another file than before; it is read from its beginning",)


def test_a_truncated_file_is_read_from_its_beginning(path):
    growing = GrowingFile(path)
    path.write_text(f"{HEADER}a\nb\n")
    looked(growing)
    with path.open("r+") as file:
        file.truncate(0)
        file.write(f"{HEADER}c\n")
    new = looked(growing)
    assert new.lines == ("c",)
    assert new.remarks == ("barn.csv: is shorter than before; it is read from its beginning",)


def test_a_file_that_was_written_anew_and_has_grown_beyond_is_noticed(path):
    growing = GrowingFile(path)
    path.write_text(f"{HEADER}a\n")
    looked(growing)
    with path.open("r+") as file:
        file.write(f"{HEADER}x\ny\nz\n")
    new = looked(growing)
    assert new.lines == ("x", "y", "z")
    assert new.remarks == ("barn.csv: does not hold the same as before; it is read from its beginning",)


def test_a_truncated_file_without_a_header_yet_is_waited_for(path):
    growing = GrowingFile(path)
    path.write_text(f"{HEADER}a\n")
    looked(growing)
    with path.open("r+") as file:
        file.truncate(0)
    new = looked(growing)
    assert (new.header, len(new.remarks)) == ("", 1)
    append(path, f"{HEADER}b\n")
    assert looked(growing).lines == ("b",)


def test_of_very_much_only_the_end_is_read(path):
    growing = GrowingFile(path, largest_read=20)
    path.write_text(HEADER + "".join(f"row {place}\n" for place in range(9)))
    new = looked(growing)
    assert new.lines == ("row 6", "row 7", "row 8")
    assert new.remarks == ("barn.csv: more than 20 bytes are new; only the last of them are read",)
    append(path, "row 9\n")
    assert looked(growing).lines == ("row 9",)


def test_bytes_that_are_no_text_do_not_stop_the_reading(path):
    path.write_bytes(HEADER.encode() + b"\xff\xfe\nb\n")
    assert GrowingFile(path).look().lines == ("\ufffd\ufffd", "b")


def test_a_file_without_line_ends_is_refused(path):
    path.write_text(HEADER + "x" * 50)
    with pytest.raises(SourceMalformed, match=r"barn\.csv: there is no line end in 20 bytes; write one row a line"):
        GrowingFile(path, largest_read=20).look()
    path.write_text("x" * 5000)
    with pytest.raises(SourceMalformed, match="the first line is too long; begin with a line like"):
        GrowingFile(path).look()


def test_a_file_that_cannot_be_read_is_named(path):
    with pytest.raises(SourceUnavailable, match=r"barn\.csv: the file cannot be read \(No such file or directory\)"):
        GrowingFile(path).look()


def test_a_folder_or_a_pipe_is_no_file_and_is_not_waited_for(path):
    os.mkfifo(path)
    for place in (path, path.parent):
        with pytest.raises(SourceUnavailable, match=r"no regular file|Is a directory"):
            GrowingFile(place).look()
