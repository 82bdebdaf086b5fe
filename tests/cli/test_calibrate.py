"""The command `calibrate`."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.cli.commands import json_of, run

RATE_HZ = 8000


@pytest.fixture(scope="module")
def steps(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A 1 kHz tone at −40, then −20 dB FS, a quarter of a minute each."""
    path = tmp_path_factory.mktemp("calibrate") / "steps.wav"
    time = np.arange(30 * RATE_HZ) / RATE_HZ
    sf.write(path, np.where(time < 15, 0.01, 0.1) * np.sin(2 * np.pi * 1000 * time), RATE_HZ)
    return path


def test_a_data_sheet_gives_full_scale_by_hand() -> None:
    # 94 dB SPL read −26 dB FS, so 0 dB FS are 120 dB SPL
    assert json_of("calibrate", "--sensitivity-dbfs", -26)["spl_at_full_scale_db"] == 120.0


def test_numbers_noted_by_the_minute_make_a_site_file(steps: Path, tmp_path: Path) -> None:
    site = tmp_path / "site.toml"
    done = run(
        *("calibrate", "--record", steps, "--at", "0:08=41", "--at", "0:25=63", "--write", site)
    )
    assert done.exit_code == 0, done.output
    assert max(map(len, done.stdout.splitlines())) <= 80
    readings = tomllib.loads(site.read_text(encoding="utf-8"))["display"]["readings"]
    assert [shown for shown, _ in readings] == [41, 63]
    assert [level for _, level in readings] == pytest.approx([-40.0, -20.0], abs=0.1)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--tone-db", "94", "--sensitivity-dbfs", "-26"], "give one of --tone-db"),
        (["--meter-laeq-db", "60"], "need a RECORDING"),
        (["--record", "a.wav"], "--record and --at go together"),
        (["--at", "0:20=41"], "--record and --at go together"),
        (["b.wav", "--record", "a.wav", "--at", "0:20=41"], "calibrate in two steps"),
        (["--record", "a.wav", "--at", "noon"], "'noon' is not like 1:05=63"),
    ],
)
def test_ways_that_do_not_go_together_are_wrong_usage(words: list[str], said: str) -> None:
    done = run("calibrate", *words)
    assert done.exit_code == 2
    assert said in " ".join(done.stderr.split())
