"""In a notebook: tables for pandas and levels from it, pictures on axes, a line for each result."""

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from tests.api.test_surveys import MORNING
from tests.made_street import RATE_HZ, SITE, wave_of

pd = pytest.importorskip("pandas", reason="pandas is not installed (extra: frames)")


DAYS = pd.date_range("2026-03-03 10:00", periods=40, freq="53min")


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("frames") / "lane.wav"
    sf.write(where, wave_of(60.0, 1), RATE_HZ)
    return where


@pytest.fixture(scope="module")
def survey(path: Path) -> al.Survey:
    return al.survey(al.Visit(path, start=MORNING), site=SITE)


def test_levels_come_by_their_moment_and_make_the_same_plan(path: Path, survey: al.Survey) -> None:
    levels = survey[0].to_frame()
    assert levels.laf_db.to_numpy() == pytest.approx(survey[0].laf_db)
    assert levels.index[0] == datetime(2026, 3, 3, 10, 0, 0, 10_000)
    # what pandas finds in them is what the program found
    assert levels.laf_db.max() == pytest.approx(survey[0].levels.lafmax_db, abs=0.01)
    trigger = al.Trigger.threshold(level_db=75.0)
    expected = survey.predict(trigger)
    for table in (
        levels,
        levels.laf_db,
        al.measure(path, site=SITE).to_frame(),
    ):
        again = al.survey(al.Visit(table, start=MORNING), site=SITE)
        assert again.predict(trigger) == expected
    named = levels.rename(columns={"laf_db": "street"})
    with pytest.raises(al.AudioLevelError, match=r"table: no column laf_db; its header has"):
        al.plan(named)
    assert al.survey(al.Visit(named, level_column="street"), site=SITE)[0].start == levels.index[0]
    # with a sampling rate a column is samples, in whatever holds them
    samples = pd.Series(0.1 * np.sin(np.arange(8000)))
    assert al.measure(samples, rate_hz=8000).duration_s == 1.0
    levels.iloc[5] = np.nan
    with pytest.raises(al.AudioLevelError, match="table: line 7 is not"):
        al.survey(levels)


@pytest.mark.always
def test_what_a_result_holds_is_a_table(survey: al.Survey) -> None:
    plan = survey.plan()
    options = plan.to_frame()
    assert len(options) == len(plan)
    written = plan.to_object()["options"]
    assert options["low_per_day"].to_numpy() == pytest.approx(
        [one["expected"]["rate_low_per_day"] for one in written], rel=1e-3, abs=1e-4
    )
    curve = plan.curves[0].to_frame()
    assert curve.settings_db.tolist() == plan.to_object()["curves"][0]["settings_db"]
    trigger = al.Trigger.threshold(level_db=75.0)
    firings = survey.trial(trigger).to_frame()
    assert firings.at_s.tolist() == survey[0].firings(trigger).tolist()
    assert (firings.level_db >= 75.0).all()
    assert survey.to_frame().laeq_db.tolist() == [survey[0].levels.laeq_db]
    days = al.follow_up(plan, DAYS).to_frame()
    # active from 8 to 20 h; the first row opens the log and is no count
    active = pd.Series(DAYS[1:])[lambda at: at.dt.hour.between(8, 19)]
    assert days.observed.tolist() == active.groupby(active.dt.date).size().tolist()


def test_a_picture_is_drawn_on_axes_of_one_s_own(survey: al.Survey) -> None:
    from matplotlib import pyplot

    plan = survey.plan()
    _, (left, right) = pyplot.subplots(1, 2)
    assert plan.plot(left) is left
    assert left.images[0].get_array().shape[2] == 4
    assert plan.curves[0].plot(right) is right
    assert right.lines[0].get_xdata().tolist() == plan.curves[0].settings_db.tolist()
    assert plan.pictures == ("plan", "ranges")
    assert survey[0].plot().images
    with pytest.raises(al.AudioLevelError, match="picture 'map': there is plan, ranges to draw"):
        plan.plot(picture="map")
    pyplot.close("all")


def test_every_result_is_a_line_and_a_page_of_moderate_length(survey: al.Survey) -> None:
    plan = survey.plan()
    trials = survey.trial(al.Trigger.rise(change_db=10))
    results = [survey, survey[0], plan, trials, al.catalogue(), al.follow_up(plan, DAYS)]
    visit = al.Visit(np.zeros(8000), rate_hz=8000, start=MORNING)
    given = [SITE, visit, trials[0].trigger]
    for one in [*results, *given, plan.recommended, plan.curves[0], trials[0]]:
        assert "\n" not in repr(one)
        assert len(repr(one)) < 200
    for one in results:
        page = one._repr_html_()
        assert page is not None
        assert page.startswith("<div><h3>")
        assert len(page) < 100_000
