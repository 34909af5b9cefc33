import numpy as np

from alertd.thermal import Tissue, air_exposure
from tests.fakes.garden import local, make_series

SERIES = make_series(local("2026-01-20 00:00"), [[-5.0, np.nan, 2.0], [-6.0, 1.0, 3.0]])


def test_a_bare_tissue_feels_the_air():
    exposure = air_exposure(SERIES, Tissue.WOOD)
    assert exposure.tissue is Tissue.WOOD
    assert exposure.gain == 0.0
    assert exposure.temperature is SERIES.air_temperature
    assert exposure.times is SERIES.times


def test_a_cover_gains_its_credit_at_all_times_and_missing_stays_missing():
    exposure = air_exposure(SERIES, Tissue.ROOTS, 2.5)
    assert exposure.gain == 2.5
    np.testing.assert_array_equal(exposure.temperature, [[-2.5, np.nan, 4.5], [-3.5, 3.5, 5.5]])
