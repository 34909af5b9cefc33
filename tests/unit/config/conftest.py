import pytest

from alertd.config import load
from alertd.core import ConfigurationError

VALID = """\
units = "degF"

[site]
name = "Quarry Hill"
latitude = 40.65
longitude = -75.43
elevation_m = 122
time_zone = "America/New_York"
last_freeze = "05-01"

[work]
earliest = "07:00"
latest = "20:00"

[[groups]]
id = "patio-pots"
name = "the patio pots"
growing = "container"
count = 24
species = "fig"
class = "fig"
protection = "store"
litres = 25

[[groups]]
id = "south-wall"
name = "the figs at the wall"
growing = "in_ground"
count = 5
species = "fig"
class = "seedling"
protection = "wrap"

[classes.seedling]
wood = 14
spring_limit = 31

[rules.wood]
probability_open = 0.3
probability_close = 0.2

[[channels]]
name = "screen"
url = "terminal:"

[[channels]]
name = "letters"
url = "file:letters"

[[recipients]]
name = "Robin"
channels = ["screen", "letters"]

[[sources]]
name = "weather file"
kind = "file"
path = "forecast.csv"

[polling]
every = "1h"
"""


@pytest.fixture
def valid():
    return VALID


@pytest.fixture
def loaded(tmp_path):
    """Load a text as the file alertd.toml of a fresh directory that has a weather file."""

    def load_text(text=VALID, environ=None):
        (tmp_path / "forecast.csv").touch()
        path = tmp_path / "alertd.toml"
        path.write_text(text, encoding="utf-8")
        return load(path, environ or {})

    return load_text


@pytest.fixture
def problems(loaded):
    """Return the lines of what is wrong with a text."""

    def lines_of(text=VALID, environ=None):
        with pytest.raises(ConfigurationError) as caught:
            loaded(text, environ)
        return str(caught.value).splitlines()

    return lines_of
