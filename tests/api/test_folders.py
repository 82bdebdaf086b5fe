"""A folder from Python: every recording measured as by itself, faults told, moves found."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.api.folders import FolderResults
from tests.batch.made_folder import RATE, wave_of


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("folders") / "visits"
    where.mkdir()
    for number in range(3):
        sf.write(where / f"r{number}.wav", wave_of(3, number), RATE)
    return where


@pytest.fixture(scope="module")
def first(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> FolderResults:
    return al.measure_folder(folder, tmp_path_factory.mktemp("first"), jobs=1)


def test_each_recording_has_the_levels_it_has_alone(folder: Path, first: FolderResults) -> None:
    lines = (first.folder / "results.jsonl").read_text(encoding="utf-8").splitlines()
    records = {one["path"]: one for one in map(json.loads, lines)}
    assert set(records) == {"r0.wav", "r1.wav", "r2.wav"}
    for name, record in records.items():
        alone = al.measure(folder / name).to_object()["recordings"][0]
        assert record["laeq_db"] == alone["laeq_db"]
        assert record["percentiles_db"] == alone["percentiles_db"]
    assert first.good
    assert first.to_text().startswith("3 recordings: 3 measured (3 now), 0 failed")


def test_a_script_without_a_main_guard_measures_nothing_and_says_why(
    folder: Path, tmp_path: Path
) -> None:
    script = tmp_path / "script.py"
    call = f"al.measure_folder({str(folder)!r}, {str(tmp_path / 'out')!r}, jobs=2)"
    script.write_text(f"import audiolevel as al\n{call}\n")
    run = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=False)
    assert run.returncode == 1
    last = run.stderr.splitlines()[-1]
    assert last.endswith('so call it below: if __name__ == "__main__":')
    # one traceback, of the script itself
    assert run.stderr.count("Traceback") == 1
    assert "results.jsonl" not in {one.name for one in (tmp_path / "out").iterdir()}


def test_progress_counts_files_and_cancels_by_raising(folder: Path, tmp_path: Path) -> None:
    told: list[tuple[float, float]] = []

    def stop(done: float, files: float) -> None:
        told.append((done, files))
        if done:
            raise KeyError("enough")

    with pytest.raises(KeyError, match="enough"):
        al.measure_folder(folder, tmp_path, jobs=1, progress=stop)
    assert told == [(0, 3), (1, 3)]
    # what was done is kept
    again = al.measure_folder(folder, tmp_path, jobs=1)
    assert again.to_text().startswith("3 recordings: 3 measured (2 now)")


def test_a_second_run_measures_nothing_again(folder: Path, first: FolderResults) -> None:
    before = (first.folder / "results.jsonl").read_bytes()
    again = al.measure_folder(folder, first.folder, jobs=1)
    assert again.to_text().startswith("3 recordings: 3 measured (0 now), 0 failed")
    assert (first.folder / "results.jsonl").read_bytes() == before


def test_a_bad_file_is_told_and_the_others_measured(folder: Path, tmp_path: Path) -> None:
    mixed = tmp_path / "mixed"
    mixed.mkdir()
    (mixed / "good.wav").write_bytes((folder / "r0.wav").read_bytes())
    (mixed / "bad.wav").write_text("no sound")
    found = al.measure_folder(mixed, tmp_path / "out", jobs=1)
    assert not found.good
    assert len(found.reasons) == 1
    assert "bad.wav" in found.reasons[0]
    assert max(map(len, found.to_text().splitlines())) <= 80
    left = al.measure_folder(mixed, tmp_path / "out", jobs=1, chosen=al.Selection(exclude=["bad*"]))
    assert left.good


def test_what_is_louder_by_a_decibel_has_moved(
    folder: Path, first: FolderResults, tmp_path: Path
) -> None:
    louder = tmp_path / "visits"
    louder.mkdir()
    for number in range(3):
        gain = 10 ** (1 / 20) if number == 1 else 1.0
        sf.write(louder / f"r{number}.wav", gain * wave_of(3, number), RATE)
    found = al.measure_folder(
        louder, tmp_path / "out", jobs=1, report=al.BatchReport(compare=first.folder)
    )
    assert found.moves is not None
    assert {move.path for move in found.moves} == {"r1.wav"}
    loose = al.measure_folder(
        louder,
        tmp_path / "out",
        jobs=1,
        report=al.BatchReport(compare=first.folder, tolerance_db=1.5),
    )
    assert loose.moves == ()
    assert loose.good


def test_what_failed_in_the_earlier_run_was_there(folder: Path, tmp_path: Path) -> None:
    some, old = tmp_path / "some", tmp_path / "old"
    some.mkdir()
    (some / "a.wav").write_text("no sound")
    (some / "b.wav").write_bytes((folder / "r0.wav").read_bytes())
    al.measure_folder(some, old, jobs=1)
    (some / "a.wav").write_bytes((folder / "r1.wav").read_bytes())
    mended = al.measure_folder(some, tmp_path / "new", jobs=1, report=al.BatchReport(compare=old))
    assert "  - a.wav: was failed, is measured" in mended.to_text().splitlines()
    # the results alone, in another place, know of no failures
    (tmp_path / "results.jsonl").write_bytes((old / "results.jsonl").read_bytes())
    alone = al.measure_folder(
        some, tmp_path / "new", jobs=1, report=al.BatchReport(compare=tmp_path / "results.jsonl")
    )
    assert "  - a.wav: was not there, is measured" in alone.to_text().splitlines()
    (old / "failures.csv").write_text("something else")
    with pytest.raises(al.AudioLevelError, match=r"failures\.csv: holds no failures of a batch"):
        al.measure_folder(some, tmp_path / "new", jobs=1, report=al.BatchReport(compare=old))


def test_what_an_earlier_run_left_does_not_stay_as_if_it_were_new(
    folder: Path, first: FolderResults, tmp_path: Path
) -> None:
    def names() -> set[str]:
        return {one.name for one in out.iterdir() if not one.name.startswith(".")}

    out = tmp_path / "out"
    assert not al.measure_folder(
        folder, out, jobs=1, report=al.BatchReport(plans=True, compare=first.folder)
    ).removed
    every = names()
    assert {"plans.txt", "plans.jsonl", "changes.csv", "recordings.png", "batch.html"} <= every
    (out / "visits.png").write_bytes(b"my own")
    plain = al.measure_folder(folder, out, jobs=1)
    assert plain.removed == ("changes.csv", "plans.jsonl", "plans.txt")
    assert "  - removed, of an earlier run: changes.csv, plans.jsonl, plans.txt" in plain.to_text()
    assert names() == every - set(plain.removed) | {"visits.png"}
    # nothing is measured, so nothing is drawn
    none = tmp_path / "none"
    none.mkdir()
    (none / "bad.wav").write_text("no sound")
    failed = al.measure_folder(none, out, jobs=1, report=al.BatchReport(page=False))
    assert failed.removed == ("batch.html", "recordings.png", "recordings.alt.txt")
    assert (out / "visits.png").read_bytes() == b"my own"


def test_what_holds_no_results_is_refused(folder: Path, tmp_path: Path) -> None:
    for text in ("[1, 2]\n", '{"path": "a.wav"}\n', "{"):
        (tmp_path / "results.jsonl").write_text(text)
        with pytest.raises(al.AudioLevelError, match="holds no results of a batch"):
            al.measure_folder(
                folder, tmp_path / "out", jobs=1, report=al.BatchReport(compare=tmp_path)
            )
