"""Weather models that the service offers, and what each of them means."""

from __future__ import annotations

import re
from dataclasses import dataclass

_NAME = re.compile(r"[a-z0-9_]{1,80}", flags=re.ASCII)


@dataclass(frozen=True, slots=True)
class SoilLayer:
    """A depth at which a model knows the temperature of the ground.

    Parameters
    ----------
    variable : str
        The service's name.
    top, bottom : float
        [m] below the surface; equal where the model gives a level and not a layer.
    """

    variable: str
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Model:
    """One weather model.

    Parameters
    ----------
    name : str
        What the service is asked for.
    provider : str
        Who runs the model, with the licence if it is not the service's own; ``""`` if it is several or unknown.
    status : str
        Under which name the service tells when the model was last run; ``""`` if it does not.
    soil : tuple of SoilLayer
        Depths that the model itself knows. The service gives the names of one model for others too, with
        other depths; those are never asked for.
    realizations : int
        How many, the control included.
    answered_as : str
        Name in the answer to a request for several models, where it differs.
    reach : float
        [degrees] How far the middle of the grid cell may lie from the place.
    """

    name: str
    provider: str = ""
    status: str = ""
    soil: tuple[SoilLayer, ...] = ()
    realizations: int = 1
    answered_as: str = ""
    reach: float = 0.5

    def __post_init__(self) -> None:
        """Refuse what is no name."""
        if _NAME.fullmatch(self.name) is None:
            message = f"{self.name!r} is no name of a model; write it like icon_seamless"
            raise ValueError(message)


#: Depths by model family. ICON gives levels, the others layers. Source: the service's documentation, seen.
_ICON_SOIL = (
    SoilLayer("soil_temperature_0cm", 0.0, 0.0),
    SoilLayer("soil_temperature_6cm", 0.06, 0.06),
    SoilLayer("soil_temperature_18cm", 0.18, 0.18),
    SoilLayer("soil_temperature_54cm", 0.54, 0.54),
)
_ECMWF_SOIL = (
    SoilLayer("soil_temperature_0_to_7cm", 0.0, 0.07),
    SoilLayer("soil_temperature_7_to_28cm", 0.07, 0.28),
    SoilLayer("soil_temperature_28_to_100cm", 0.28, 1.0),
    SoilLayer("soil_temperature_100_to_255cm", 1.0, 2.55),
)
_GFS_SOIL = (
    SoilLayer("soil_temperature_0_to_10cm", 0.0, 0.1),
    SoilLayer("soil_temperature_10_to_40cm", 0.1, 0.4),
    SoilLayer("soil_temperature_40_to_100cm", 0.4, 1.0),
    SoilLayer("soil_temperature_100_to_200cm", 1.0, 2.0),
)

_DWD = "Deutscher Wetterdienst"
_ECMWF = "ECMWF"
_NOAA = "NOAA"
_CMC = "Environment and Climate Change Canada"
_METEOFRANCE = "Météo-France"
_METNO = "MET Norway"
_UKMO = "UK Met Office (CC BY-SA 4.0)"

#: Models of the forecast endpoint by name. The names are those of the service's OpenAPI file (seen) and the
#: older ones that it still takes (``gfs_seamless``: seen). Names for the status, from memory: of a family
#: of models the global one, which is run least often and rules the nights that lie further ahead.
FORECAST_MODELS = {
    model.name: model
    for model in (
        Model("best_match"),
        Model("icon_seamless", _DWD, "dwd_icon", _ICON_SOIL),
        Model("icon_global", _DWD, "dwd_icon", _ICON_SOIL),
        Model("icon_eu", _DWD, "dwd_icon_eu", _ICON_SOIL),
        Model("icon_d2", _DWD, "dwd_icon_d2", _ICON_SOIL),
        Model("ecmwf_ifs", _ECMWF, "ecmwf_ifs", _ECMWF_SOIL),
        Model("ecmwf_ifs025", _ECMWF, "ecmwf_ifs025", _ECMWF_SOIL),
        Model("gfs_seamless", _NOAA, "ncep_gfs013", _GFS_SOIL),
        Model("gfs_global", _NOAA, "ncep_gfs013", _GFS_SOIL),
        Model("ncep_gfs_seamless", _NOAA, "ncep_gfs013", _GFS_SOIL),
        Model("ncep_gfs_global", _NOAA, "ncep_gfs013", _GFS_SOIL),
        Model("ncep_hrrr_conus", _NOAA, "ncep_hrrr_conus"),
        Model("cmc_gem_seamless", _CMC, "cmc_gem_gdps"),
        Model("cmc_gem_gdps", _CMC, "cmc_gem_gdps"),
        Model("meteofrance_seamless", _METEOFRANCE, "meteofrance_arpege_world025"),
        Model("metno_seamless", f"{_METNO}, {_ECMWF}", "metno_nordic_pp"),
        Model("metno_nordic", _METNO, "metno_nordic_pp"),
        Model("ukmo_seamless", _UKMO, "ukmo_global_deterministic_10km"),
        Model("ukmo_global_deterministic_10km", _UKMO, "ukmo_global_deterministic_10km"),
    )
}

