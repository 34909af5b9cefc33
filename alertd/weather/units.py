"""Units in which weather files may state a variable."""

from __future__ import annotations

from dataclasses import dataclass

from alertd.core.temperature import FAHRENHEIT_PER_CELSIUS, FREEZING_POINT_FAHRENHEIT, ZERO_CELSIUS_IN_KELVIN


@dataclass(frozen=True, slots=True)
class Conversion:
    """How a value becomes one in the canonical unit: (value - zero) * factor / divisor.

    Parameters
    ----------
    zero : float
        Value [unit of the file] that is zero in the canonical unit.
    factor, divisor : float
        Their quotient is the size of the file's unit in canonical units; two numbers keep it exact.
    """

    zero: float = 0.0
    factor: float = 1.0
    divisor: float = 1.0

    def canonical(self, value: float) -> float:
        """Return a value in the canonical unit.

        Parameters
        ----------
        value : float
            [unit of the file].

        Returns
        -------
        float
            [canonical unit of the variable].

        Examples
        --------
        >>> round(UNITS["air_temperature"]["degF"].canonical(15.0), 2)
        -9.44
        """
        return (value - self.zero) * self.factor / self.divisor


_TEMPERATURES = {
    "Cel": Conversion(),
    "degF": Conversion(zero=FREEZING_POINT_FAHRENHEIT, divisor=FAHRENHEIT_PER_CELSIUS),
    "[degF]": Conversion(zero=FREEZING_POINT_FAHRENHEIT, divisor=FAHRENHEIT_PER_CELSIUS),
    "K": Conversion(zero=ZERO_CELSIUS_IN_KELVIN),
}

#: Conversions by CF standard name and UCUM code. An international mile is 1609.344 m, a nautical mile
#: 1852 m and an inch 25.4 mm by definition; 1 mm of water is 1 kg/m2. UCUM codes from memory;
#: ``degF`` stands beside UCUM's own ``[degF]`` because brackets in brackets are hard to write.
UNITS = {
    "air_temperature": _TEMPERATURES,
    "dew_point_temperature": _TEMPERATURES,
    "wind_speed": {
        "m/s": Conversion(),
        "km/h": Conversion(divisor=3.6),
        "[mi_i]/h": Conversion(factor=1609.344, divisor=3600.0),
        "[kn_i]": Conversion(factor=1852.0, divisor=3600.0),
        "kn_i": Conversion(factor=1852.0, divisor=3600.0),
    },
    "cloud_area_fraction": {"%": Conversion(), "1": Conversion(factor=100.0)},
    "precipitation_amount": {
        "kg/m2": Conversion(),
        "kg.m-2": Conversion(),
        "mm": Conversion(),
        "[in_i]": Conversion(factor=25.4),
        "in_i": Conversion(factor=25.4),
    },
    "surface_snow_thickness": {
        "m": Conversion(),
        "cm": Conversion(divisor=100.0),
        "mm": Conversion(divisor=1000.0),
        "[in_i]": Conversion(factor=0.0254),
        "in_i": Conversion(factor=0.0254),
    },
}
