"""What the tests of several commands listen to."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf


@pytest.fixture(scope="session")
def street(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A minute and a half of noise whose level changes every second."""
    rng = np.random.default_rng(15)
    level = np.repeat(10 ** rng.uniform(-3, -1, 90), 16000)
    path = tmp_path_factory.mktemp("cli") / "street.wav"
    sf.write(path, np.clip(level * rng.normal(0, 1, len(level)), -1, 1), 16000)
    return path
