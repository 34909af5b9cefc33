"""Values that people write as text: lengths of time, times of day, days of the year."""

from __future__ import annotations

import re
from datetime import date, time, timedelta
from difflib import get_close_matches
from typing import Annotated, NoReturn
from zoneinfo import ZoneInfo, available_timezones

from pydantic import AfterValidator, Field, WithJsonSchema
from pydantic_core import PydanticCustomError

from alertd.site import MonthDay, QuietHours

#: Type of the errors that this package's own validators raise.
OWN_ERROR = "alertd"

_LENGTH_PATTERN = r"^[0-9]{1,9}(\.[0-9]{1,6})? ?(s|min|h|d)$"
_LENGTH = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,6})?) ?(s|min|h|d)", flags=re.ASCII)
_CLOCK_PATTERN = r"^([01][0-9]|2[0-3]):[0-5][0-9]$"
_SPAN_PATTERN = r"^([01][0-9]|2[0-3]):[0-5][0-9] ?- ?([01][0-9]|2[0-3]):[0-5][0-9]$"
_DAY_PATTERN = r"^(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$"
_MAIL = re.compile(r"[^@\s]+@[^@\s]+\.[^@\s]+")

#: [s] in each unit of a length of time. By definition.
_SECONDS_IN = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}

#: A year that is no leap year: 29 February comes too seldom to be a last-freeze date.
_COMMON_YEAR = 2001


def length_of_time(text: str) -> timedelta:
    """Return the length of time that a text names.

    Parameters
    ----------
    text : str
        A number and one of ``s``, ``min``, ``h``, ``d``.

    Returns
    -------
    timedelta
        The length.

    Raises
    ------
    ValueError
        If the text has another form.

    Examples
    --------
    >>> length_of_time("1.5h")
    datetime.timedelta(seconds=5400)
    """
    match = _LENGTH.fullmatch(text)
    if match is None:
        message = "not a length of time"
        raise ValueError(message)
    return timedelta(seconds=float(match[1]) * _SECONDS_IN[match[2]])


def time_of_day(text: str) -> time:
    """Return the time of day that a text like ``07:30`` names.

    Parameters
    ----------
    text : str
        Hours and minutes.

    Returns
    -------
    datetime.time
        Without a zone.

    Raises
    ------
    ValueError
        If the text has another form.

    Examples
    --------
    >>> time_of_day("07:30")
    datetime.time(7, 30)
    """
    if re.fullmatch(_CLOCK_PATTERN, text) is None:
        message = "not a time of day"
        raise ValueError(message)
    return time.fromisoformat(text)


def quiet_hours(text: str) -> QuietHours:
    """Return the hours that a text like ``22:00-06:30`` names.

    Parameters
    ----------
    text : str
        Two times of day; the second may be on the next day.

    Returns
    -------
    QuietHours
        From the first to the second.

    Raises
    ------
    ValueError
        If the text has another form, or both times are the same.

    Examples
    --------
    >>> quiet_hours("22:00-06:30").end
    datetime.time(6, 30)
    """
    if re.fullmatch(_SPAN_PATTERN, text) is None:
        message = "not two times of day"
        raise ValueError(message)
    start, _, end = text.partition("-")
    return QuietHours(time_of_day(start.strip()), time_of_day(end.strip()))


def month_day(text: str) -> MonthDay:
    """Return the day of the year that a text like ``04-25`` names.

    Parameters
    ----------
    text : str
        Month and day, two digits each.

    Returns
    -------
    MonthDay
        A day that every year has.

    Raises
    ------
    ValueError
        If the text has another form or names no day that every year has.

    Examples
    --------
    >>> str(month_day("04-25"))
    '04-25'
    """
    if re.fullmatch(_DAY_PATTERN, text) is None:
        message = "not a month and a day"
        raise ValueError(message)
    month, day = int(text[:2]), int(text[3:])
    date(_COMMON_YEAR, month, day)
    return MonthDay(month, day)


def time_zone(text: str) -> ZoneInfo:
    """Return the IANA time zone of a name.

    Parameters
    ----------
    text : str
        Like ``America/New_York``.

    Returns
    -------
    zoneinfo.ZoneInfo
        The zone.

    Raises
    ------
    ValueError
        If there is no such zone.
    """
    try:
        return ZoneInfo(text)
    except (KeyError, OSError, ValueError) as error:
        message = "not a time zone"
        raise ValueError(message) from error


def refuse(what: str, mend: str) -> NoReturn:
    """Refuse a value from within a validator.

    Parameters
    ----------
    what, mend : str
        As in `Problem`; must not hold the value.

    Raises
    ------
    PydanticCustomError
        Always; `model_problems` turns it into a `Problem`.
    """
    error = PydanticCustomError(OWN_ERROR, "refused", {"what": what, "mend": mend})
    raise error from None


def _length_between(shortest: str, longest: str, examples: str = '"30min", "72h" or "2d"') -> AfterValidator:
    least, most = length_of_time(shortest), length_of_time(longest)

    def check(text: str) -> str:
        mend = f'write text from "{shortest}" to "{longest}", like {examples}'
        try:
            length = length_of_time(text)
        except ValueError:
            refuse("is not a length of time", mend)
        if length < least:
            refuse("is too short a time", mend)
        if length > most:
            refuse("is too long a time", mend)
        return text

    return AfterValidator(check)


