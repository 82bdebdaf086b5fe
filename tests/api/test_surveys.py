"""A survey measures once: what it plans, tries and predicts is what the functions of the API do."""

from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.metering import measurement as metering
from tests.made_street import RATE_HZ, SITE, wave_of

MORNING = datetime(2026, 3, 3, 10, 0)


@pytest.fixture(scope="module")
def wave() -> np.ndarray:
    return wave_of(60.0, 1)


@pytest.fixture(scope="module")
def folder(wave: np.ndarray, tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("surveys")
    sf.write(where / "lane.wav", wave, RATE_HZ, subtype="FLOAT")
    return where


@pytest.fixture(scope="module")
def survey(folder: Path) -> al.Survey:
    return al.survey(al.Visit(folder / "lane.wav", start=MORNING), site=SITE)


@pytest.mark.always
def test_a_survey_answers_as_the_functions_do_and_hears_nothing_again(
    folder: Path, survey: al.Survey, monkeypatch: pytest.MonkeyPatch
) -> None:
    visit = al.Visit(folder / "lane.wav", start=MORNING)
    trigger = al.Trigger.threshold(level_db=75.0, rearm_s=2.0)
    plan, tried = al.plan(visit, site=SITE), al.trial(visit, trigger, site=SITE)

    def heard(*_: object, **__: object) -> None:
        raise AssertionError("measured again")

    monkeypatch.setattr(metering, "measure", heard)
    assert survey.plan().to_json() == plan.to_json()
    assert survey.trial(trigger).to_json() == tried.to_json()
    assert survey.predict(trigger) == tried[0].expected == al.predict(survey, trigger)
    assert (len(survey), survey[0].start, survey.unit) == (1, MORNING, "dB SPL")
    assert repr(survey) == "<Survey of Quarry Lane: 1 visit, 60 s>"


def test_another_limit_and_other_sounds_are_another_plan(survey: al.Survey) -> None:
    strict, loose = (survey.plan(limit_per_day=limit) for limit in (1.0, 500.0))
    assert (strict.limit_per_day, loose.limit_per_day) == (1.0, 500.0)
    levels = [
        [one.trigger.at_db for one in plan if one.trigger.mode == "threshold"]
        for plan in (strict, loose)
    ]
    assert max(levels[0]) > max(levels[1])
    other = survey.plan(wanted=["metal bang@5m"])
    assert set(other.options[0].catches) == {"metal bang (5 m)"}
    with pytest.raises(al.AudioLevelError, match=r"limits\.false_triggers_per_day = -1 must"):
        survey.plan(limit_per_day=-1)
    with pytest.raises(al.AudioLevelError, match="write the sound and its distance"):
        survey.plan(wanted=["metal bang"])


def test_arrays_and_what_was_measured_already_are_visits(
    folder: Path, wave: np.ndarray, survey: al.Survey
) -> None:
    expected = survey.plan().to_object()["options"]
    single = wave.astype(np.float32)
    for visit in (
        al.Visit(single, rate_hz=RATE_HZ, start=MORNING),
        al.measure(folder / "lane.wav", start=MORNING),
    ):
        assert al.plan(visit, site=SITE).to_object()["options"] == expected
    both: list[Any] = [al.measure(folder / "lane.wav"), al.Visit(folder / "lane.wav", to_s=30)]
    with pytest.raises(al.AudioLevelError, match="is the same file as"):
        al.survey(both)


def test_a_plan_read_from_its_json_is_the_plan(survey: al.Survey, tmp_path: Path) -> None:
    plan = survey.plan(asked=al.Asked(level_db=90.0))
    file = plan.save_json(tmp_path / "plan.json")
    for read in (al.Plan.from_json(file), al.Plan.from_json(plan.to_json())):
        assert read.to_json() == plan.to_json()
        assert len(read) == len(plan) > 0
        for one, other in zip((*read, read.asked), (*plan, plan.asked), strict=True):
            assert one.trigger.at_db == pytest.approx(other.trigger.at_db, abs=0.005)
            assert (one.unit, one.gain_db, one.catches) == (
                other.unit,
                other.gain_db,
                other.catches,
            )
            # four figures in JSON
            assert one.expected.rate.high == pytest.approx(other.expected.rate.high, rel=1e-3)
        assert "threshold" in repr(read) or "rise" in repr(read)
        with pytest.raises(al.AudioLevelError, match="was read from JSON"):
            read.to_text()
        assert read._repr_html_() is None
    with pytest.raises(al.AudioLevelError, match="is not a plan"):
        al.Plan.from_json("{}")


@pytest.mark.always
def test_a_detector_of_one_s_own_is_counted_like_the_built_in_one(survey: al.Survey) -> None:
    """The function is the definition of a threshold, row by row: the same firings, other code."""

    def detect(level_db: np.ndarray, at_db: float) -> list[int]:
        fired, ready, row = [], True, 99
        for row in range(99, len(level_db)):
            if level_db[row] < at_db - 2.0:
                ready = True
            if ready and level_db[row] >= at_db and (not fired or row - fired[-1] >= 1000):
                fired.append(row)
                ready = False
        return fired

    built_in = al.Trigger.threshold(level_db=75.0)
    own = al.Trigger.custom(detect, at_db=75.0)
    (one,), (other,) = survey.trial(own), survey.trial(built_in)
    assert len(other.firings_s) > 2
    assert one.firings_s.tolist() == other.firings_s.tolist()
    assert survey[0].firings(own).tolist() == other.firings_s.tolist()
    predicted = survey.predict(own)
    assert (predicted.seen, predicted.method) == (len(one.firings_s), "counted")
    assert "detector of your own at 75" in survey.trial(own).to_text()
    curve = survey.curve(own, [70.0, 75.0, 80.0])
    assert curve.seen.tolist() == [
        len(survey[0].firings(built_in.at(at))) for at in curve.settings_db.tolist()
    ]
    for wrong in ([0.5], [-1], ["a"], [10**9]):
        with pytest.raises(al.AudioLevelError, match="must return the numbers of rows"):
            survey.predict(al.Trigger.custom(lambda *_, given=wrong: given))


def test_a_curve_is_the_prediction_at_each_setting(survey: al.Survey) -> None:
    trigger = al.Trigger.rise(change_db=10)
    curve = survey.curve(trigger, [20, 10, 15])
    assert curve.settings_db.tolist() == [10, 15, 20]
    assert curve.seen.tolist() == [survey.predict(trigger.at(at)).seen for at in (10, 15, 20)]
    level = al.Trigger.threshold(level_db=80.0)
    between = survey.curve(level, [80.0, 83.25])
    for i, at in enumerate(between.settings_db.tolist()):
        rate = survey.predict(level.at(at)).rate
        assert between.high_per_day[i] == pytest.approx(rate.high, rel=1e-6)
    assert repr(curve) == "<Curve: rise from 10 to 20 dB, gain +0 dB>"


def _day(first: datetime, minutes: int) -> list[datetime]:
    return [first + timedelta(minutes=minutes * i) for i in range(20)]


@pytest.mark.parametrize("kind", ["datetimes", "datetime64", "frame"])
def test_a_log_is_times_or_a_table_in_memory(survey: al.Survey, tmp_path: Path, kind: str) -> None:
    plan, moments = survey.plan(), _day(MORNING, 37)
    file = tmp_path / "log.csv"
    file.write_text("time\n" + "".join(f"{one}\n" for one in moments))
    span: dict[str, Any] = {"begins": "2026-03-03T09:00", "ends": np.datetime64("2026-03-04T09:00")}
    log: Any = moments
    if kind == "datetime64":
        log = np.array(moments, dtype="datetime64[s]")
    if kind == "frame":
        log = pytest.importorskip("pandas").DataFrame({"time": moments})
    by_file, by_memory = (al.follow_up(plan, one, **span) for one in (file, log))
    assert by_memory.comparisons[0].count == by_file.comparisons[0].count > 10
    assert by_memory.decision == by_file.decision
    with pytest.raises(al.AudioLevelError, match="begins: 'noon' is no date and time"):
        al.follow_up(plan, log, begins="noon")
