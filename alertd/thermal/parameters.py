"""Numbers of the models, where they come from, and how well they are known."""

from __future__ import annotations

from dataclasses import dataclass

#: Units whose UCUM code people do not write: a ratio, and degrees Celsius.
_UNIT_WORDS = {"1": "", "Cel": "°C"}


def with_unit(numbers: str, unit: str) -> str:
    """Return numbers with their unit, as people write them.

    Parameters
    ----------
    numbers : str
        One or several.
    unit : str
        UCUM code.

    Returns
    -------
    str
        Like ``8 °C``; a ratio has no unit.
    """
    return f"{numbers} {_UNIT_WORDS.get(unit, unit)}".rstrip()


@dataclass(frozen=True, slots=True)
class Parameter:
    """One number of a model.

    Parameters
    ----------
    name : str
        Key in the configuration, like ``wind_share``.
    value : float
        What is used unless somebody says otherwise.
    low, high : float
        One standard deviation below and above, as far as anyone knows; equal to `value` for what is measured.
    unit : str
        UCUM code; ``1`` for a ratio.
    meaning : str
        What it is, in one phrase for people.
    provenance : str
        Where it comes from: a source (seen or from memory), measured, or assumed.

    Raises
    ------
    ValueError
        Unless low <= value <= high.
    """

    name: str
    value: float
    low: float
    high: float
    unit: str
    meaning: str
    provenance: str

    def __post_init__(self) -> None:
        """Refuse a value outside its own range."""
        if not self.low <= self.value <= self.high:
            message = f"the parameter {self.name} has {self.value} outside {self.low} to {self.high}"
            raise ValueError(message)

    @property
    def is_assumed(self) -> bool:
        """Whether nobody has measured it here."""
        return self.low < self.high

    def measured(self, value: float) -> Parameter:
        """Return the parameter with a value that somebody vouches for, without a spread."""
        return Parameter(self.name, value, value, value, self.unit, self.meaning, "own value")