def _check_time_of_day(text: str) -> str:
    try:
        time_of_day(text)
    except ValueError:
        refuse("is not a time of day", 'write hours and minutes as text, like "07:30"')
    return text


def _check_quiet_hours(text: str) -> str:
    try:
        quiet_hours(text)
    except ValueError:
        refuse("is no span from one time of day to another", 'write it as text, like "22:00-06:30"')
    return text


def _check_month_day(text: str) -> str:
    try:
        month_day(text)
    except ValueError:
        refuse("is not a day that every year has", 'write month and day as text, like "04-25" for 25 April')
    return text


def _check_time_zone(text: str) -> str:
    try:
        time_zone(text)
    except ValueError:
        near = get_close_matches(text, sorted(available_timezones()), n=1)
        mend = (
            f'did you mean "{near[0]}"?' if near else 'write an IANA name, like "America/New_York" or "Europe/Berlin"'
        )
        refuse("is not a known time zone", mend)
    return text


def _check_mail_address(text: str) -> str:
    if text and _MAIL.fullmatch(text) is None:
        refuse("is not a mail address", "write one like keeper@example.org, or leave the key out")
    return text


def _check_is_no_address(text: str) -> str:
    """Refuse an address in place of a path: it may hold a password, and paths are repeated in messages."""
    if "://" in text:
        refuse("is an address and no path", "write the path of a file or directory on this machine")
    return text


def _length_schema() -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "pattern": _LENGTH_PATTERN})


#: Looking ahead: from an hour to 16 days, the reach of the longest public forecasts (from memory).
Horizon = Annotated[str, _length_between("1h", "16d"), _length_schema()]
#: A gap between cold nights, or the age of a forecast.
Gap = Annotated[str, _length_between("1s", "10d"), _length_schema()]
#: A pause of the daemon.
Pause = Annotated[str, _length_between("1s", "1d"), _length_schema()]
#: How long one send may take.
Deadline = Annotated[str, _length_between("1s", "5min"), _length_schema()]
#: How long something is kept that the season, and reports about the last one, rest on.
Keeping = Annotated[str, _length_between("400d", "36500d", '"800d"'), _length_schema()]
#: How long something is kept that is of use for a while.
ShortKeeping = Annotated[str, _length_between("7d", "400d", '"60d"'), _length_schema()]
#: In which a room follows the air outside.
Lag = Annotated[str, _length_between("1h", "10d", '"20h" or "2d"'), _length_schema()]
#: Time before a deadline at which people are reminded.
Notice = Annotated[str, _length_between("0s", "2d"), _length_schema()]

TimeOfDay = Annotated[
    str, AfterValidator(_check_time_of_day), WithJsonSchema({"type": "string", "pattern": _CLOCK_PATTERN})
]
QuietSpan = Annotated[
    str, AfterValidator(_check_quiet_hours), WithJsonSchema({"type": "string", "pattern": _SPAN_PATTERN})
]
DayOfYear = Annotated[
    str, AfterValidator(_check_month_day), WithJsonSchema({"type": "string", "pattern": _DAY_PATTERN})
]
ZoneName = Annotated[str, AfterValidator(_check_time_zone), WithJsonSchema({"type": "string", "minLength": 1})]
MailAddress = Annotated[str, Field(max_length=254), AfterValidator(_check_mail_address)]

#: One line of text for people.
Line = Annotated[str, Field(min_length=1, max_length=200, pattern=r"^[^\u0000-\u001f\u007f]*$")]
#: Text for people that may have several lines.
Lines = Annotated[str, Field(max_length=2000, pattern=r"^[^\u0000-\u0008\u000b-\u001f\u007f]*$")]
#: Path of a file.
PathText = Annotated[
    str,
    Field(min_length=1, max_length=1000, pattern=r"^[^\u0000-\u001f\u007f]*$"),
    AfterValidator(_check_is_no_address),
]
#: Short name for commands and the log.
Slug = Annotated[str, Field(max_length=40, pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$")]
#: Name of a hardiness class.
ClassName = Annotated[str, Field(max_length=40, pattern=r"^[a-z][a-z0-9_]*$")]
#: Name of a credential file: never a path.
CredentialName = Annotated[str, Field(max_length=100, pattern=r"^[A-Za-z0-9_][A-Za-z0-9._-]*$")]

#: Name of a number of the models.
ParameterName = Annotated[str, Field(max_length=60, pattern=r"^[a-z][a-z0-9_]*$")]

#: A number as TOML has it: an integer or a float, neither text nor true or false.
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
#: A whole number as TOML has it.
Whole = Annotated[int, Field(strict=True)]
#: ``true`` or ``false``.
YesNo = Annotated[bool, Field(strict=True)]
#: Address of a web service: http or https, a host, no user, no password, no question.
HttpAddress = Annotated[
    str, Field(max_length=300, pattern=r"^https?://[A-Za-z0-9.-]+(:[0-9]{1,5})?(/[A-Za-z0-9._~/-]*)?$")
]
#: IPv4 address and port at which to listen.
ListenAddress = Annotated[str, Field(pattern=r"^[0-9]{1,3}(\.[0-9]{1,3}){3}:[0-9]{1,5}$")]
#: Name of a thermometer.
StationName = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]{0,63}$")]
