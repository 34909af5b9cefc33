"""What a model refuses, in words for people and without the refused values."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

from alertd.core import Problem, TemperatureUnit

from .document import Document
from .outline import annotation_at, description_at, key_path, keys_at, nearest, shown
from .quantities import OWN_ERROR

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from pydantic_core import ErrorDetails

#: A place in the configuration: keys, and positions in lists.
Path = tuple[str | int, ...]

#: What each pattern of a text asks for, by the last key of its place.
_FORMS = {
    "id": "use lower-case letters, digits and single hyphens, like patio-pots",
    "groups": "use lower-case letters, digits and single hyphens, like patio-pots",
    "class": "use lower-case letters, digits and underscores, like fig_hardy",
    "classes": "use lower-case letters, digits and underscores, like fig_hardy",
    "credential": "write the bare name of a file, without a directory",
    "api_key": "write the bare name of a file, without a directory",
    "base_url": "write an address like https://weather.example.org, without user, password or question mark",
    "listen": "write an address and a port, like 127.0.0.1:9108",
    "measured": "use lower-case letters, digits and underscores, like wind_share",
    "push": "write an address and a port, like 127.0.0.1:8790",
    "push_token": "write the bare name of a file, without a directory",
    "sensor": "write letters, digits, dots, dashes and underscores, like barn-north",
    "station": "write letters, digits, dots, dashes and underscores, like barn-north",
    "status_url": "write an address like https://weather.example.org, without user, password or question mark",
}

#: What is wrong and how to mend it, by the type of the model's error.
_PHRASES: dict[str, Callable[[Mapping[str, Any]], tuple[str, str]]] = {
    "int_type": lambda _: ("must be a whole number", "write digits without quotes, like 12"),
    "float_type": lambda _: ("must be a number", "write it without quotes, like 12 or -3.5"),
    "bool_type": lambda _: ("must be true or false", "write one of the two, without quotes"),
    "string_type": lambda _: ("must be text", "put it in double quotes"),
    "list_type": lambda _: ("must be a list", "put it in square brackets, or in tables with double brackets"),
    "dict_type": lambda _: ("must be a table", "write it as a section with its own keys"),
    "model_type": lambda _: ("must be a table", "write it as a section with its own keys"),
    "finite_number": lambda _: ("must be a finite number", "write one like 12 or -3.5"),
    "greater_than": lambda context: ("is too small", f"give more than {context['gt']:g}"),
    "greater_than_equal": lambda context: ("is too small", f"give {context['ge']:g} or more"),
    "less_than": lambda context: ("is too large", f"give less than {context['lt']:g}"),
    "less_than_equal": lambda context: ("is too large", f"give {context['le']:g} or less"),
    "string_too_short": lambda _: ("is empty", "write something there"),
    "string_too_long": lambda context: ("is too long", f"use {context['max_length']} characters or fewer"),
    "too_short": lambda _: ("is empty", "add at least one"),
    "string_unicode": lambda _: ("is not readable text", "write it anew"),
}


def sound_part(raw: Mapping[str, Any], errors: Sequence[ErrorDetails]) -> dict[str, Any]:
    """Return a copy of the configuration without what a model has refused.

    What stays has the right type, so that checks across keys can go on.

    Parameters
    ----------
    raw : mapping
        The configuration as read.
    errors : sequence of ErrorDetails
        What the model refused.

    Returns
    -------
    dict
        The copy. Entries of lists that were refused whole are None, so that positions stay.
    """
    refused = {place(raw, error["loc"]) for error in errors}
    copy: dict[str, Any] = _copied(raw, (), refused)
    return copy


def model_problems(raw: Mapping[str, Any], errors: Sequence[ErrorDetails]) -> list[Problem]:
    """Return what a model refused as problems.

    Parameters
    ----------
    raw : mapping
        The configuration as read.
    errors : sequence of ErrorDetails
        What the model refused.

    Returns
    -------
    list of Problem
        One for each error; none of them holds a refused value that could be a secret.
    """
    return [_problem(raw, place(raw, error["loc"]), error) for error in errors]


def place(raw: Mapping[str, Any], location: Path) -> Path:
    """Return where in the file an error is, without the model's own steps.

    Parameters
    ----------
    raw : mapping
        The configuration as read.
    location : tuple of str or int
        Where the model says it is.

    Returns
    -------
    tuple of str or int
        The place; the last step may be a key that is missing.
    """
    if location[-1] == "[key]" and value_at(raw, location) is None:
        location = location[:-1]
    current: Any = raw
    path: list[str | int] = []
    for position, part in enumerate(location):
        is_last = position == len(location) - 1
        found = value_at(current, (part,))
        if found is None and not is_last:
            continue
        current = found
        path.append(part)
    return tuple(path)


def _problem(raw: Mapping[str, Any], path: Path, error: ErrorDetails) -> Problem:
    kind, context = error["type"], error.get("ctx", {})
    where = key_path(path)
    if kind == OWN_ERROR:
        return Problem(where, f"{_value_shown(raw, path)}{context['what']}", context["mend"])
    if kind == "missing":
        return Problem(where, "is missing", f"add it: {description_at(Document, path).rstrip('.')}")
    if kind == "extra_forbidden":
        return _unknown_key(path)
    if kind in {"literal_error", "enum"}:
        return _not_a_choice(raw, path)
    if kind == "string_pattern_mismatch":
        last = next((part for part in reversed(path) if isinstance(part, str) and part in _FORMS), "")
        return Problem(
            where, "has characters that do not belong there", _FORMS.get(last, "write one line of plain text")
        )
    phrase = _PHRASES.get(kind)
    what, mend = phrase(context) if phrase else ("cannot be used", "compare it with the examples")
    return Problem(where, what, mend)


def _unknown_key(path: Path) -> Problem:
    known = keys_at(Document, path[:-1])
    near = nearest(str(path[-1]), known)
    mend = f'did you mean "{near}"?' if near else f"remove it, or use one of: {', '.join(known)}"
    return Problem(key_path(path), "is no known key", mend)


def _not_a_choice(raw: Mapping[str, Any], path: Path) -> Problem:
    annotation = annotation_at(Document, path)
    choices = [unit.value for unit in TemperatureUnit] if annotation is TemperatureUnit else list(get_args(annotation))
    value = value_at(raw, path)
    near = nearest(value, choices) if isinstance(value, str) else None
    what = f"{_value_shown(raw, path) or 'this '}is not one of the choices"
    hint = f'did you mean "{near}"? ' if near else ""
    return Problem(key_path(path), what, f"{hint}use one of: {', '.join(choices)}")


def _value_shown(raw: Mapping[str, Any], path: Path) -> str:
    value = value_at(raw, path)
    return f"{shown(value)} " if isinstance(value, str) and path[-1] != "url" else ""


def value_at(raw: Any, path: Path) -> Any | None:  # noqa: ANN401 - any value of a file
    """Return what stands at a place of the configuration, or None.

    Parameters
    ----------
    raw : mapping
        The configuration as read.
    path : tuple of str or int
        The place.

    Returns
    -------
    object or None
        The value.
    """
    current = raw
    for part in path:
        if isinstance(current, dict):
            current = current.get(part)
        elif isinstance(current, list) and isinstance(part, int):
            current = current[part]
        else:
            return None
    return current


def _copied(value: Any, path: Path, refused: set[Path]) -> Any:  # noqa: ANN401 - any value of a file
    if isinstance(value, dict):
        return {key: _copied(item, (*path, key), refused) for key, item in value.items() if (*path, key) not in refused}
    if isinstance(value, list):
        return [
            None if (*path, position) in refused else _copied(item, (*path, position), refused)
            for position, item in enumerate(value)
        ]
    return value
