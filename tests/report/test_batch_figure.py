"""Pictures of a batch, where there is something to show."""

from pathlib import Path

import pytest

from audiolevel.report.batch.figure import recordings
from audiolevel.report.batch.tables import Record
from tests.batch.made_folder import make_folder, run_command


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


def test_pictures_of_settings_and_visits_where_they_are_known(folder: Path, tmp_path: Path) -> None:
    manifest = tmp_path / "m.csv"
    rows = [f"wall/w{i}.flac,2026-03-{1 + 9 * i:02d}T10:00,{1 + i % 2}" for i in range(3)]
    manifest.write_text("path,start,gain_setting\n" + "\n".join(rows) + "\n")
    run = run_command(folder, "--out", tmp_path / "out", "--jobs", 1, "--manifest", manifest)
    assert run.exit_code == 4
    said = (tmp_path / "out" / "gain_settings.alt.txt").read_text()
    assert "wall: settings 1, 2" in said
    assert (
        "wall, dB SPL: 3 visits from 2026-03-01 to 2026-03-19"
        in (tmp_path / "out" / "visits.alt.txt").read_text()
    )
    plain = run_command(folder, "--out", tmp_path / "plain", "--jobs", 1)
    assert plain.exit_code == 4
    assert not (tmp_path / "plain" / "visits.png").exists()


def _record(path: str, level_db: float, unit: str = "dB SPL", *, silent: bool = False) -> Record:
    full_scale_db = 110.0 if unit == "dB SPL" else None
    level_db = -200.0 + (full_scale_db or 0.0) if silent else level_db
    spread = 0.0 if silent else 10.0
    return {
        "site": path.split("/")[0],
        "path": path,
        "laeq_db": level_db,
        "percentiles_db": {"L90": level_db - spread, "L10": level_db + spread},
        "lafmax_db": level_db + 2 * spread,
        "clipping": {"verdict": "none"},
        "reference": unit,
        "spl_at_full_scale_db": full_scale_db,
    }


def test_units_have_axes_of_their_own_and_silence_does_not_stretch_them() -> None:
    given = [_record(f"mill/{n}.wav", 60.0 + n) for n in range(3)]
    given += [_record("mill/off.wav", 0.0, silent=True), _record("yard/1.wav", -40.0, "dB FS")]
    picture = recordings(lambda: iter(given))
    first, second = picture.figure.axes
    assert first.get_xlabel().startswith("dB FS")
    assert second.get_xlabel().startswith("dB SPL")
    names = [one.get_text() for one in second.get_yticklabels()]
    assert names == ["mill/off.wav", "mill/0.wav", "mill/1.wav", "mill/2.wav"]
    low, high = second.get_xlim()
    assert 45 < low < 50
    assert 82 < high < 90
    assert "digital silence" in [one.get_text() for one in second.texts]
    assert "mill: 4 recordings, LAeq 60.0 to 62.0 dB SPL" in picture.alternative
    assert picture.alternative.endswith("0 clip heavily; 1 silent.")


def test_of_many_recordings_the_names_are_left_out() -> None:
    given = [_record(f"mill/{n}.wav", 60.0) for n in range(61)]
    (axes,) = recordings(lambda: iter(given)).figure.axes
    assert list(axes.get_yticks()) == []
    assert axes.get_ylabel() == "61 recordings"
