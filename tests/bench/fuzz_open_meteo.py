"""Feeds the parsers of Open-Meteo with mutated answers: PYTHONPATH=. python tests/bench/fuzz_open_meteo.py SECONDS.

Guided by coverage (atheris, which is no dependency of the project: pip install atheris). Ends with status 0 if
nothing but weather or SourceMalformed came out, and otherwise with the input that made something else.
"""

from __future__ import annotations

import json
import random
import sys
import tempfile
from pathlib import Path

try:
    import atheris
except ImportError:
    sys.exit("this needs atheris: pip install atheris")

with atheris.instrument_imports(include=["alertd.sources", "alertd.weather", "json"]):
    from alertd.core import SourceMalformed
    from alertd.sources.open_meteo import (
        ENSEMBLE_MODELS,
        FORECAST_MODELS,
        explain,
        parse_forecast,
        parse_models,
        parse_previous_runs,
        parse_status,
    )
    from alertd.weather import check_quality

from tests.fakes.open_meteo import ASKED, START, document, ensemble_columns, forecast_columns, refusal, status

MODELS = (ENSEMBLE_MODELS["icon_seamless"], ENSEMBLE_MODELS["ecmwf_ifs025"])

PARSERS = (
    lambda body: [parse_forecast(body, ASKED, FORECAST_MODELS["icon_seamless"]).series],
    lambda body: [parse_forecast(body, ASKED, MODELS[0]).series],
    lambda body: [one.series for one in parse_models(body, ASKED, MODELS).values()],
    lambda body: [series for _, series in parse_previous_runs(body, ASKED, FORECAST_MODELS["icon_seamless"])],
    lambda body: [parse_status(body)][:0],
)

DOCUMENTS = (
    document(forecast_columns(4, known=3)),
    document(ensemble_columns(3, 3)),
    document(ensemble_columns(2, 2, suffix="_icon_seamless_eps")),
    document({"temperature_2m_previous_day1": [1.0, None], "temperature_2m_previous_day2": [None, 2.0]}),
    status(START),
    [document({"temperature_2m": [1.0]})],
)

WORDS = (
    "°C",
    "°F",
    "m/s",
    "km/h",
    "mp/h",
    "kn",
    "mm",
    "inch",
    "m",
    "ft",
    "%",
    "unixtime",
    "iso8601",
    "2026-01-23T00:00",
    "null",
    "NaN",
    "nan",
    "Infinity",
    "1e999",
    "-0.0",
    "true",
    "_member01",
    "_member00",
    "_previous_day1",
    "_icon_seamless_eps",
    "_ecmwf_ifs025_ensemble",
    "temperature_2m",
    "soil_temperature_6cm",
    "hourly",
    "hourly_units",
    "utc_offset_seconds",
    "elevation",
)

#: What no parser expects.
JUNK = (
    None,
    True,
    False,
    0,
    -1,
    1.5,
    1e12,
    -1e300,
    10**400,
    2**63,
    1769126400,
    "",
    "\n",
    "\u2028",
    [],
    {},
    [None],
    [1, 2],
)

#: Shares of mutations that change bytes, and that go deeper where they can.
BYTES_SHARE, DEEPER_SHARE = 0.1, 0.85


def _try_one(data: bytes) -> None:
    """Give one input to one parser; its first byte chooses which."""
    if not data:
        return
    body = data[1:]
    explain(429 if data[0] & 1 else 400, {}, body)
    try:
        found = PARSERS[data[0] % len(PARSERS)](body)
    except SourceMalformed as error:
        if not str(error).isprintable():
            message = f"unprintable: {error}"
            raise AssertionError(message) from error
        return
    for series in found:
        check_quality(series)


def _mutated(data: bytes, largest: int, seed: int) -> bytes:
    """Change one input: mostly one place of its document, so that it stays JSON; now and then its bytes."""
    chance = random.Random(seed)
    try:
        document = json.loads(data[1:])
    except (ValueError, RecursionError):
        document = None
    if not isinstance(document, dict | list) or not document or chance.random() < BYTES_SHARE:
        return atheris.Mutate(data, largest)
    _change(document, chance)
    changed = data[:1] + json.dumps(document, ensure_ascii=False).encode("utf-8", "replace")
    return changed if len(changed) <= largest else atheris.Mutate(data, largest)


def _change(value: dict | list, chance: random.Random) -> None:
    """Change one place at or below an array or object."""
    key = chance.choice(list(value) if isinstance(value, dict) else range(len(value)))
    child = value[key]
    if isinstance(child, dict | list) and child and chance.random() < DEEPER_SHARE:
        _change(child, chance)
        return
    how = chance.randrange(4)
    if how == 0:
        del value[key]
    elif how == 1 and isinstance(value, dict):
        value[f"{key}{chance.choice(WORDS)}"] = value.pop(key)
    elif how == 2 and isinstance(value, list):
        value.insert(key, child)
    else:
        value[key] = chance.choice((*JUNK, *WORDS))


def main() -> None:
    """Fuzz for as long as the command line says."""
    seconds = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    with tempfile.TemporaryDirectory() as folder:
        corpus = Path(folder, "corpus")
        corpus.mkdir()
        for number, answer in enumerate(DOCUMENTS):
            for parser in range(len(PARSERS)):
                seed = bytes([parser]) + json.dumps(answer, ensure_ascii=False).encode()
                Path(corpus, f"{number}-{parser}").write_bytes(seed)
        Path(corpus, "refusal").write_bytes(b"\0" + refusal("Too many concurrent requests"))
        words = Path(folder, "words")
        words.write_text("".join(f'"{_escaped(word)}"\n' for word in WORDS), encoding="ascii")
        options = [f"-max_total_time={seconds}", f"-dict={words}", "-max_len=4096", f"-artifact_prefix={Path.cwd()}/"]
        atheris.Setup([sys.argv[0], *options, "-print_final_stats=1", str(corpus)], _try_one, custom_mutator=_mutated)
        atheris.Fuzz()


def _escaped(word: str) -> str:
    """Return a word as libFuzzer's dictionaries want it."""
    return "".join(f"\\x{byte:02x}" for byte in word.encode())


if __name__ == "__main__":
    main()
