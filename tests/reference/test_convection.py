"""Films against the package ht 1.2 and CoolProp 8.0 (PyPI)."""

import ht
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from alertd.thermal.air import DRY_AIR_HEAT_CAPACITY, PRANDTL, air_properties
from alertd.thermal.convection import (
    joined,
    rayleigh_number,
    top_film_coefficient,
    twig_film_coefficient,
    wall_film_coefficient,
)
from alertd.thermal.nusselt import (
    nusselt_cylinder_in_wind,
    nusselt_horizontal_cylinder,
    nusselt_horizontal_plate,
    nusselt_plate_in_wind,
    nusselt_vertical_plate,
)

RAYLEIGHS = [1e-2, 1.0, 1e3, 1e5, 1e7, 1e9]


@pytest.mark.parametrize("temperature", [-50.0, -30.0, -10.0, 0.0, 20.0, 50.0])
def test_air_is_that_of_coolprop(temperature):
    own = air_properties(temperature)

    def of_coolprop(quantity):
        return PropsSI(quantity, "T", temperature + 273.15, "P", 101325.0, "Air")

    assert own.density == pytest.approx(of_coolprop("D"), rel=2e-3)
    assert own.conductivity == pytest.approx(of_coolprop("L"), rel=1.5e-2)
    assert own.kinematic_viscosity == pytest.approx(of_coolprop("V") / of_coolprop("D"), rel=1e-2)
    assert pytest.approx(of_coolprop("PRANDTL"), rel=2e-2) == PRANDTL
    assert pytest.approx(of_coolprop("C"), rel=2e-3) == DRY_AIR_HEAT_CAPACITY


@pytest.mark.parametrize("reynolds", [1.0, 100.0, 1e3, 6071.0, 2e4, 1e5, 1e6])
@pytest.mark.parametrize("prandtl", [0.7, 0.713])
def test_a_cylinder_in_the_wind_is_that_of_churchill_and_bernstein(reynolds, prandtl):
    expected = ht.conv_external.Nu_cylinder_Churchill_Bernstein(reynolds, prandtl)
    assert nusselt_cylinder_in_wind(reynolds, prandtl) == pytest.approx(expected, rel=1e-12)


def test_the_textbook_s_cylinder_in_the_wind():
    """Bergman et al., Heat and Mass Transfer, example 7.3 (Re 6071, Pr 0.70), from the docstring of ht (seen)."""
    assert nusselt_cylinder_in_wind(6071.0, 0.7) == pytest.approx(40.6371, abs=5e-5)


@pytest.mark.parametrize("rayleigh", RAYLEIGHS)
def test_still_air_is_that_of_churchill_and_chu(rayleigh):
    plate = ht.conv_free_immersed.Nu_vertical_plate_Churchill(0.713, rayleigh / 0.713)
    cylinder = ht.conv_free_immersed.Nu_horizontal_cylinder_Churchill_Chu(0.713, rayleigh / 0.713)
    assert nusselt_vertical_plate(rayleigh, 0.713) == pytest.approx(plate, rel=1e-12)
    assert nusselt_horizontal_cylinder(rayleigh, 0.713) == pytest.approx(cylinder, rel=1e-12)


def test_the_textbook_s_vertical_plate():
    """Bergman et al., example 9.2 (Pr 0.69, Gr 2.63e9), from the docstring of ht (seen)."""
    assert nusselt_vertical_plate(0.69 * 2.63e9, 0.69) == pytest.approx(147.16, abs=0.01)


@pytest.mark.parametrize("rayleigh", [1e3, 1e5, 9e6, 1.1e7, 1e9])
@pytest.mark.parametrize("is_warmer", [True, False])
def test_still_air_over_a_plate_is_that_of_mcadams(rayleigh, is_warmer):
    expected = ht.conv_free_immersed.Nu_horizontal_plate_McAdams(PRANDTL, rayleigh / PRANDTL, buoyancy=is_warmer)
    assert nusselt_horizontal_plate(rayleigh, is_warmer=is_warmer) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("reynolds", [100.0, 1e4, 1e6])
def test_a_plate_in_the_wind_joins_laminar_and_turbulent_flow(reynolds):
    laminar = ht.conv_external.Nu_horizontal_plate_laminar_Baehr(reynolds, PRANDTL)
    turbulent = ht.conv_external.Nu_horizontal_plate_turbulent_Kreith(reynolds, PRANDTL)
    assert nusselt_plate_in_wind(reynolds) == pytest.approx(np.hypot(laminar, turbulent), rel=1e-9)


@pytest.mark.parametrize("wind_speed", [0.0, 0.3, 1.0, 3.0])
def test_films_are_put_together_from_the_published_parts(wind_speed):
    air = air_properties(-5.0)
    reynolds, plate, cylinder = (
        wind_speed * 0.3 / air.kinematic_viscosity,
        9.80665 / 268.15 * 4.0 * 0.4**3 / air.kinematic_viscosity**2,
        9.80665 / 268.15 * 4.0 * 0.3**3 / air.kinematic_viscosity**2,
    )
    wind = ht.conv_external.Nu_cylinder_Churchill_Bernstein(reynolds, PRANDTL) * air.conductivity / 0.3
    still = ht.conv_free_immersed.Nu_vertical_plate_Churchill(PRANDTL, plate) * air.conductivity / 0.4
    thin = ht.conv_free_immersed.Nu_horizontal_cylinder_Churchill_Chu(PRANDTL, cylinder) * air.conductivity / 0.3
    wall = wall_film_coefficient(0.3, wind_speed, -4.0, height=0.4, air_temperature=-5.0)
    assert wall == pytest.approx((wind**3 + still**3) ** (1 / 3), rel=1e-9)
    twig = twig_film_coefficient(0.3, wind_speed, -4.0, air_temperature=-5.0)
    assert twig == pytest.approx((wind**3 + thin**3) ** (1 / 3), rel=1e-9)
    assert joined(wind, thin) == pytest.approx(twig, rel=1e-9)


def test_a_pot_s_wall_has_the_film_of_the_prototype():
    """Prototype value: 3.8, 7.0 and 13.6 W/(m2 K) for 0.3 m at 0.3, 1 and 3 m/s, difference not noted."""
    films = wall_film_coefficient(0.3, np.array([0.3, 1.0, 3.0]), 2.0)
    assert films == pytest.approx([3.8, 7.0, 13.6], rel=0.02)


def test_air_rises_from_a_warm_top_and_lies_on_a_cold_one():
    air = air_properties(0.0)
    rayleigh = float(rayleigh_number(air, 0.0, 0.075, 5.0))
    for difference, is_warmer in ((5.0, True), (-5.0, False)):
        still = ht.conv_free_immersed.Nu_horizontal_plate_McAdams(PRANDTL, rayleigh / PRANDTL, buoyancy=is_warmer)
        expected = still * float(air.conductivity) / 0.075
        assert top_film_coefficient(0.3, 0.0, difference) == pytest.approx(expected, rel=1e-9)
