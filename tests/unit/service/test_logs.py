from __future__ import annotations

import io
import logging
import re

from apscheduler.schedulers.background import BackgroundScheduler

from alertd.core import StoreError
from alertd.service import configure_logging, error_text


def test_a_record_is_one_line_with_utc_time_level_and_message():
    stream = io.StringIO()
    configure_logging(stream)
    logging.getLogger("alertd.watch").warning("two\nlines and \x1b[31m%s\u2028", "colour")
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ WARNING two lines and  \[31mcolour\n", stream.getvalue())


def test_a_traceback_never_gets_into_the_log():
    stream = io.StringIO()
    configure_logging(stream)
    try:
        raise RuntimeError("s3cr3t")  # noqa: EM101, TRY301
    except RuntimeError:
        logging.getLogger("alertd").exception("it failed")
    assert stream.getvalue().endswith("Z ERROR it failed\n")
    assert "s3cr3t" not in stream.getvalue()


def test_lines_below_the_level_are_left_out_and_configuring_twice_writes_once():
    stream = io.StringIO()
    configure_logging(stream, logging.WARNING)
    configure_logging(stream, logging.WARNING)
    logging.getLogger("alertd").info("quiet")
    logging.getLogger("alertd").warning("loud")
    assert stream.getvalue().count("\n") == 1


def test_standard_error_is_where_it_goes_and_the_schedulers_library_stays_silent(capfd):
    configure_logging()
    logging.getLogger("alertd").info("here")
    logging.getLogger("apscheduler.executors.default").error("a traceback")
    BackgroundScheduler().start()
    out, err = capfd.readouterr()
    assert out == ""
    assert err.endswith("INFO here\n")
    assert err.count("\n") == 1


def test_an_error_for_people_is_told_with_its_text_and_any_other_with_its_place():
    assert error_text(StoreError("database x: locked; wait")) == "StoreError: database x: locked; wait"
    try:
        int("s3cr3t")
    except ValueError as error:
        told = error_text(error)
    assert re.fullmatch(rf"ValueError in {re.escape(__name__)} line \d+", told)
    assert error_text(ValueError("s3cr3t")) == "ValueError"
