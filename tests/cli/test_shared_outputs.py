"""What may be mailed: no levels finer than a second, and nothing that names who, when or where."""

import base64
import csv
import json
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner

from audiolevel.cli import main
from tests.studies.street_noises import MAKERS, RATE_HZ

SECONDS = 120
# of a curve over settings, say: a history of two minutes every 10 ms would be 12,000
MOST_POINTS = 1000
COMMANDS = (
    "measure {file} --out {out}",
    "trial {file} --level -30 --out {out}",
    "plan {file} --print-record --out {out}",
    "privacy {file} --out {out}",
)
BATCH = "batch {folder} --jobs 1 --out {out}"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two minutes of a road, named after somebody's door and the moment."""
    where = tmp_path_factory.mktemp("shared")
    pieces = [MAKERS["road"](np.random.default_rng(k)) for k in range(SECONDS // 10)]
    wave = 0.05 * np.concatenate(pieces) / 4
    sf.write(where / "front_door_2026-03-02_0917.wav", np.clip(wave, -1, 1), RATE_HZ)
    return where


def _written(folder: Path, command: str, *more: str) -> Path:
    out = folder / "out"
    shutil.rmtree(out, ignore_errors=True)
    words = command.format(file=next(folder.glob("*.wav")), out=out, folder=folder).split()
    start = () if words[0] == "batch" else ("--start", "2026-03-02T09:17")
    done = CliRunner().invoke(main, [*words, *start, *more])
    assert done.exit_code == 0, done.output
    # what is on the screen may be mailed too
    (out / "screen.txt").write_text(done.stdout)
    return out


def _objects(path: Path) -> Iterator[Any]:
    """Whatever a file holds as data."""
    text = path.read_text("utf-8", "ignore")
    if path.suffix == ".json":
        yield json.loads(text)
    elif path.suffix == ".jsonl":
        yield from map(json.loads, text.splitlines())
    elif path.suffix == ".html":
        for held in re.findall(r'<script type="application/json"[^>]*>(.*?)</script>', text, re.S):
            yield json.loads(held)
    elif path.suffix == ".csv":
        yield list(csv.reader(text.splitlines()))


def _lengths(value: Any) -> Iterator[int]:
    """Lengths of all lists in a value, and of what a text packs."""
    if isinstance(value, dict):
        for one in value.values():
            yield from _lengths(one)
    elif isinstance(value, list):
        yield len(value)
        for one in value:
            yield from _lengths(one)
    elif isinstance(value, str) and len(value) > 100:
        try:
            # whole numbers of two bytes, two for each moment
            yield len(base64.b64decode(value, validate=True)) // 4
        except ValueError:
            return


@pytest.mark.parametrize("command", [*COMMANDS, BATCH])
def test_no_file_holds_a_level_more_often_than_once_a_second(folder: Path, command: str) -> None:
    out = _written(folder, command)
    for path in out.iterdir():
        for held in _objects(path):
            # the grids of settings are longer than two minutes, and no history
            longest = max(_lengths(held), default=0)
            assert longest < MOST_POINTS, path.name
        if path.suffix == ".html":
            held = path.read_text("utf-8")
            lines = re.findall(r' d="([^"]*)"', held)
            assert max((len(re.findall("[LM]", one)) for one in lines), default=0) < MOST_POINTS
            for pairs in re.findall(r'"pairs": ?"([^"]*)"', held):
                assert len(base64.b64decode(pairs)) == 4 * SECONDS


@pytest.mark.always
@pytest.mark.parametrize("command", [*COMMANDS, BATCH])
def test_what_is_redacted_names_no_file_no_day_and_no_hour(folder: Path, command: str) -> None:
    out = _written(folder, command, "--redact", *(() if command == BATCH else ("--full",)))
    # the journal of a batch is hidden, and stays where it is
    for path in (one for one in out.iterdir() if not one.name.startswith(".")):
        held = path.read_text("utf-8", "ignore")
        for said in ("front_door", "2026-03-02", "09:17", str(folder)):
            # the sheet's own day is today's, and no recording's
            assert said not in held, f"{path.name}: {said}"
    shown = out / ("results.csv" if command == BATCH else "screen.txt")
    assert "recording 1" in shown.read_text()


def test_a_history_is_never_redacted(folder: Path) -> None:
    file = str(next(folder.glob("*.wav")))
    history = str(folder / "levels.csv")
    done = CliRunner().invoke(main, ["measure", file, "--redact", "--history", history])
    assert done.exit_code == 2
    assert "who talked when" in done.output