#: Models of the ensemble endpoint by name. Realizations and names in answers: the service's documentation
#: and a recorded answer, seen; names for the status, from memory. The cells of the long part of GEFS are
#: half a degree wide, so that a neighbouring cell on land may be three quarters away (assumed).
ENSEMBLE_MODELS = {
    model.name: model
    for model in (
        Model("icon_seamless", _DWD, "dwd_icon_eps", realizations=40, answered_as="icon_seamless_eps"),
        Model("dwd_icon_seamless_eps", _DWD, "dwd_icon_eps", realizations=40),
        Model("dwd_icon_global_eps", _DWD, "dwd_icon_eps", realizations=40),
        Model("dwd_icon_eu_eps", _DWD, "dwd_icon_eu_eps", realizations=40),
        Model("dwd_icon_d2_eps", _DWD, "dwd_icon_d2_eps", realizations=20),
        Model("ncep_gefs_seamless", _NOAA, "ncep_gefs025", _GFS_SOIL[:1], 31, reach=0.75),
        Model("ncep_gefs025", _NOAA, "ncep_gefs025", _GFS_SOIL[:1], 31),
        Model("ncep_gefs05", _NOAA, "ncep_gefs05", _GFS_SOIL[:1], 31, reach=0.75),
        Model("ecmwf_ifs025", _ECMWF, "ecmwf_ifs025_ensemble", _ECMWF_SOIL, 51, "ecmwf_ifs025_ensemble"),
        Model("ecmwf_ifs025_ensemble", _ECMWF, "ecmwf_ifs025_ensemble", _ECMWF_SOIL, 51),
        Model("ecmwf_aifs025_ensemble", _ECMWF, "ecmwf_aifs025_ensemble", realizations=51),
        Model("cmc_gem_geps", _CMC, "cmc_gem_geps", realizations=21, reach=0.75),
        Model("bom_access_global_ensemble", "Bureau of Meteorology", "bom_access_global_ensemble", realizations=18),
        Model("ukmo_global_ensemble_20km", _UKMO, "ukmo_global_ensemble_20km", realizations=18),
    )
}

#: Reanalyses of the archive endpoint by name. Source: the service's OpenAPI file, seen.
ARCHIVE_MODELS = {
    model.name: model
    for model in (
        Model("best_match", _ECMWF),
        Model("era5_seamless", f"{_ECMWF}, Copernicus"),
        Model("era5", f"{_ECMWF}, Copernicus"),
        Model("era5_land", f"{_ECMWF}, Copernicus"),
        Model("ecmwf_ifs", _ECMWF),
        Model("cerra", f"{_ECMWF}, Copernicus"),
    )
}

#: Further names that an answer may give a model. Source: the service's OpenAPI files, seen.
_OTHER_NAMES = (
    "ecmwf_aifs025_single",
    "cma_grapes_global",
    "bom_access_global",
    "ncep_nbm_conus",
    "ncep_nam_conus",
    "ncep_gfs_graphcast025",
    "ncep_aigfs025",
    "ncep_hgefs025_ensemble_mean",
    "jma_seamless",
    "jma_msm",
    "jma_gsm",
    "kma_seamless",
    "kma_ldps",
    "kma_gdps",
    "cmc_gem_rdps",
    "cmc_gem_hrdps",
    "cmc_gem_hrdps_west",
    "meteofrance_arpege_world",
    "meteofrance_arpege_europe",
    "meteofrance_arome_france",
    "meteofrance_arome_france_hd",
    "italia_meteo_arpae_icon_2i",
    "knmi_seamless",
    "knmi_harmonie_arome_europe",
    "knmi_harmonie_arome_netherlands",
    "dmi_seamless",
    "dmi_harmonie_arome_europe",
    "ukmo_uk_deterministic_2km",
    "meteoswiss_icon_seamless",
    "meteoswiss_icon_ch1",
    "meteoswiss_icon_ch2",
    "geosphere_seamless",
    "geosphere_arome_austria",
    "ncep_aigefs025",
    "ukmo_uk_ensemble_2km",
    "meteoswiss_icon_ch1_ensemble",
    "meteoswiss_icon_ch2_ensemble",
    "era5_ensemble",
    "ecmwf_ifs_analysis_long_window",
)

_ALL_MODELS = (*FORECAST_MODELS.values(), *ENSEMBLE_MODELS.values(), *ARCHIVE_MODELS.values())

#: Every name by which an answer may tell the model of a series.
KNOWN_NAMES = frozenset(
    {*_OTHER_NAMES, *(model.name for model in _ALL_MODELS), *(model.answered_as for model in _ALL_MODELS)} - {""}
)


def model_of(name: str, models: dict[str, Model]) -> Model:
    """Return a model by its name, with nothing known about it if it is not in the table.

    Parameters
    ----------
    name : str
        As in the configuration.
    models : dict of str to Model
        One of the tables of this module.

    Returns
    -------
    Model
        Without status and soil if the name is new here: the service may know it.

    Raises
    ------
    ValueError
        If this is no name.
    """
    return models.get(name) or Model(name)
