"""A visit holds together what was recorded in one go, and refuses what does not belong together."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.ground.errors import AudioLevelError, SettingError
from audiolevel.metering.annotations import Mark
from audiolevel.metering.measurement import measure
from audiolevel.metering.recordings import recording_of_array
from audiolevel.metering.visit import Visit, each_of, visits_of

RATE_HZ = 8000
TEN = datetime(2026, 3, 2, 10)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Noise of twenty seconds, whole and split; two channels; a history in dB SPL; marks."""
    where = tmp_path_factory.mktemp("visit")
    # the second half is 20 dB above the first
    level = np.repeat([0.01, 0.1], 10 * RATE_HZ)
    wave = level * np.random.default_rng(4).uniform(-1, 1, len(level))
    sf.write(where / "whole.wav", wave, RATE_HZ, subtype="FLOAT")
    for name, half in zip(("100000", "100010"), np.split(wave, 2), strict=True):
        sf.write(where / f"20260302_{name}.wav", half, RATE_HZ, subtype="FLOAT")
    sf.write(where / "both.wav", np.column_stack([wave, wave / 10]), RATE_HZ, subtype="FLOAT")
    (where / "meter.csv").write_text("t,L\n" + "".join(f"{k},{60 + k}\n" for k in range(1, 6)))
    (where / "marks.csv").write_text("start_s,end_s,sound,label\n4,6,horn,\n12,13,,false\n")
    return where


@pytest.mark.parametrize(
    ("made", "match"),
    [
        (lambda _: Visit([]), "^recordings: none is given; give one or more$"),
        (lambda _: visits_of([]), "^recordings: none is given; give one or more$"),
        (lambda _: Visit(np.zeros(9)), "^rate_hz: samples in an array need"),
        (lambda _: Visit([0.0, 0.1]), "^rate_hz: samples in an array need"),
        (lambda _: Visit(np.zeros(9), rate_hz=1000), "1000 Hz"),
        (lambda _: Visit("a.wav", from_s=-1.0), "^--from -1: must be seconds"),
        (lambda _: Visit("a.wav", from_s=5.0, to_s=5.0), "^--to 5 s must lie after --from 5 s"),
        (lambda _: Visit("a.wav", start=TEN.replace(tzinfo=UTC)), "without Z or an offset"),
        (lambda of: Visit("a.wav", marks=of / "no.csv"), r"no\.csv: cannot be read"),
        (lambda of: Visit("a.wav", marks=[of / "marks.csv"]), "^marks: give the file of them"),
        (lambda _: Visit("a.wav", wet="dry"), "^wet: 'dry' must be True, False, or None"),  # type: ignore[arg-type]  # a slip
        (lambda _: al.measure(Visit("a.wav"), channel=2), "a visit says them itself"),
        (lambda of: Visit([of / "whole.wav"] * 2), "names a file twice"),
        (lambda of: Visit([of / "whole.wav", of / "both.wav"]), "a sequence is of one recorder"),
        (lambda of: measure(Visit(of / "whole.wav", channel=2)), "channel"),
        (lambda of: measure(Visit(of / "whole.wav", from_s=20.0)), "from 20 s on"),
        (lambda of: measure(Visit(of / "meter.csv", level_column="L")), "no column time_s"),
        (lambda _: visits_of(["a.wav", "b.wav"], [TEN]), "^starts: 1 for 2 recordings; give one"),
        (lambda _: visits_of("a.wav", [TEN, TEN]), "^starts: 2 for 1 recording; give one"),
    ],
)
def test_what_does_not_belong_together_is_refused_in_one_line(
    folder: Path, made: Callable[[Path], object], match: str
) -> None:
    with pytest.raises(AudioLevelError, match=match) as caught:
        made(folder)
    assert "\n" not in str(caught.value)


def test_a_slip_is_told_before_a_recording_is_looked_for() -> None:
    """Hours of measuring would else come before it."""
    Visit("nowhere.wav")
    with pytest.raises(SettingError, match="--from"):
        Visit("nowhere.wav", from_s=float("nan"))


def test_a_part_is_measured_as_if_it_were_cut_out(folder: Path) -> None:
    part = measure(Visit(folder / "whole.wav", start=TEN, from_s=10.0, to_s=15.0))
    assert part.duration_s == 5.0
    assert part.start == TEN.replace(second=10)
    # the two halves are 20 dB apart
    first = measure(Visit(folder / "whole.wav", to_s=10.0))
    assert part.levels.laeq_db - first.levels.laeq_db == pytest.approx(20.0, abs=0.1)


def test_a_channel_is_listened_to_alone(folder: Path) -> None:
    first, second = (measure(Visit(folder / "both.wav", channel=n)) for n in (1, 2))
    # a tenth of the samples is 20 dB
    assert first.levels.lzeq_db - second.levels.lzeq_db == pytest.approx(20.0, abs=0.01)
    assert first.levels == measure(folder / "whole.wav").levels


