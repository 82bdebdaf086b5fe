"""A recording and the level history of it."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.metering.level_history import HistoryWriter
from audiolevel.metering.measurement import measure


@pytest.fixture(scope="module")
def wave_and_history(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("history")
    rng = np.random.default_rng(12)
    level = np.repeat(10 ** (rng.uniform(-3, -0.5, 700)), 1600)
    sf.write(folder / "a.wav", np.clip(level * rng.normal(0, 1, len(level)), -1, 1), 16000)
    with HistoryWriter(folder / "a.csv") as history:
        measure(folder / "a.wav", history=history)
    return folder / "a.wav", folder / "a.csv"
