"""The corpus, built once, and the process that fills its workbooks."""

from __future__ import annotations

import pytest

from . import books
from .outcome import Fills


@pytest.fixture(scope="session")
def corpus(tmp_path_factory):
    """Paths of the workbooks with the values that must stand in them once filled."""
    folder = tmp_path_factory.mktemp("corpus")
    return {path.name: (path, expected) for path, expected in books.build_all(folder).items()}


@pytest.fixture(scope="session")
def fills():
    fills = Fills()
    yield fills
    fills.close()
