"""What the service calls the variables, and in which units it may state them."""

from __future__ import annotations

from alertd.weather import UNITS, Conversion

_TEMPERATURES = {"°C": UNITS["air_temperature"]["Cel"], "°F": UNITS["air_temperature"]["degF"]}

#: The service's name of each variable by CF standard name. Source: the service's OpenAPI files, seen.
#: ``precipitation`` is the sum of the preceding hour, the others are values at the time.
VARIABLES = {
    "air_temperature": "temperature_2m",
    "dew_point_temperature": "dew_point_2m",
    "wind_speed": "wind_speed_10m",
    "cloud_area_fraction": "cloud_cover",
    "precipitation_amount": "precipitation",
    "surface_snow_thickness": "snow_depth",
}

#: The CF standard name by the service's name.
CF_NAMES = {name: standard_name for standard_name, name in VARIABLES.items()}

#: Conversions by CF standard name and the service's unit text; miles per hour are ``mp/h``. Source: the
#: service's documentation and recorded answers, seen. An international foot is 0.3048 m by definition.
UNIT_TEXTS = {
    "air_temperature": _TEMPERATURES,
    "dew_point_temperature": _TEMPERATURES,
    "wind_speed": {
        "m/s": UNITS["wind_speed"]["m/s"],
        "km/h": UNITS["wind_speed"]["km/h"],
        "mp/h": UNITS["wind_speed"]["[mi_i]/h"],
        "kn": UNITS["wind_speed"]["[kn_i]"],
    },
    "cloud_area_fraction": {"%": UNITS["cloud_area_fraction"]["%"]},
    "precipitation_amount": {
        "mm": UNITS["precipitation_amount"]["mm"],
        "inch": UNITS["precipitation_amount"]["[in_i]"],
    },
    "surface_snow_thickness": {
        "m": UNITS["surface_snow_thickness"]["m"],
        "ft": Conversion(factor=0.3048),
    },
    "soil_temperature": _TEMPERATURES,
}
