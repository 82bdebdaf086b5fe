"""A folder of made recordings, and the command run on it."""

import errno
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner, Result

from audiolevel.cli import main

RATE = 8000


def wave_of(seconds: float, seed: int, level: float = 0.05) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, level, round(seconds * RATE))


def make_folder(root: Path) -> Path:
    """Two sites, one within the other, a few formats, a bad file and one that is no sound."""
    root = root / "visits"
    (root / "wall").mkdir(parents=True)
    (root / "wall" / "night").mkdir()
    (root / "wall" / "site.toml").write_text(
        "[microphone]\nspl_at_full_scale_db = 118\n"
        "[gain]\nrecorded_at = 1\nsteps = [[1, 0], [2, 6]]"
    )
    for i in range(5):
        sf.write(root / f"r{i}.wav", wave_of(3, i), RATE)
        sf.write(root / "wall" / f"w{i}.flac", wave_of(3, 10 + i), RATE)
    sf.write(root / "wall" / "night" / "n.ogg", wave_of(3, 20), RATE)
    (root / "bad.wav").write_text("no sound at all")
    (root / "notes.txt").write_text("not looked at")
    return root


def keep_out(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    """Folders of a name that may not be listed; permissions keep nobody out who is root."""
    listed = os.scandir

    def scandir(path: Any = ".") -> Iterator[os.DirEntry[str]]:
        if Path(path).name == name:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return listed(path)

    monkeypatch.setattr(os, "scandir", scandir)


def run_command(*words: object) -> Result:
    return CliRunner().invoke(main, ["batch", *(str(word) for word in words)])


def command_of(*words: object) -> list[str]:
    return [sys.executable, "-m", "audiolevel", "batch", *(str(word) for word in words)]


def bytes_in(out: Path) -> dict[str, bytes]:
    names = ("results.jsonl", "results.csv", "failures.csv", "summary.csv", "findings.txt")
    return {name: (out / name).read_bytes() for name in names}
