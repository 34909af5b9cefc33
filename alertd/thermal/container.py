"""The root ball of a container: heat that comes and goes through wall, top and bottom, and water that freezes."""

from __future__ import annotations

from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING

import numpy as np

from .grid import Container, grid_of
from .medium import Medium, constants_of
from .root_zone import Probe, Readings, RootState, RootZone, run
from .scheme import HOUR, LONGEST_STEP, Stepper

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from .film import Film
    from .grid import Grid
    from .medium import Constants


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What a root ball exchanges heat with, hour by hour; the pot's own wall and any insulation are in the films.

    Parameters
    ----------
    wall, top, bottom : Film
        shape (n_members, n_times) each.

    Raises
    ------
    ValueError
        If the shapes differ.
    """

    wall: Film
    top: Film
    bottom: Film

    def __post_init__(self) -> None:
        """Refuse films that do not belong together."""
        shapes = {film.temperature.shape for film in (self.wall, self.top, self.bottom)}
        if len(shapes) != 1:
            message = f"films of one pot have shapes {sorted(shapes)}"
            raise ValueError(message)

    @property
    def n_members(self) -> int:
        """How many members."""
        return int(self.wall.temperature.shape[0])

    @property
    def n_times(self) -> int:
        """How many hours."""
        return int(self.wall.temperature.shape[1])


def uniform_state(
    container: Container, media: Medium | Sequence[Medium], temperature: float, n_members: int
) -> RootState:
    """Return a root ball of one temperature.

    Parameters
    ----------
    container : Container
        The pot.
    media : Medium or sequence of Medium
        One for all members, or one for each.
    temperature : float
        [°C]
    n_members : int
        How many.

    Returns
    -------
    RootState
        Of shape (n_layers, n_rings, n_members).
    """
    grid = grid_of(container)
    everywhere = np.full((grid.n_layers, grid.n_rings, n_members), temperature)
    return RootState(constants_of(media).enthalpy(everywhere))


def solve_root_zone(
    container: Container,
    media: Medium | Sequence[Medium],
    surroundings: Surroundings,
    start: RootState | float,
    *,
    cold_limit: float = -5.0,
    share: float = 0.2,
    step: float = LONGEST_STEP,
    is_fast: bool | None = None,
) -> RootZone:
    """Return what becomes of a root ball.

    Parameters
    ----------
    container : Container
        The pot.
    media : Medium or sequence of Medium
        One for all members, or one for each; of constant properties too.
    surroundings : Surroundings
        shape (n_members, n_times); each value holds for an hour.
    start : RootState or float
        At the beginning; a number is the temperature of the whole root ball [°C].
    cold_limit : float
        [°C] For the share of the volume below it.
    share : float
        0 to 1, of the volume, for the temperature below which it lies.
    step : float
        [s] Divides an hour and is at most `LONGEST_STEP`.
    is_fast : bool or None
        Whether the compiled arithmetic of the extra ``fast`` is used; ``None`` where it is installed.

    Returns
    -------
    RootZone
        shape (n_members, n_times).

    Raises
    ------
    ValueError
        If the step or the share is impossible, the start or the media have another number of members, or it is
        colder than the formulae hold (about -55 °C).

    Examples
    --------
    A cylinder of constant properties in air of -12.2 °C, as in any textbook:

    >>> import numpy as np
    >>> from alertd.thermal.film import Film
    >>> film = Film(np.full((1, 24), -12.2), np.full((1, 24), 10.0))
    >>> soil = Medium(0.3, 0.3, 2.0e6, 2.0e6, latent_heat=0.0)
    >>> pot = Container(radius_top=0.15, radius_bottom=0.15, height=0.32)
    >>> zone = solve_root_zone(pot, soil, Surroundings(film, film, film), start=5.0)
    >>> zone.core.shape
    (1, 24)
    """
    if not 0.0 < step <= LONGEST_STEP or HOUR % step != 0.0:
        message = f"a step of {step} s does not divide an hour into parts of at most {LONGEST_STEP:.0f} s"
        raise ValueError(message)
    if not 0.0 < share < 1.0:
        message = f"the share of the volume must be between 0 and 1, not {share}"
        raise ValueError(message)
    constants, grid = constants_of(media), grid_of(container)
    state = start if isinstance(start, RootState) else uniform_state(container, media, start, surroundings.n_members)
    _check(grid, constants, surroundings, state)
    temperatures, conductances = (
        np.array([getattr(film, name).T for film in _films(surroundings)]) for name in ("temperature", "conductance")
    )
    stepper = Stepper(grid, constants, state.enthalpy, temperatures, conductances, step)
    readings = _runner(is_fast=is_fast)(stepper, Probe(stepper, cold_limit, share))
    return RootZone(
        readings.shell.T,
        readings.core.T,
        readings.coldest_share.T,
        readings.frozen_share.T,
        RootState(stepper.enthalpy),
    )


def solver_in_use() -> str:
    """Return by what root balls are solved unless somebody says otherwise: ``numba`` or ``numpy``."""
    return "numpy" if find_spec("numba") is None else "numba"


def _runner(*, is_fast: bool | None) -> Callable[[Stepper, Probe], Readings]:
    """Return the arithmetic that is used; the compiled one is imported when it is first wanted."""
    if is_fast or (is_fast is None and solver_in_use() == "numba"):
        from .fast import run_fast  # noqa: PLC0415 - numba takes a second to import, and is an extra

        return run_fast
    return run


def _films(surroundings: Surroundings) -> tuple[Film, Film, Film]:
    """Return the films at wall, top and bottom."""
    return surroundings.wall, surroundings.top, surroundings.bottom


def _check(grid: Grid, constants: Constants, surroundings: Surroundings, state: RootState) -> None:
    """Refuse what cannot be computed."""
    shape = (grid.n_layers, grid.n_rings, surroundings.n_members)
    if state.enthalpy.shape != shape:
        message = f"the start has shape {state.enthalpy.shape}, not {shape}"
        raise ValueError(message)
    if constants.melting.shape not in {(), (surroundings.n_members,)}:
        message = f"there are {constants.melting.size} media for {surroundings.n_members} members"
        raise ValueError(message)
    coldest = min(float(film.temperature.min()) for film in _films(surroundings))
    coldest = min(coldest, float(constants.temperature(state.enthalpy).min()))
    if coldest <= constants.lowest:
        message = f"{coldest:.1f} °C is colder than the model holds for this medium, {constants.lowest:.1f} °C"
        raise ValueError(message)