@pytest.mark.parametrize(
    ("from_s", "to_s", "heard"),
    [
        (None, None, [(4.0, 6.0, True), (12.0, 13.0, False)]),
        # a mark partly outside is heard as far as it lies inside
        (5.0, None, [(-1.0, 1.0, True), (7.0, 8.0, False)]),
        (2.0, 5.0, [(2.0, 3.0, True)]),
        (6.0, 12.0, []),
    ],
)
def test_marks_are_counted_from_where_the_part_begins(
    folder: Path, from_s: float | None, to_s: float | None, heard: list[tuple[float, float, bool]]
) -> None:
    visit = Visit(folder / "whole.wav", marks=folder / "marks.csv", from_s=from_s, to_s=to_s)
    found = measure(visit).marks
    assert [(mark.start_s, mark.end_s, mark.wanted) for mark in found] == heard


def test_marks_of_a_file_are_those_given_one_by_one(folder: Path) -> None:
    given = [Mark(4.0, 6.0, "horn"), Mark(12.0, 13.0, "", label="false")]
    path = folder / "whole.wav"
    assert Visit(path, marks=folder / "marks.csv").marks == Visit(path, marks=given).marks


def test_whether_the_road_was_wet_reaches_the_survey(folder: Path) -> None:
    visits = [
        Visit(folder / "whole.wav", to_s=10.0, wet=True),
        Visit(folder / "whole.wav", from_s=10.0),
    ]
    assert al.plan(visits).base.survey.wet == [True, None]


def test_columns_and_calibration_of_a_history(folder: Path) -> None:
    visit = Visit(
        folder / "meter.csv", level_column="L", time_column="t", spl_at_full_scale_db=100.0
    )
    assert visit.is_history
    # 61 to 65 dB of 100 at full scale
    laf = measure(visit, keep_levels=True).laf
    assert laf is not None
    assert laf.tolist() == [-3900, -3800, -3700, -3600, -3500]
    part = measure(replace(visit, from_s=2.0, to_s=4.0), keep_levels=True)
    assert part.laf is not None
    assert part.laf.tolist() == [-3700, -3600]


def test_a_calibration_of_its_own_goes_before_that_of_the_site(folder: Path) -> None:
    bare = Visit(folder / "meter.csv", level_column="L", time_column="t")
    assert bare.calibrated(110.0).spl_at_full_scale_db == 110.0
    assert bare.calibrated(110.0).calibrated(120.0).spl_at_full_scale_db == 110.0
    assert bare.calibrated(None) is bare


def test_split_files_are_the_recording_they_were(folder: Path) -> None:
    names = ["20260302_100010.wav", "20260302_100000.wav"]
    split = measure(Visit([folder / name for name in names]))
    assert split.levels == measure(folder / "whole.wav").levels
    assert (split.start, split.start_by) == (TEN, "name")
    given = measure(Visit([folder / name for name in names], start=TEN.replace(hour=9)))
    assert (given.start, given.start_by) == (TEN.replace(hour=9), "")


def test_an_array_a_list_and_a_recording_are_measured_alike(folder: Path) -> None:
    wave, rate_hz = sf.read(folder / "whole.wav")
    of_file = measure(folder / "whole.wav").levels
    assert measure(Visit(wave, rate_hz=rate_hz)).levels == of_file
    assert measure(Visit(wave.tolist(), rate_hz=rate_hz)).levels == of_file
    assert measure(Visit(recording_of_array(wave, rate_hz))).levels == of_file


def test_one_path_is_no_sequence_of_letters() -> None:
    assert [visit.name for visit in visits_of("ab")] == ["ab"]
    assert [visit.name for visit in visits_of([Path("a"), Visit("b")])] == ["a", "b"]


def test_a_start_is_given_beside_the_visits_or_with_each() -> None:
    assert [visit.start for visit in visits_of(["a", "b"])] == [None, None]
    assert [visit.start for visit in visits_of("a", TEN)] == [TEN]
    # None leaves what the visit says
    both = visits_of([Visit("a", start=TEN), "b"], [None, TEN.replace(hour=11)])
    assert [visit.start for visit in both] == [TEN, TEN.replace(hour=11)]


def test_one_value_for_each_recording_or_none_at_all() -> None:
    assert each_of((), ["a", "b"], "starts") == [None, None]
    assert each_of((1, 2), ["a", "b"], "starts") == [1, 2]
    with pytest.raises(SettingError, match="marks: 1 for 2 recordings; give one for each"):
        each_of((1,), ["a", "b"], "marks")


def test_a_single_value_is_one_and_no_text_is_letters() -> None:
    moment = datetime(2026, 3, 3)
    for one in ("wet", Path("marks.csv"), moment, 3.0):
        assert each_of(one, ["a"], "given") == [one]
    with pytest.raises(SettingError, match="weather: 1 for 2 logs; give one for each"):
        each_of("wet", ["a", "b"], "weather", "log")
    with pytest.raises(SettingError, match="starts: 2 for 1 recording; give one for each"):
        each_of([moment, moment], ["a"], "starts")
