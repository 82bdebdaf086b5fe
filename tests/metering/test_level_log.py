"""Logs of other instruments stand in for a recording too."""

import tracemalloc
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from audiolevel.ground.errors import RecordingError
from audiolevel.ground.notices import notice
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import measure
from audiolevel.metering.quality import levelled_db, quality_notices
from audiolevel.metering.recordings import recording_of_array
from audiolevel.metering.visit import Visit
from audiolevel.report.words.cautions import notice_text


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
    assert measure(Visit(path, time_column="clock")).row_s == 1 / 16


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
    visit = Visit(path, level_column="LAFmax [dB]", time_column="Date")
    heard = measure(visit, keep_levels=True)
    assert heard.laf is not None
    assert heard.laf.tolist() == [-4050, -3825, -4100]
    assert (heard.row_s, heard.start) == (0.5, datetime(2026, 3, 2, 7, 15))
    assert heard.quantity == "LAF"
    given = datetime(2026, 3, 9, 8, 0)
    assert measure(replace(visit, start=given)).start == given


def test_tabs_and_a_clock_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "meter.tsv"
    path.write_text("Nr\tt\tLAeq\n" + "".join(f"a\t{43200 + k}\t-40\n" for k in range(5)))
    heard = measure(Visit(path, level_column="LAeq", time_column="t"))
    assert (heard.row_s, heard.duration_s, heard.quantity) == (1.0, 5.0, "LAeq")


def test_sound_pressure_is_brought_to_full_scale_by_the_calibration(tmp_path: Path) -> None:
    path = _log(tmp_path / "meter.csv", [62.5, 71.0], 1.0)
    heard = measure(Visit(path, spl_at_full_scale_db=110.0), keep_levels=True)
    assert heard.laf is not None
    assert heard.laf.tolist() == [-4750, -3900]
    with pytest.raises(RecordingError, match=r"71\.0 dB are sound pressure, not dB FS"):
        measure(path)


@pytest.mark.parametrize(
    ("text", "columns", "match"),
    [
        ("t,x\n1,-40\n2,-40\n", ("L", "t"), "no column L; its header has t, x"),
        ("t,x\n1,-40\n2,-40\n", ("x", None), "no column time_s"),
        ("t,x\n2,-40\n4,-40\n", ("x", "t"), "2 s apart .* up to 1 s"),
        ("t,x\n1,-40\n1,-40\n", ("x", "t"), "0 s apart"),
        ("t,x\n1,-40\n", ("x", "t"), "one row only"),
        ("t,x\nnoon,-40\n", ("x", "t"), "line 2: t is neither seconds nor a date"),
        ("t,x,n\n1,-40,a\n2,?,b\n", ("x", "t"), "line 3 is not 3 cells with numbers"),
        ("t,x\n1,40\n2,-999\n", ("x", "t"), "line 3: -999 dB is no level"),
        ("time_s,laf_db\n600,-40\n601,-40\n", (None, None), "line 2 is at 600 s"),
        (
            "t,x\n2026-03-02T10:00:00,-40\n2026-03-02T10:00:01+01:00,-40\n",
            ("x", "t"),
            "some times have an offset",
        ),
    ],
)
def test_what_is_no_log_is_refused(
    tmp_path: Path, text: str, columns: tuple[str | None, str | None], match: str
) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text)
    with pytest.raises(RecordingError, match=match) as caught:
        measure(Visit(path, level_column=columns[0], time_column=columns[1]))
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


def test_a_mean_over_less_than_the_impulse_reads_above_its_lafmax() -> None:
    """LAeq of a row within the impulse is its level; F reaches 1 − exp(−1.6) of it."""
    assert levelled_db(0.125) == pytest.approx(10 * np.log10(1 - np.exp(-1.6)))
    said = {
        row_s: notice_text(
            notice("coarse history", "LAeq", interval_s=row_s, below_db=levelled_db(row_s))
        )
        for row_s in (0.125, 1.0)
    }
    assert "reads up to 1.0 dB above its LAFmax" in said[0.125]
    assert "reads 6.0 dB below its LAFmax" in said[1.0]
