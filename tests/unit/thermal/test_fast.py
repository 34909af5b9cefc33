"""Where compiled arithmetic is kept, and that nothing needs it."""

import os
import subprocess
import sys

from alertd.thermal.fast_settings import compiled

_WITHOUT_NUMBA = """
import sys
sys.modules["numba"] = None
import numpy as np
from alertd.thermal.container import Surroundings, solve_root_zone
from alertd.thermal.film import Film
from alertd.thermal.pots import container_of
from alertd.thermal.substrates import medium_of
film = Film(np.full((1, 12), -10.0), np.full((1, 12), 12.0))
zone = solve_root_zone(container_of(5.0), medium_of(0.3), Surroundings(film, film, film), 2.0, is_fast=False)
print(zone.shell.min() < -1.0)
"""


def double(value):
    return 2.0 * value


def test_where_nothing_can_be_kept_it_is_compiled_all_the_same(monkeypatch):
    def refuse(_function):
        message = "no place to keep it"
        raise RuntimeError(message)

    monkeypatch.setattr("alertd.thermal.fast_settings.FunctionCache", refuse)
    assert compiled(double)(21.0) == 42.0


def test_what_is_compiled_gives_the_same():
    assert compiled(double)(4.0) == double(4.0)


def test_the_models_do_without_numba():
    told = subprocess.run(
        [sys.executable, "-c", _WITHOUT_NUMBA], capture_output=True, text=True, check=True, env=os.environ
    )
    assert told.stdout == "True\n"
