"""A level history stands in for its recording."""

import tracemalloc
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.errors import RecordingError, SettingError
from audiolevel.metering.calibration import Scale
from audiolevel.metering.level_history import HistoryWriter
from audiolevel.metering.level_log import LogForm, read_history
from audiolevel.metering.measurement import Gains, measure
from audiolevel.metering.parts import Part
from audiolevel.metering.quality import levelled_db, quality_notices
from audiolevel.metering.recordings import StretchReader, recording_of_array


@pytest.fixture(scope="module")
def wave_and_history(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("history")
    rng = np.random.default_rng(12)
    level = np.repeat(10 ** (rng.uniform(-3, -0.5, 700)), 1600)
    sf.write(folder / "a.wav", np.clip(level * rng.normal(0, 1, len(level)), -1, 1), 16000)
    with HistoryWriter(folder / "a.csv") as history:
        measure(folder / "a.wav", history=history)
    return folder / "a.wav", folder / "a.csv"


def test_columns_and_grid(wave_and_history: tuple[Path, Path]) -> None:
    lines = wave_and_history[1].read_text().splitlines()
    assert lines[0].split(",")[:6] == [
        "time_s",
        "laf_db",
        "las_db",
        "lzf_db",
        "lcpeak_db",
        "clipped",
    ]
    assert [line.split(",")[0] for line in lines[1:4]] == ["0.01", "0.02", "0.03"]
    assert len(lines) == 1 + 7000


def test_a_history_tells_what_its_recording_told(wave_and_history: tuple[Path, Path]) -> None:
    wave = measure(wave_and_history[0], gains=Gains([0.0, -6.0]))
    read = measure(wave_and_history[1], gains=Gains([0.0, -6.0]))
    assert np.array_equal(wave.laf, read.laf)
    assert wave.levels.percentiles_db == read.levels.percentiles_db
    assert read.levels.laeq_db == pytest.approx(wave.levels.laeq_db, abs=0.005)
    assert read.levels.lafmax_db == wave.levels.lafmax_db
    assert read.levels.clipping.clipped_share == pytest.approx(
        wave.levels.clipping.clipped_share, rel=1e-3
    )
    assert wave.onsets is not None
    assert read.onsets is not None
    assert np.array_equal(wave.onsets.start_s, read.onsets.start_s)


def test_a_history_of_levels_alone_is_enough(tmp_path: Path) -> None:
    path = tmp_path / "short.csv"
    path.write_text("time_s,laf_db\n" + "".join(f"{k / 100},{-40}\n" for k in range(1, 301)))
    heard = measure(path, gains=Gains([0.0]))
    assert heard.levels.laeq_db == pytest.approx(-40)
    assert heard.laf is not None
    assert len(heard.laf) == 300


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("time_s,level\n0.01,3\n", "no column laf_db"),
        ("time_s,laf_db\n", "no rows"),
        ("", "no column time_s"),
        ("time_s,laf_db\n0.01,-40\n0.02,loud\n", "line 3 is not 2 numbers"),
        ("time_s,laf_db\n0.01,-40\n0.02\n", "line 3 is not 2 numbers"),
        ("time_s,laf_db\n0.01,nan\n", "line 2 holds a value that is not finite"),
        ("time_s,laf_db\n0.01,-40\n0.03,-40\n", "line 3 is not 10 ms after"),
    ],
)
def test_what_is_no_history_is_refused(tmp_path: Path, text: str, match: str) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text)
    with pytest.raises(RecordingError, match=match):
        list(read_history(path))


def test_nothing_half_written_is_left(tmp_path: Path) -> None:
    sf.write(tmp_path / "bad.wav", np.array([0.0] * 20000 + [np.nan]), 16000, subtype="FLOAT")
    with (
        pytest.raises(RecordingError),
        HistoryWriter(tmp_path / "out.csv") as history,
    ):
        measure(tmp_path / "bad.wav", history=history)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bad.wav"]


