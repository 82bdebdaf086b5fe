"""No command reaches a network: every attempt to open a socket is refused and written down."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from tests.metering.made_video import write_video

# in every interpreter that is begun, the workers of a batch too; pipes between processes may be
# sockets of the system (AF_UNIX), which reach nobody else
BLOCK = """
import os, sys

def refuse(event, words):
    if not event.startswith("socket."):
        return
    inner = event == "socket.__new__" and words[1] not in (2, 10)
    if inner or event in ("socket.gethostname",):
        return
    with open(os.environ["AUDIOLEVEL_TEST_SOCKETS"], "a") as file:
        file.write(f"{event} {words!r}\\n")
    raise OSError("no network here")

sys.addaudithook(refuse)
"""


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("network")
    wave = np.random.default_rng(3).normal(0, 0.05, 8000 * 12)
    (where / "folder").mkdir()
    for name in ("a.wav", "folder/a.wav", "folder/b.wav"):
        sf.write(where / name, wave, 8000)
    tone = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(8000 * 12) / 8000)
    sf.write(where / "tone.wav", tone, 8000)
    write_video(where / "a.mp4", wave, 8000, "aac")
    (where / "log.csv").write_text("time\n2026-03-02T10:00:05\n2026-03-09T11:00:05\n")
    (where / "hook").mkdir()
    (where / "hook" / "sitecustomize.py").write_text(BLOCK)
    return where


def blocked(place: Path, *words: str) -> tuple[subprocess.CompletedProcess[str], str]:
    """A process that can open no socket to a network, and what it tried."""
    tried = place / "tried"
    tried.write_text("")
    more = {"PYTHONPATH": str(place / "hook"), "AUDIOLEVEL_TEST_SOCKETS": str(tried)}
    done = subprocess.run(
        [sys.executable, *words],
        capture_output=True,
        text=True,
        cwd=place,
        env={**os.environ, **more},
        check=False,
    )
    return done, tried.read_text()


def test_the_block_blocks(place: Path) -> None:
    code = "import socket; socket.create_connection(('127.0.0.1', 9))"
    done, tried = blocked(place, "-c", code)
    assert done.returncode == 1
    assert "socket.getaddrinfo" in tried


LINES = (
    "measure a.wav --out m --history h.csv",
    "measure a.mp4",
    "trial a.wav --level -20 --out t",
    "plan a.wav --out p --json plan.json --force",
    "calibrate tone.wav --tone-db 94",
    "sounds --json s.json",
    "privacy a.wav --out pr",
    "batch folder --out r --jobs 2 --plans",
    "batch folder --out one --jobs 1",
    "followup plan.json log.csv --json f.json",
    "--help",
)

# one process for all of them: loading the libraries takes longer than the commands
EACH = """
import json, sys
from click.testing import CliRunner
from audiolevel.cli import main
if __name__ == "__main__":
    ran = [CliRunner().invoke(main, line.split()) for line in json.loads(sys.argv[1])]
    print(json.dumps([(one.exit_code, one.output) for one in ran]))
"""


def test_no_command_opens_a_socket(place: Path) -> None:
    done, tried = blocked(place, "-c", EACH, json.dumps(LINES))
    assert done.returncode == 0, done.stderr
    for line, (code, said) in zip(LINES, json.loads(done.stdout), strict=True):
        assert code == 0, (line, said)
    assert tried == ""
