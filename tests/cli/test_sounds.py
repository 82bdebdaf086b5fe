"""The command `sounds`."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.cli.commands import json_of, run


def test_the_list_fits_80_columns_and_names_what_its_json_names() -> None:
    done = run("sounds")
    assert done.exit_code == 0
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert all(one["name"] in done.stdout for one in json_of("sounds")["sounds"])


def test_twice_the_distance_is_half_the_pressure(tmp_path: Path) -> None:
    # free field; the air takes less than 0.1 dB on the way
    peaks = {}
    for metres in (5, 10):
        told = json_of(
            *("sounds", "--render", "vehicle horn", tmp_path / f"{metres}.wav"),
            *("--distance-m", metres, "--rate-hz", 16000),
        )
        assert told["distance_m"] == metres
        samples, rate_hz = sf.read(tmp_path / f"{metres}.wav")
        assert rate_hz == 16000
        peaks[metres] = 20 * np.log10(np.abs(samples).max())
        assert told["peak_dbfs"] == pytest.approx(peaks[metres], abs=0.02)
    assert peaks[5] - peaks[10] == pytest.approx(6.02, abs=0.3)


def test_the_same_seed_gives_the_same_file(tmp_path: Path) -> None:
    for name, seed in (("a", 1), ("b", 1), ("c", 2)):
        path = tmp_path / f"{name}.wav"
        words = ("--render", "breaking glass", path, "--rate-hz", 16000, "--seed", seed)
        assert run("sounds", *words).exit_code == 0
    a, b, c = ((tmp_path / f"{name}.wav").read_bytes() for name in "abc")
    assert a == b != c


def test_a_rate_no_camera_has_is_wrong_usage(tmp_path: Path) -> None:
    done = run("sounds", "--render", "shout", tmp_path / "a.wav", "--rate-hz", 4000)
    assert done.exit_code == 2
    assert list(tmp_path.iterdir()) == []