def test_only_a_weighted_levels_change_within_a_second(wave_and_history: tuple[Path, Path]) -> None:
    """More than one band every 10 ms would tell of speech (docs/privacy.md)."""
    with wave_and_history[1].open() as file:
        names = file.readline().strip().split(",")
    table = np.loadtxt(wave_and_history[1], delimiter=",", skiprows=1)
    changing = {
        name
        for name, column in zip(names, table.T, strict=True)
        if (column.reshape(-1, 100) != column.reshape(-1, 100)[:, :1]).any()
    }
    assert changing <= {"time_s", "laf_db", "las_db", "lafmax_db", "clipped"}
    # what is held is the second's own: the highest sample of the 1,600 of each of ten steps
    samples = sf.read(wave_and_history[0])[0].reshape(-1, 16_000)
    peak = 20 * np.log10(np.abs(samples).max(axis=1))
    held = table[::100, names.index("sample_peak_db")]
    assert held == pytest.approx(peak, abs=0.006)


def test_a_coarse_history_is_for_reading_only(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    sf.write(tmp_path / "a.wav", 0.1 * rng.standard_normal(8000 * 7 + 4000), 8000)
    with HistoryWriter(tmp_path / "coarse.csv", coarse=True) as history:
        whole = measure(tmp_path / "a.wav", history=history)
    table = np.loadtxt(tmp_path / "coarse.csv", delimiter=",", skiprows=1)
    assert table[:, 0].tolist() == [1, 2, 3, 4, 5, 6, 7]
    # the energy mean of its seconds is the mean of the whole, but for the half second left out
    mean = 10 * np.log10((10 ** (table[:, 1] / 10)).mean())
    assert mean == pytest.approx(whole.levels.laeq_db, abs=0.05)
    assert table[:, 4].max() <= whole.levels.lafmax_db
    with pytest.raises(RecordingError, match="coarse history, one row a second"):
        list(read_history(tmp_path / "coarse.csv"))


def test_a_coarse_history_in_pieces_is_the_same(tmp_path: Path) -> None:
    rng = np.random.default_rng(4)
    sf.write(tmp_path / "a.wav", 0.1 * rng.standard_normal(8000 * 5), 8000)
    with HistoryWriter(tmp_path / "fine.csv") as history:
        measure(tmp_path / "a.wav", history=history)
    rows = next(iter(read_history(tmp_path / "fine.csv")))
    for name, size in (("one.csv", 500), ("many.csv", 130)):
        with HistoryWriter(tmp_path / name, coarse=True) as history:
            for at in range(0, 500, size):
                history.add(rows[at : at + size])
    assert (tmp_path / "one.csv").read_text() == (tmp_path / "many.csv").read_text()
    assert len((tmp_path / "one.csv").read_text().splitlines()) == 1 + 5


# --- logs of other instruments -------------------------------------------------------------------


def _log(path: Path, levels: list[float], row_s: float, head: str = "time_s,laf_db") -> Path:
    rows = (f"{(k + 1) * row_s:.6g},{level}" for k, level in enumerate(levels))
    path.write_text("\n".join([head, *rows]) + "\n")
    return path


@pytest.mark.parametrize("row_s", [1.0, 0.5, 0.125, 0.1, 0.0625, 0.3, 0.025])
def test_rows_of_any_interval_up_to_a_second(tmp_path: Path, row_s: float) -> None:
    heard = measure(_log(tmp_path / "log.csv", [-40.0] * 600, row_s), keep_levels=True)
    assert heard.row_s == pytest.approx(row_s, rel=1e-9)
    assert heard.duration_s == pytest.approx(600 * row_s)
    assert heard.levels.laeq_db == pytest.approx(-40)
    # LAE = LAeq + 10 lg(T / 1 s), IEC 61672-1:2013, 3.13
    assert heard.levels.lae_db == pytest.approx(-40 + 10 * np.log10(600 * row_s))
    assert (heard.onsets is None) == (row_s > 0.025)
    assert (heard.rises is None) == (row_s > 0.025)
    assert heard.laf is not None
    assert len(heard.laf) == 600


def test_times_rounded_to_milliseconds_do_not_drift(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    rows = (f"{round(k / 16, 3)},-40" for k in range(1, 40_000))
    path.write_text("\n".join(["clock,laf_db", *rows]))
    assert measure(path, form=LogForm(time_column="clock")).row_s == 1 / 16


def test_a_row_left_out_is_named(tmp_path: Path) -> None:
    path = _log(tmp_path / "log.csv", [-40.0] * 100, 0.125)
    lines = path.read_text().splitlines()
    path.write_text("\n".join(lines[:50] + lines[51:]))
    with pytest.raises(RecordingError, match=r"line 51 is not 125 ms after the one before"):
        measure(path)


def test_semicolons_decimal_commas_and_dates(tmp_path: Path) -> None:
    path = tmp_path / "meter.csv"
    path.write_text(
        "\ufeffDate;LAFmax [dB];Remark\r\n"
        "2026-03-02 07:15:00,0;-40,5;\r\n"
        '2026-03-02 07:15:00,5;"-38,25";lorry\r\n'
        "2026-03-02 07:15:01,0;-41;\r\n",
        encoding="utf-8",
    )
    heard = measure(path, keep_levels=True, form=LogForm("LAFmax [dB]", "Date"))
    assert heard.laf is not None
    assert heard.laf.tolist() == [-4050, -3825, -4100]
    assert (heard.row_s, heard.start) == (0.5, datetime(2026, 3, 2, 7, 15))
    assert heard.quantity == "LAF"
    given = datetime(2026, 3, 9, 8, 0)
    assert measure(path, start=given, form=LogForm("LAFmax [dB]", "Date")).start == given


def test_tabs_and_a_clock_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "meter.tsv"
    path.write_text("Nr\tt\tLAeq\n" + "".join(f"a\t{43200 + k}\t-40\n" for k in range(5)))
    heard = measure(path, form=LogForm("LAeq", "t"))
    assert (heard.row_s, heard.duration_s, heard.quantity) == (1.0, 5.0, "LAeq")


def test_sound_pressure_is_brought_to_full_scale_by_the_calibration(tmp_path: Path) -> None:
    path = _log(tmp_path / "meter.csv", [62.5, 71.0], 1.0)
    heard = measure(path, keep_levels=True, form=LogForm(spl_at_full_scale_db=110.0))
    assert heard.laf is not None
    assert heard.laf.tolist() == [-4750, -3900]
    with pytest.raises(RecordingError, match=r"71\.0 dB are sound pressure, not dB FS"):
        measure(path)


@pytest.mark.parametrize(
    ("text", "form", "match"),
    [
        ("t,x\n1,-40\n2,-40\n", LogForm("L", "t"), "no column L; its header has t, x"),
        ("t,x\n1,-40\n2,-40\n", LogForm("x"), "no column time_s"),
        ("t,x\n2,-40\n4,-40\n", LogForm("x", "t"), "2 s apart .* up to 1 s"),
        ("t,x\n1,-40\n1,-40\n", LogForm("x", "t"), "0 s apart"),
        ("t,x\n1,-40\n", LogForm("x", "t"), "one row only"),
        ("t,x\nnoon,-40\n", LogForm("x", "t"), "line 2: t is neither seconds nor a date"),
        ("t,x,n\n1,-40,a\n2,?,b\n", LogForm("x", "t"), "line 3 is not 3 cells with numbers"),
        ("time_s,laf_db\n600,-40\n601,-40\n", None, "line 2 is at 600 s"),
        (
            "t,x\n2026-03-02T10:00:00,-40\n2026-03-02T10:00:01+01:00,-40\n",
            LogForm("x", "t"),
            "some times have an offset",
        ),
    ],
)
def test_what_is_no_log_is_refused(
    tmp_path: Path, text: str, form: LogForm | None, match: str
) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text)
    with pytest.raises(RecordingError, match=match) as caught:
        measure(path, form=form)
    assert "\n" not in str(caught.value)


def test_what_a_log_lacks_is_not_known(tmp_path: Path) -> None:
    heard = measure(_log(tmp_path / "log.csv", [-40.0] * 100, 0.125), gains=Gains([-6.0, 0.0, 6.0]))
    assert not heard.has_peaks
    assert np.isnan([heard.levels.lceq_db, heard.levels.sample_peak_db]).all()
    assert [gain.laf is None for gain in heard.gains] == [False, False, True]
    codes = {one.code for one in quality_notices(heard, Scale())}
    assert {"coarse history", "no peaks"} <= codes
    assert "low-frequency overload" not in codes


def test_an_impulse_in_a_mean_of_a_second() -> None:
    """0.2 s in 1 s is 7.0 dB down, and F reaches 1 − exp(−1.6) of it, 1.0 dB down: 6.0 dB."""
    assert levelled_db(1.0) == pytest.approx(-10 * np.log10(0.2) - 0.98, abs=0.005)
    # against the meter itself: a burst of a 1 kHz sine of 0.2 s in the middle of a second
    rate = 16_000
    wave = np.zeros(5 * rate)
    wave[round(2.4 * rate) : round(2.6 * rate)] = np.sin(
        2 * np.pi * 1000 * np.arange(round(0.2 * rate)) / rate
    )
    heard = measure(recording_of_array(wave, rate))
    laeq_1s = heard.levels.laeq_db + 10 * np.log10(5)
    assert heard.levels.lafmax_db - laeq_1s == pytest.approx(levelled_db(1.0), abs=0.05)


def test_a_part_of_a_history_is_what_cutting_the_file_gives(
    tmp_path: Path, wave_and_history: tuple[Path, Path]
) -> None:
    lines = wave_and_history[1].read_text().splitlines()
    cut = tmp_path / "cut.csv"
    rows = (f"{k / 100:.2f}{line[line.index(',') :]}" for k, line in enumerate(lines[1251:4001], 1))
    cut.write_text("\n".join([lines[0], *rows]) + "\n")
    part = measure(
        wave_and_history[1],
        start=datetime(2026, 3, 2, 8),
        gains=Gains([0.0, 6.0]),
        part=Part(12.5, 40.0),
    )
    by_hand = measure(cut, gains=Gains([0.0, 6.0]))
    assert part.start == datetime(2026, 3, 2, 8, 0, 12, 500_000)
    assert np.array_equal(part.laf, by_hand.laf)
    assert part.levels == by_hand.levels
    assert np.array_equal(part.second_peak_db, by_hand.second_peak_db)
    assert part.onsets is not None
    assert by_hand.onsets is not None
    assert np.array_equal(part.onsets.start_s, by_hand.onsets.start_s)
    assert part.gains[1].clipped_share == by_hand.gains[1].clipped_share


def test_a_part_of_a_sound_is_what_cutting_the_file_gives(
    tmp_path: Path, wave_and_history: tuple[Path, Path]
) -> None:
    samples, rate = sf.read(wave_and_history[0], dtype="int16")
    sf.write(tmp_path / "cut.wav", samples[round(12.5 * rate) : 40 * rate], rate)
    by_hand = measure(tmp_path / "cut.wav", gains=Gains([0.0, 6.0]))
    part = measure(wave_and_history[0], gains=Gains([0.0, 6.0]), part=Part(12.5, 40.0))
    array = measure(
        recording_of_array(samples, rate), gains=Gains([0.0, 6.0]), part=Part(12.5, 40.0)
    )
    for one in (part, array):
        assert one.duration_s == 27.5
        assert np.array_equal(one.laf, by_hand.laf)
        assert np.array_equal(one.gains[1].laf, by_hand.gains[1].laf)
    assert part.recording is not None
    assert by_hand.recording is not None
    stretch = [StretchReader(one).read(-5, 30) for one in (part.recording, by_hand.recording)]
    assert np.array_equal(*stretch)


def test_a_part_beyond_the_end_is_refused(wave_and_history: tuple[Path, Path]) -> None:
    for path in wave_and_history:
        with pytest.raises(SettingError, match="--from"):
            measure(path, part=Part(100.0))
    with pytest.raises(SettingError, match="must lie after --from"):
        Part(10.0, 10.0)


def test_a_week_of_seconds_stays_a_week_of_seconds(tmp_path: Path) -> None:
    """Rows of 10 ms would be 60 million: 120 MB for the kept levels alone."""
    week = 7 * 86_400
    path = tmp_path / "week.csv"
    level = np.random.default_rng(2).normal(-50, 3, week)
    np.savetxt(
        path,
        np.column_stack([np.arange(1, week + 1), level]),
        fmt="%.6g",
        delimiter=",",
        header="time_s,laf_db",
        comments="",
    )
    tracemalloc.start()
    heard = measure(path, keep_levels=True)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert heard.laf is not None
    assert heard.laf.nbytes == 2 * week
    assert peak < 60e6
