"""What several tests of the installed program share."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.e2e.debian_support import make_debian, need, put_packages, run


@pytest.fixture(scope="session")
def debian(tmp_path_factory):
    """A small Debian with the pinned packages in /srv/packages, to be copied; it is made once."""
    need(mmdebstrap="mmdebstrap")
    folder = tmp_path_factory.mktemp("debian")
    root = make_debian(folder)
    put_packages(root, "/srv/packages")
    yield root
    run("rm", "-rf", "--one-file-system", root)
