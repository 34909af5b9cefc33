"""Feed the parsers of the US National Weather Service with bytes that a fuzzer finds.

``python tests/bench/fuzz_nws.py SECONDS`` runs each parser in turn with atheris (coverage-guided; install it by hand),
starting from invented answers. Any exception but `SourceMalformed` ends the run with a traceback and status 77 or 1.
"""

from __future__ import annotations

import contextlib
import copy
import json
import random
import sys
import tempfile
import warnings
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import atheris

sys.path.insert(0, str(Path(__file__).parents[2]))

with atheris.instrument_imports(include=["alertd.sources"]):
    from alertd.core import SourceMalformed
    from alertd.sources.nws import (
        explain,
        parse_alerts,
        parse_gridpoint,
        parse_hourly,
        parse_observation,
        parse_points,
        parse_stations,
    )
    from alertd.weather import check_quality

from tests.fakes import nws

if TYPE_CHECKING:
    from collections.abc import Iterator

PLACE = {"latitude": 44.1234, "longitude": -72.5}


def read_forecast(parse, body: bytes) -> None:
    """Parse and check a forecast as the source does."""
    forecast = parse(body, **PLACE)
    check_quality(forecast.series)


PARSERS = (
    partial(parse_points, **PLACE),
    partial(read_forecast, parse_gridpoint),
    partial(read_forecast, parse_hourly),
    parse_stations,
    partial(parse_observation, identifier="ZZQ1"),
    parse_alerts,
    partial(explain, 500, {}),
)


def small_gridpoint() -> dict:
    """Return a grid cell with few values, so that changes hit what matters."""
    document = nws.gridpoint()
    for value in document["properties"].values():
        if isinstance(value, dict) and "values" in value:
            value["values"] = value["values"][:2]
    return document


SEEDS = (
    nws.points(),
    small_gridpoint(),
    nws.hourly(nws.period("22T13", 20)),
    {"type": "FeatureCollection", "features": [nws.station("ZZQ1", 44.2, -72.5)]},
    nws.observation("ZZQ1", 1.1),
    nws.alerts(nws.alert()),
    {"type": "https://api.weather.gov/problems/NotFound", "title": "Not Found", "detail": "x", "status": 404},
)


#: How often an input is changed as JSON and not as bytes.
STRUCTURED_SHARE = 0.75

ODD_CHARACTERS = "0123456789PTDHMS/:-+.Z \x00\ud800\u0661"
ODD_VALUES = (
    None,
    True,
    0,
    -1,
    7,
    10**300,
    1e308,
    -1e308,
    -0.0,
    0.1,
    "",
    "NOW",
    "NOW/NOW",
    "P1D/NOW",
    "PT1H/2026-01-22T11:00:00Z",
    "2026-01-22T11:00:00Z/2026-01-23T11:00:00+00",
    "2026-01-22T11:00:00Z/P999999D",
    "2026-01-22T11:00:00.5Z/PT1S",
    "9999-12-31T23:59:59-23:59",
    "0001-01-01T00:00:00+23:59",
    "2200-12-31T23:59:59-23:00",
    "wmoUnit:degC",
    "wmoUnit:degF",
    "wmoUnit:m",
    "unit:km_h-1",
    "Point",
    "Polygon",
    "GeometryCollection",
    "\ud800",
    "5 to 10 mph",
    [],
    {},
    [[]],
    [0, 0],
    {"value": None},
    {"values": []},
    {"unitCode": "wmoUnit:K", "value": 260},
    {"VTEC": ["/O.CAN.KZZQ.FZ.W.0003"]},
)


def one(data: bytes) -> None:
    """Let the parser that the first byte chooses read the rest."""
    if not data:
        return
    with contextlib.suppress(SourceMalformed):
        PARSERS[data[0] % len(PARSERS)](data[1:])


def mutate(data: bytes, max_size: int, seed: int) -> bytes:
    """Change the JSON in an input, so that it is still JSON; or, one time in four, any of its bytes."""
    chance = random.Random(seed)
    if data and chance.random() < STRUCTURED_SHARE:
        with contextlib.suppress(ValueError, RecursionError):
            body = json.dumps(changed(json.loads(data[1:]), chance)).encode()
            if len(body) < max_size:
                return data[:1] + body
    return bytes(atheris.Mutate(data, max_size))


def changed(document: object, chance: random.Random) -> object:
    """Return a document with one part dropped, repeated, replaced by something odd, or put in the place of another."""
    parts = list(owners(document))
    if not parts:
        return chance.choice(ODD_VALUES)
    owner, key = chance.choice(parts)
    other, other_key = chance.choice(parts)
    kind = chance.randrange(5)
    if kind == 0:
        del owner[key]
    elif kind == 1:
        owner[key] = copy.deepcopy(other[other_key])
    elif kind == 2 and isinstance(owner[key], list):
        owner[key] = owner[key] * 2
    elif isinstance(owner[key], str) and owner[key] and kind == 3:
        place = chance.randrange(len(owner[key]))
        owner[key] = owner[key][:place] + chance.choice(ODD_CHARACTERS) + owner[key][place + 1 :]
    else:
        owner[key] = chance.choice(ODD_VALUES)
    return document


def owners(document: object) -> Iterator[tuple[dict | list, str | int]]:
    """Yield the owner and the key of each part of a document."""
    pairs = (
        document.items() if isinstance(document, dict) else enumerate(document) if isinstance(document, list) else ()
    )
    for key, value in pairs:
        yield document, key
        yield from owners(value)


def main(seconds: int) -> None:
    """Fuzz for a time [s]."""
    warnings.simplefilter("error")
    with tempfile.TemporaryDirectory() as folder:
        for number, seed in enumerate(SEEDS):
            (Path(folder) / f"seed{number}").write_bytes(bytes([number]) + nws.body(seed))
        words = Path(folder) / "words"
        texts = {word for seed in SEEDS for word in nws.body(seed).decode().replace('"', " ").split() if word.isalnum()}
        extra = ["NaN", "Infinity", "1e999", "null", "NOW", "P1DT4H", "PT1H", "wmoUnit:degC", "wmoUnit:m", "ud800"]
        words.write_text("".join(f'"{text}"\n' for text in sorted(texts) + extra))
        corpus = Path(folder) / "corpus"
        corpus.mkdir()
        for seed in Path(folder).glob("seed*"):
            seed.rename(corpus / seed.name)
        random_seed = random.SystemRandom().randrange(1, 2**31)
        arguments = [
            f"-max_total_time={seconds}",
            f"-dict={words}",
            "-max_len=8192",
            "-timeout=20",
            f"-seed={random_seed}",
        ]
        atheris.Setup(
            [sys.argv[0], *arguments, f"-artifact_prefix={tempfile.gettempdir()}/", str(corpus)],
            one,
            custom_mutator=mutate,
        )
        atheris.Fuzz()


if __name__ == "__main__":
    main(int(sys.argv[1]))
