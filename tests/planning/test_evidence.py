"""Marked sounds against the levels worked out for them: made by hand, and on spoilt recordings."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner
from scipy.signal import butter, sosfilt

from audiolevel.cli import main
from audiolevel.ground.arrays import Array
from audiolevel.metering.annotations import Mark
from audiolevel.planning.evidence import Evidence
from audiolevel.planning.survey import Survey, survey_of
from audiolevel.planning.wanted import variation_of
from audiolevel.sounds.catalogue import find, with_level
from audiolevel.sounds.synthesis import at_full_scale, render
from tests.made_street import RATE_HZ, SITE, heard

HORN = find("vehicle horn")


def _with_horns(
    offsets_db: list[float], distance_m: float = 4.0, gap_s: float = 10.0
) -> tuple[Survey, Survey]:
    """A steady faint street with horns so far off their table, unmarked and marked."""
    count = len(offsets_db)
    wave = np.random.default_rng(12).normal(0, 1e-3, round((count + 1) * gap_s * RATE_HZ))
    marks = []
    for i, offset_db in enumerate(offsets_db):
        horn = with_level(HORN, HORN.level_db + offset_db, HORN.at_m)
        pressure = render(horn, RATE_HZ, distance_m=distance_m, seed=i)
        at = round((i + 0.5) * gap_s * RATE_HZ)
        wave[at : at + len(pressure)] += at_full_scale(pressure, 110.0)
        marks.append(Mark(at / RATE_HZ, at / RATE_HZ + 1.0, "vehicle horn", distance_m))
    one = heard(wave=wave)
    return survey_of([one], SITE), survey_of([replace(one, marks=tuple(marks))], SITE)


def _only(survey: Survey) -> Evidence:
    (evidence,) = survey.evidence
    return evidence


@pytest.mark.parametrize("distance_m", [4.0, 12.0])
def test_offsets_are_what_was_put_in_at_any_distance(distance_m: float) -> None:
    put_in = [-3.0, 0.0, 4.0]
    plain, taught = _with_horns(put_in, distance_m)
    assert plain.evidence == ()
    found = _only(taught)
    assert found.offsets_db == pytest.approx(put_in, abs=0.3)
    assert found.median_db == pytest.approx(0.0, abs=0.3)
    assert not found.contradicts


def test_what_was_heard_narrows_and_moves_what_is_believed() -> None:
    plain, taught = _with_horns([-3.0, -2.0, -4.0, -3.0])
    before, after = plain.wanted[0].variation, taught.wanted[0].variation
    assert before == variation_of(SITE.wanted[0], SITE)
    # hypot(4, 2.5) from horn to horn; hypot(3, 1.5) of the mean and of a data sheet's calibration
    assert before.event_db == pytest.approx(4.72, abs=0.01)
    assert before.unknown_db == pytest.approx(3.35, abs=0.01)
    precision = 1 / before.unknown_db**2 + 4 / before.event_db**2
    assert after.unknown_db == pytest.approx(precision**-0.5, abs=0.01)
    assert after.mean_db == pytest.approx(-3.0 * 4 / before.event_db**2 / precision, abs=0.2)
    assert after.event_db == before.event_db


def test_far_off_events_are_believed_alone() -> None:
    # −12 dB is 3.1 deviations of the mean of four
    found = _only(_with_horns([-12.0, -11.0, -13.0, -12.0])[1])
    assert found.contradicts
    assert found.after.mean_db == pytest.approx(-12.0, abs=0.3)
    assert found.after.unknown_db == pytest.approx(found.before.event_db / 2)
    # one event of −6 dB may be chance
    assert not _only(_with_horns([-6.0])[1]).contradicts


def test_events_that_the_road_hides_are_no_evidence() -> None:
    _, hidden = _with_horns([0.0, 0.0], distance_m=2000.0)
    assert hidden.evidence == ()
    _, marked = _with_horns([0.0])
    (one,) = marked.measurements
    unknown = tuple(replace(mark, distance_m=None) for mark in one.marks)
    other = tuple(replace(mark, sound="shout") for mark in one.marks)
    for marks in (unknown, other):
        assert survey_of([replace(one, marks=marks)], SITE).evidence == ()


# --- the scenario, spoilt ------------------------------------------------------------------------


def _low_passed(wave: Array, rate_hz: int) -> Array:
    return np.asarray(sosfilt(butter(8, 3400, fs=rate_hz, output="sos"), wave))


def _compressed(wave: Array, rate_hz: int) -> Array:
    """4:1 above −50 dB FS, 5 ms to turn down and 300 ms to come back."""
    step = rate_hz // 500
    peak = np.abs(wave[: len(wave) // step * step]).reshape(-1, step).max(axis=1)
    wanted = -0.75 * np.maximum(20 * np.log10(np.maximum(peak, 1e-6)) + 50.0, 0.0)
    gain, now = np.empty(len(wanted)), 0.0
    for i, target in enumerate(wanted.tolist()):
        now += (target - now) * (0.33 if target < now else 0.0067)
        gain[i] = now
    return wave[: len(gain) * step] * np.repeat(10 ** (gain / 20), step)


def _as_it_is(wave: Array, rate_hz: int) -> Array:
    return wave


@pytest.mark.parametrize(
    ("spoil", "full_scale_db", "cautions"),
    [
        pytest.param(_as_it_is, 110.0, set(), id="untouched"),
        pytest.param(_low_passed, 110.0, {"bandwidth"}, id="low-passed"),
        pytest.param(_compressed, 110.0, {"marks contradict"}, id="compressed"),
        pytest.param(_as_it_is, 98.0, {"marks contradict"}, id="calibrated 12 dB too low"),
        pytest.param(_as_it_is, 122.0, {"marks contradict"}, id="calibrated 12 dB too high"),
    ],
)
def test_a_spoilt_scenario_brings_its_caution(
    sample_audio: Path,
    tmp_path: Path,
    spoil: Callable[[Array, int], Array],
    full_scale_db: float,
    cautions: set[str],
) -> None:
    wave, rate_hz = sf.read(sample_audio / "bridge_approach.ogg")
    sf.write(tmp_path / "spoilt.wav", spoil(wave, rate_hz), rate_hz, subtype="PCM_24")
    site = (sample_audio / "site.toml").read_text(encoding="utf-8")
    changed = site.replace(
        "spl_at_full_scale_db = 110.0", f"spl_at_full_scale_db = {full_scale_db}"
    )
    (tmp_path / "site.toml").write_text(changed, encoding="utf-8")
    words = ["plan", str(tmp_path / "spoilt.wav"), "--site", str(tmp_path / "site.toml")]
    words += ["--marks", str(sample_audio / "wanted.csv"), "--json", "-"]
    run = CliRunner().invoke(main, words)
    assert run.exit_code == 0, run.output
    plan = json.loads(run.stdout)
    found = {warning["code"] for warning in plan["warnings"]}
    assert found & {"bandwidth", "marks contradict", "irregular", "gain control"} == cautions
    assert any(one["contradicts"] for one in plan["evidence"]) == ("marks contradict" in cautions)
