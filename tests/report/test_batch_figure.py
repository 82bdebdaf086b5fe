"""Pictures of a batch, where there is something to show."""

from pathlib import Path

import pytest

from tests.batch.made_folder import make_folder, run_command


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


def test_pictures_of_settings_and_visits_where_they_are_known(folder: Path, tmp_path: Path) -> None:
    manifest = tmp_path / "m.csv"
    rows = [f"wall/w{i}.flac,2026-03-{1 + 9 * i:02d}T10:00,{1 + i % 2}" for i in range(3)]
    manifest.write_text("path,start,gain_setting\n" + "\n".join(rows) + "\n")
    run = run_command(folder, "--out", tmp_path / "out", "--jobs", 1, "--manifest", manifest)
    assert run.exit_code == 1
    said = (tmp_path / "out" / "gain_settings.alt.txt").read_text()
    assert "wall: settings 1, 2" in said
    assert (
        "wall, dB SPL: 3 visits from 2026-03-01 to 2026-03-19"
        in (tmp_path / "out" / "visits.alt.txt").read_text()
    )
    plain = run_command(folder, "--out", tmp_path / "plain", "--jobs", 1)
    assert plain.exit_code == 1
    assert not (tmp_path / "plain" / "visits.png").exists()
