"""The same bytes whatever the number of threads and the size of blocks; other kernels, 0.001 dB."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.metering.recordings import Recording
from tests.cli.commands import run

SITE = """[microphone]
spl_at_full_scale_db = 118
self_noise_dba = 30
[[wanted]]
sound = "breaking glass"
distance_m = 8
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("bytes")
    rng = np.random.default_rng(8)
    level = np.repeat(10 ** rng.uniform(-3, -0.8, 46), 16_000)[: 45 * 16_000 + 777]
    wave = np.column_stack([level * rng.normal(0, 1, len(level)) for _ in range(2)])
    sf.write(where / "a.wav", np.clip(wave, -1, 1), 16_000)
    (where / "site.toml").write_text(SITE)
    return where


COMMANDS = (
    ("measure", ["--history", "h.csv", "--json", "m.json"]),
    ("trial", ["--level", "80", "--json", "t.json"]),
    ("plan", ["--json", "p.json"]),
    ("privacy", ["--json", "pr.json", "--date", "2026-03-02"]),
)


def outputs_of(place: Path, name: str, **environment: str) -> dict[str, bytes]:
    """What every command writes, in a process begun in an environment."""
    where = place / name
    where.mkdir()
    lines = [
        [command, "../a.wav", "--site", "../site.toml", "--quiet", *more]
        for command, more in COMMANDS
    ]
    # one process: loading the libraries takes longer than most commands
    code = (
        "import sys, json; from audiolevel.cli import main\n"
        "for line in json.loads(sys.argv[1]): main(line, standalone_mode=False)"
    )
    subprocess.run(
        [sys.executable, "-c", code, json.dumps(lines)],
        cwd=where,
        env={**os.environ, **environment},
        check=True,
    )
    return {one.name: one.read_bytes() for one in where.iterdir()}


def threads(number: int) -> dict[str, str]:
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    return dict.fromkeys(names, str(number))


def test_the_same_bytes_for_other_numbers_of_threads(place: Path) -> None:
    one, four = (outputs_of(place, f"threads{n}", **threads(n)) for n in (1, 4))
    assert set(one) == {"h.csv", "m.json", "t.json", "p.json", "pr.json"}
    assert one == four


def outputs_here(place: Path, name: str) -> dict[str, bytes]:
    """What every command writes, run in this process."""
    where = place / name
    where.mkdir()
    for command, more in COMMANDS:
        words = [str(where / one) if "." in one else one for one in more]
        done = run(command, place / "a.wav", "--site", place / "site.toml", *words)
        assert done.exit_code == 0, done.output
    return {one.name: one.read_bytes() for one in where.iterdir()}


@pytest.fixture(scope="module")
def usual(place: Path) -> dict[str, bytes]:
    return outputs_here(place, "usual")


@pytest.mark.parametrize("seconds", [1, 7])
def test_the_same_bytes_for_other_sizes_of_blocks(
    place: Path, usual: dict[str, bytes], seconds: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = Recording.blocks

    def blocks(self: Recording, about_frames: int = 0, **more: int) -> object:
        return whole(self, seconds * self.rate_hz, **more)

    monkeypatch.setattr(Recording, "blocks", blocks)
    assert outputs_here(place, f"blocks{seconds}") == usual


LEVELS = """
import json, sys
from audiolevel.metering.measurement import measure
levels = dict(vars(measure(sys.argv[1]).levels))
levels.pop("clipping")
print(json.dumps(levels, default=lambda one: dict(one) if hasattr(one, "keys") else float(one)))
"""


def test_other_kernels_of_linear_algebra_give_the_same_levels(place: Path) -> None:
    def levels(kernel: str) -> dict:
        done = subprocess.run(
            [sys.executable, "-c", LEVELS, str(place / "a.wav")],
            env={**os.environ, "OPENBLAS_CORETYPE": kernel},
            capture_output=True,
            text=True,
            check=True,
        )
        return json.loads(done.stdout)

    # from the oldest that the library knows on; the machine's own is the usual one
    usual = levels("")
    for kernel in ("Prescott", "Nehalem", "Haswell"):
        other = levels(kernel)
        assert other.pop("percentiles_db") == pytest.approx(usual["percentiles_db"], abs=0.001)
        for name, value in other.items():
            assert value == pytest.approx(usual[name], abs=0.001), (kernel, name)
