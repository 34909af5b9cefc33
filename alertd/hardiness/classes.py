"""Hardiness classes: named sets of critical temperatures, each with its provenance."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class HardinessClass:
    """Critical temperatures of one kind of plant, in terms of screen-height air temperature but for `root_zone`.

    Parameters
    ----------
    name : str
        Key in the configuration.
    wood : float
        [°C] At or below it, wood takes damage.
    roots : float or None
        [°C] Below it, roots in a container may take damage; ``None`` leaves it to the threshold of
        the rule ``container_roots``.
    spring_limit : float
        [°C] Below it, tissue that has begun to grow takes damage.
    provenance : str
        Where the values come from, value by value, with *seen*, *from memory*, *derived*,
        *assumed* or *common practice, no source*.
    root_zone : float or None
        [°C] of the root ball itself: below it the first roots die; ``None`` where nobody said so, which leaves it to
        what rules that judge root balls assume. The only value that is no air temperature.
    """

    name: str
    wood: float
    roots: float | None
    spring_limit: float
    provenance: str
    root_zone: float | None = None


#: 10, 5 and 0 °F in °C. Common practice, no source: most fig cultivars, the 2.5 to 5 % hardier ones,
#: and the very few hardiest.
_TEN_FAHRENHEIT = (10.0 - 32.0) / 1.8
_FIVE_FAHRENHEIT = (5.0 - 32.0) / 1.8
_ZERO_FAHRENHEIT = (0.0 - 32.0) / 1.8

_FIG_SPRING = (
    "spring limit -1.1 °C (30 °F): the warmer edge of 26 to 30 °F for swelling fig buds, a grower's report, weak (seen)"
)
_FIG_ROOTS = (
    "roots left to the rule container_roots (15 °F): common practice, no source; root zone -5.0 °C (23 °F): assumed, "
    "none published for fig; roots of magnolia die at 23 °F (Havis 1976, from memory), of young American holly too "
    "(quoted from Mathers, weak, seen), tips of boxwood and Japanese holly at 20 to 25 °F (Smith and Dirr on Georgia "
    "1983-84, seen)"
)

BUILT_IN_CLASSES = (
    HardinessClass(
        name="fig",
        wood=_TEN_FAHRENHEIT,
        roots=None,
        spring_limit=-1.1,
        root_zone=-5.0,
        provenance=(
            "wood 10 °F (-12.2 °C): common practice, no source; agrees with the colder edge of 10 to 15 °F for fully "
            "dormant tops (weak, seen); laboratory LT50 of shoots is 8 to 12 °C colder (Karami et al. 2018, abstract "
            f"seen) and is not used. {_FIG_ROOTS}. {_FIG_SPRING}"
        ),
    ),
    HardinessClass(
        name="fig_hardy",
        wood=_FIVE_FAHRENHEIT,
        roots=None,
        spring_limit=-1.1,
        root_zone=-5.0,
        provenance=f"wood 5 °F (-15 °C): common practice, no source. {_FIG_ROOTS}. {_FIG_SPRING}",
    ),
    HardinessClass(
        name="fig_very_hardy",
        wood=_ZERO_FAHRENHEIT,
        roots=None,
        spring_limit=-1.1,
        root_zone=-5.0,
        provenance=f"wood 0 °F (-17.8 °C): common practice, no source. {_FIG_ROOTS}. {_FIG_SPRING}",
    ),
    HardinessClass(
        name="tender_evergreen",
        wood=-1.7,
        roots=-3.0,
        spring_limit=0.0,
        provenance=(
            "wood -1.7 °C: warmer edge of the high 20s °F at which lemon, lime and citron are killed or severely "
            "damaged (LSU AgCenter, Citrus and freezing temperatures, seen); roots -3.0 °C: derived from the spread of "
            "published root-kill values, none published for citrus; root zone -3.0 °C: derived like it, where young "
            "roots begin to suffer; spring limit 0 °C: assumed"
        ),
        root_zone=-3.0,
    ),
    HardinessClass(
        name="mediterranean_evergreen",
        wood=-7.0,
        roots=-3.9,
        spring_limit=-1.1,
        provenance=(
            "wood -7.0 °C: aerial parts of olive damaged below it (Int. J. Hort. Sci. Technol., introduction, seen); "
            "roots -3.9 °C: derived, none published for olive; root zone -3.9 °C: derived, the 25 °F that "
            "container stock should not fall below (Tinus 2002, from memory); spring limit -1.1 °C: assumed"
        ),
        root_zone=-3.9,
    ),
    HardinessClass(
        name="mediterranean_deciduous",
        wood=-9.4,
        roots=-3.9,
        spring_limit=-1.1,
        provenance=(
            "wood -9.4 °C: warmer edge of -9.4 to -13.1 °C for most pomegranate cultivars (weak, seen; laboratory LT50 "
            "-17 °C); roots -3.9 °C: derived from the spread of published root-kill values, none published for "
            "pomegranate; root zone -3.9 °C: derived, the 25 °F that container stock should not fall below (Tinus "
            "2002, from memory); spring limit -1.1 °C: derived, 1.1 °C above the -2.2 °C at which non-dormant "
            "pomegranate is injured (weak, seen)"
        ),
        root_zone=-3.9,
    ),
    HardinessClass(
        name="temperate",
        wood=-17.0,
        roots=-5.0,
        spring_limit=-1.1,
        provenance=(
            "wood -17.0 °C: derived, 3 °C above the -20 °C that midwinter shoots of Asian persimmon stand (Ok et al. "
            "2021, numbers second-hand, seen); in late winter the same shoots stand only -10 °C; roots -5.0 °C: "
            "derived from the spread of published root-kill values; root zone -5.0 °C: derived like it, where young "
            "roots begin to suffer; spring limit -1.1 °C: derived, 1.1 °C above the -2.2 °C at which half of persimmon "
            "buds at budburst are damaged (Choi et al. 2013, abstract seen)"
        ),
        root_zone=-5.0,
    ),
)
