"""A part of a recording is what cutting it by hand gives."""

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.ground.arrays import Centi
from audiolevel.ground.errors import SettingError
from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import measure
from audiolevel.metering.parts import Part, place_s
from audiolevel.metering.visit import Visit


def _known(laf: Centi | None) -> list[int]:
    assert laf is not None
    return laf.tolist()


def test_a_part_of_a_history_is_what_cutting_the_file_gives(
    tmp_path: Path, wave_and_history: tuple[Path, Path]
) -> None:
    lines = wave_and_history[1].read_text().splitlines()
    cut = tmp_path / "cut.csv"
    rows = (f"{k / 100:.2f}{line[line.index(',') :]}" for k, line in enumerate(lines[1251:4001], 1))
    cut.write_text("\n".join([lines[0], *rows]) + "\n")
    visit = Visit(wave_and_history[1], start=datetime(2026, 3, 2, 8), from_s=12.5, to_s=40.0)
    part = measure(visit, gains=Gains([0.0, 6.0]))
    by_hand = measure(cut, gains=Gains([0.0, 6.0]))
    assert part.start == datetime(2026, 3, 2, 8, 0, 12, 500_000)
    assert _known(part.laf) == _known(by_hand.laf)
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
    part = measure(Visit(wave_and_history[0], from_s=12.5, to_s=40.0), gains=Gains([0.0, 6.0]))
    array = measure(Visit(samples, rate_hz=rate, from_s=12.5, to_s=40.0), gains=Gains([0.0, 6.0]))
    for one in (part, array):
        assert one.duration_s == 27.5
        assert _known(one.laf) == _known(by_hand.laf)
        assert _known(one.gains[1].laf) == _known(by_hand.gains[1].laf)
    assert part.recording is not None
    assert by_hand.recording is not None
    heard = [np.concatenate(list(one.blocks())) for one in (part.recording, by_hand.recording)]
    assert np.array_equal(heard[0], heard[1])


def test_a_part_beyond_the_end_is_refused(wave_and_history: tuple[Path, Path]) -> None:
    for path in wave_and_history:
        with pytest.raises(SettingError, match="from 100 s on"):
            measure(Visit(path, from_s=100.0))
    with pytest.raises(SettingError, match="must lie after --from"):
        Part(10.0, 10.0)


@pytest.mark.parametrize(
    ("part", "row_s", "rows"),
    [
        (Part(), 0.01, (0, None)),
        (Part(0.07, 0.29), 0.01, (7, 29)),
        # only rows that lie wholly in it
        (Part(1.5, 3.5), 1.0, (2, 3)),
        (Part(0.125, 0.375), 0.125, (1, 3)),
    ],
)
def test_the_rows_of_a_part(part: Part, row_s: float, rows: tuple[int, int | None]) -> None:
    assert part.rows(row_s) == rows


def test_times_of_a_part_are_in_order_and_not_negative() -> None:
    for begin, end in ((-1.0, None), (float("nan"), None), (5.0, 4.0), (None, 0.0)):
        with pytest.raises(SettingError, match=r"--from|--to"):
            Part(begin, end)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("0", 0.0),
        ("90", 90.0),
        ("7.25", 7.25),
        ("1:30", 90.0),
        ("1:02:03.5", 3723.5),
        ("100:00", 6e3),
    ],
)
def test_places_are_seconds_or_clocks(text: str, seconds: float) -> None:
    assert place_s(text) == seconds


@pytest.mark.parametrize("text", ["", "1h", "1:75", "-1", "nan", "inf", "1:2:3:4", "1:-2", ":30"])
def test_a_place_of_no_form_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not seconds, minutes:seconds or hours"):
        place_s(text)


def test_a_start_is_of_the_clock_on_the_wall() -> None:
    assert Part(90.0).start(datetime(2026, 3, 2, 9, 30)) == datetime(2026, 3, 2, 9, 31, 30)
    with pytest.raises(SettingError, match="clock on the wall there, without Z or an offset"):
        Part().start(datetime(2026, 3, 2, 9, 30, tzinfo=UTC))
