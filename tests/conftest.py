"""What several tests need."""

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="session")
def recordings() -> Path:
    """The folder of real street recordings."""
    where = os.environ.get("AUDIOLEVEL_RECORDINGS")
    if not where or not Path(where).is_dir():
        pytest.skip("AUDIOLEVEL_RECORDINGS does not name the folder of street recordings")
    return Path(where)


@pytest.fixture(scope="session")
def sample_audio() -> Path:
    """The sample scenario in the repository."""
    return ROOT / "sample_audio"
