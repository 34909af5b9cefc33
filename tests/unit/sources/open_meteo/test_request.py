"""What is asked for, where, and at what price."""

from datetime import date

import pytest

from alertd.core import SourceUnavailable
from alertd.sources.open_meteo import ENSEMBLE_MODELS, FORECAST_MODELS, Access, Model
from alertd.sources.open_meteo.access import ARCHIVE, ENSEMBLE, FORECAST, PREVIOUS_RUNS
from alertd.sources.open_meteo.models import ARCHIVE_MODELS, KNOWN_NAMES, model_of
from alertd.sources.open_meteo.request import forecast_request, history_request, status_request
from tests.fakes.open_meteo import SITE

ICON = FORECAST_MODELS["icon_seamless"]
FREE = Access(non_commercial=True)
CUSTOMER = Access(api_key="canary-7f3a")


def asked(request):
    return dict(request.parameters)


def test_units_times_and_elevation_are_always_explicit():
    parameters = asked(forecast_request("one", SITE, FREE, FORECAST, ICON, 7))
    assert parameters == {
        "latitude": "40.7123",
        "longitude": "-74.006",
        "elevation": "120",
        "timezone": "GMT",
        "timeformat": "unixtime",
        "temperature_unit": "celsius",
        "wind_speed_unit": "ms",
        "precipitation_unit": "mm",
        "hourly": "temperature_2m,dew_point_2m,wind_speed_10m,cloud_cover,precipitation,snow_depth,"
        "soil_temperature_0cm,soil_temperature_6cm,soil_temperature_18cm,soil_temperature_54cm",
        "models": "icon_seamless",
        "forecast_days": "7",
    }


def test_the_price_follows_the_service_s_own_rule():
    assert forecast_request("one", SITE, FREE, FORECAST, ICON, 7).weight == 1.0
    ecmwf = ENSEMBLE_MODELS["ecmwf_ifs025"]
    assert forecast_request("one", SITE, FREE, ENSEMBLE, ecmwf, 7).weight == pytest.approx(51.0)
    assert forecast_request("one", SITE, FREE, ENSEMBLE, ecmwf, 28).weight == pytest.approx(102.0)
    year = (date(2025, 1, 1), date(2025, 12, 31))
    archive = history_request("one", SITE, FREE, ARCHIVE, ARCHIVE_MODELS["best_match"], year)
    assert archive.weight == pytest.approx(6 / 10 * 365 / 14)
    assert status_request("one", FREE, ICON).weight < 0.01


def test_each_endpoint_has_its_address_for_all_and_for_customers():
    assert FREE.url(FORECAST) == "https://api.open-meteo.com/v1/forecast"
    assert FREE.url(ENSEMBLE) == "https://ensemble-api.open-meteo.com/v1/ensemble"
    assert FREE.url(ARCHIVE) == "https://archive-api.open-meteo.com/v1/archive"
    assert FREE.url(PREVIOUS_RUNS) == "https://previous-runs-api.open-meteo.com/v1/forecast"
    assert CUSTOMER.url(ENSEMBLE) == "https://customer-ensemble-api.open-meteo.com/v1/ensemble"
    assert FREE.status_url("dwd_icon") == "https://api.open-meteo.com/data/dwd_icon/static/meta.json"
    assert Access("http://127.0.0.1:8080/").url(FORECAST) == "http://127.0.0.1:8080/v1/forecast"


@pytest.mark.parametrize(
    ("access", "reason"),
    [
        (Access(), "set non_commercial = true if that is so, or api_key"),
        (Access("https://api.open-meteo.com"), "non-commercial use only"),
        (Access("https://API.Open-Meteo.com/", api_key="canary-7f3a"), "non-commercial use only"),
        (Access("https://customer-api.open-meteo.com"), "set api_key"),
    ],
)
def test_what_the_terms_forbid_is_not_asked(access, reason):
    with pytest.raises(SourceUnavailable, match=reason) as failure:
        access.require_permission(FORECAST)
    assert "canary" not in str(failure.value)


@pytest.mark.parametrize(
    "access",
    [
        FREE,
        CUSTOMER,
        Access("http://127.0.0.1:8080"),
        Access("https://my-open-meteo.com"),
        Access("https://open-meteo.com.example.org"),
    ],
)
def test_what_the_terms_allow_is_asked(access):
    access.require_permission(FORECAST)


def test_a_key_goes_with_the_request_and_is_never_shown():
    request = forecast_request("one", SITE, CUSTOMER, FORECAST, ICON, 7)
    assert asked(request)["apikey"] == "canary-7f3a"
    assert asked(status_request("one", CUSTOMER, ICON))["apikey"] == "canary-7f3a"
    assert "canary" not in request.shown_url + request.key + repr(CUSTOMER)
    assert "apikey" not in asked(forecast_request("one", SITE, FREE, FORECAST, ICON, 7))


def test_requests_of_one_source_keep_their_answers_apart():
    span = (date(2026, 1, 1), date(2026, 1, 2))
    requests = [
        forecast_request("one", SITE, FREE, FORECAST, ICON, 7),
        forecast_request("one", SITE, FREE, ENSEMBLE, ENSEMBLE_MODELS["icon_seamless"], 7),
        history_request("one", SITE, FREE, ARCHIVE, ARCHIVE_MODELS["era5"], span),
        history_request("one", SITE, FREE, PREVIOUS_RUNS, ICON, span, (1,)),
        status_request("one", FREE, ICON),
    ]
    assert len({request.key for request in requests}) == 5
    assert all(request.key.startswith("one:") for request in requests)


def test_old_forecasts_are_asked_by_lead_time():
    span = (date(2026, 1, 1), date(2026, 1, 2))
    parameters = asked(history_request("one", SITE, FREE, PREVIOUS_RUNS, ICON, span, (1, 3)))
    assert parameters["hourly"] == "temperature_2m_previous_day1,temperature_2m_previous_day3"
    assert (parameters["start_date"], parameters["end_date"]) == ("2026-01-01", "2026-01-02")


def test_spans_and_lead_times_that_do_not_exist_are_refused():
    with pytest.raises(ValueError, match="ends on 2026-01-01, before it begins on 2026-01-02"):
        history_request("one", SITE, FREE, ARCHIVE, ICON, (date(2026, 1, 2), date(2026, 1, 1)))
    with pytest.raises(ValueError, match=r"lead times of \[0, 9\] days"):
        history_request("one", SITE, FREE, ARCHIVE, ICON, (date(2026, 1, 1), date(2026, 1, 1)), (9, 0))


def test_a_model_that_is_not_in_the_table_may_still_be_asked():
    assert model_of("brand_new_model", FORECAST_MODELS) == Model("brand_new_model")
    assert model_of("icon_seamless", FORECAST_MODELS) is ICON
    for name in ("", "icon seamless", "a,b", "a&b=c", "é"):
        with pytest.raises(ValueError, match="no name of a model"):
            model_of(name, FORECAST_MODELS)


def test_every_model_of_the_tables_is_known_in_answers():
    for models in (FORECAST_MODELS, ENSEMBLE_MODELS, ARCHIVE_MODELS):
        for name, model in models.items():
            assert {name, model.answered_as or name} <= KNOWN_NAMES
            assert all(layer.top <= layer.bottom for layer in model.soil)
    assert all(model.realizations > 1 for model in ENSEMBLE_MODELS.values())
