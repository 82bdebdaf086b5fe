"""Plans on made-up and real streets."""

from datetime import datetime
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.visit import Visit
from audiolevel.planning.plan import SitePlan, plan_of
from audiolevel.planning.survey import gains_to_simulate, survey_of
from audiolevel.report.plan.document import plan_document
from audiolevel.report.plan.json import as_json
from audiolevel.report.text import whole
from audiolevel.report.words.cautions import advice_text, notice_text
from audiolevel.site.sections import Limits, Site, SiteSection
from audiolevel.site.site_file import read_site

RATE = 8000
# the safe level for so many a day lies within what half an hour of a busy road supports
ROAD_SITE = Site(site=SiteSection(kind="busy road"), limits=Limits(false_triggers_per_day=100.0))


def _heard(path: Path, site: Site, start: datetime | None = None) -> Measurement:
    return measure(Visit(path, start=start), gains=gains_to_simulate(site))


@lru_cache(maxsize=8)
def _planned(path: Path, site: Site | None = None) -> SitePlan:
    site = site or ROAD_SITE
    return plan_of(survey_of([_heard(path, site)], site))


@pytest.fixture(scope="module")
def road(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Half an hour of pass-bys, 9 a minute, that peak around −36 dB FS."""
    rng = np.random.default_rng(14)
    seconds = 30 * 60
    time = np.arange(0, seconds, 0.01)
    power = np.full(len(time), 10**-6.0)
    for at in rng.uniform(0, seconds, 260):
        power += 10 ** (rng.normal(-3.6, 0.3)) / (1 + ((time - at) / 0.9) ** 2)
    noise = rng.normal(0, 1, seconds * RATE)
    wave = noise * np.sqrt(np.repeat(power, RATE // 100))
    path = tmp_path_factory.mktemp("road") / "road.wav"
    sf.write(path, np.clip(wave, -1, 1), RATE)
    return path


@pytest.mark.always
def test_a_quiet_enough_road_gets_a_setting_with_its_limits(road: Path) -> None:
    plan = _planned(road)
    option = plan.recommended
    assert option is not None
    assert option.trigger.mode == "threshold"
    assert option.basis in ("safe", "best")
    limit = option.curve.limit
    assert limit is not None
    assert limit.safe_db is not None
    assert limit.low_db < limit.best_db < limit.safe_db
    at = limit.safe_db if option.basis == "safe" else limit.best_db
    assert at is not None
    assert at - 1e-6 <= option.trigger.at_db < at + 0.5
    prediction, row = option.curve.prediction, option.row
    assert prediction.rate_low_per_day[row] < prediction.per_day[row] <= 100.0
    assert option.trigger.at_db < plan.ceiling_db
    assert plan.reliable


def test_every_usable_gain_that_only_shifts_gives_the_same_counts(road: Path) -> None:
    plan = _planned(road)
    levels: dict[tuple[str, str], set[float]] = {}
    for option in plan.options:
        physical = option.trigger.at_db
        if option.trigger.mode == "threshold":
            physical = round(physical - option.gain_db, 6)
        # at a high gain the ceiling may leave room for the best level only, not for the safe one
        if option.gain.headroom_db > 0 and option.keeps_limit:
            levels.setdefault((option.trigger.mode, option.basis), set()).add(physical)
    assert ("threshold", "safe") in levels
    assert {len(found) for found in levels.values()} == {1}


def test_no_option_sits_where_the_input_clips(road: Path) -> None:
    plan = _planned(road)
    for option in plan.options:
        assert option.gain.usable
        if option.trigger.mode == "threshold":
            assert option.trigger.at_db <= plan.ceiling_db


def test_counts_of_a_sweep_are_counts_of_its_settings(road: Path) -> None:
    from audiolevel.triggers.trigger import Trigger, firings

    plan = _planned(road)
    heard = _heard(road, read_site(None))
    assert heard.laf is not None
    curve = next(c for c in plan.curves if c.mode == "rise" and c.gain_db == 0)
    for row in (0, 2, 5):
        setting = float(curve.prediction.settings_db[row])
        expected = len(firings(heard.laf / 100, Trigger("rise", setting)))
        assert curve.prediction.count[row] == expected


def test_two_halves_are_one_plan(road: Path, tmp_path: Path) -> None:
    wave, rate = sf.read(road)
    middle = len(wave) // 2 // rate * rate
    sf.write(tmp_path / "a.wav", wave[:middle], rate)
    sf.write(tmp_path / "b.wav", wave[middle:], rate)
    site = ROAD_SITE
    whole = _planned(road).recommended
    both = plan_of(survey_of([_heard(tmp_path / name, site) for name in ("a.wav", "b.wav")], site))
    assert whole is not None
    assert both.recommended is not None
    assert both.recommended.trigger.at_db == pytest.approx(whole.trigger.at_db, abs=1.0)


def test_the_same_seed_gives_the_same_plan(road: Path) -> None:
    assert as_json(_planned(road)) == as_json(_planned.__wrapped__(road))


def test_calibrated_levels_are_the_same_setting(road: Path, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text(
        "[microphone]\nspl_at_full_scale_db = 120\n[display]\nreadings = [[40, -60], [80, -20]]\n"
        '[site]\nkind = "busy road"\n[limits]\nfalse_triggers_per_day = 100\n'
    )
    plain, calibrated = _planned(road), _planned(road, read_site(path))
    assert plain.recommended is not None
    assert calibrated.recommended is not None
    assert calibrated.survey.scale.unit == "dB SPL"
    assert calibrated.recommended.trigger.at_db == plain.recommended.trigger.at_db
    # the display line is shown = level + 100
    shown = as_json(calibrated)["recommended"]["display_level"]
    assert shown == pytest.approx(plain.recommended.trigger.at_db + 100, abs=0.051)


def test_a_scale_that_was_not_read_near_the_level_is_told_with_what_was_read(
    road: Path, tmp_path: Path
) -> None:
    path = tmp_path / "site.toml"
    # no straight line: the one through all three says 3.1 and 9.1 at the outer two
    path.write_text("[display]\nreadings = [[3.4, -120], [5.5, -110], [9.4, -100]]\n")
    plan = _planned(road, read_site(path))
    (told,) = [one for one in plan.warnings if one.code == "display range"]
    assert (told.facts["lowest"], told.facts["highest"]) == (3.4, 9.4)
    assert "the camera's own scale was read from 3.4 to 9.4; the level" in notice_text(told)


def test_silence_has_no_plan(tmp_path: Path) -> None:
    sf.write(tmp_path / "silent.wav", np.zeros(20 * RATE), RATE)
    plan = _planned(tmp_path / "silent.wav")
    assert plan.recommended is None
    assert not plan.reliable
    assert "silent" in {caution.code for caution in plan.warnings}
    assert "record again" in {one.code for one in plan.advice}


@pytest.mark.parametrize("name", ["street_a.wav", "street_b.wav", "street_long.wav"])
def test_a_real_street_gets_a_place_to_start_from(recordings: Path, name: str) -> None:
    plan = _planned(recordings / name)
    assert plan.recommended is not None
    assert not plan.reliable
    short = next(caution for caution in plan.warnings if caution.code == "short")
    assert "too short to promise a daily count" in notice_text(short)


def test_a_street_24_db_too_loud_is_sent_back_with_less_gain(
    recordings: Path, tmp_path: Path
) -> None:
    wave, rate = sf.read(recordings / "street_long.wav")
    path = tmp_path / "loud.wav"
    sf.write(path, np.clip(wave * 10 ** (24 / 20), -1, 1), rate, subtype="PCM_16")
    plan = _planned(path)
    assert plan.survey.levels.clipping.verdict == "heavy"
    assert "clipped" in {caution.code for caution in plan.warnings}
    assert plan.recommended is not None
    assert plan.recommended.gain_db <= -12
    assert "record again there" in advice_text(plan.advice[0])
    assert not plan.reliable


def test_wind_that_fills_the_scale_is_named(recordings: Path) -> None:
    plan = _planned(recordings / "street_long.wav")
    assert "low-frequency overload" in {caution.code for caution in plan.warnings}


def test_the_plan_says_how_long_the_card_holds_and_what_else_fills_it(
    road: Path, tmp_path: Path
) -> None:
    path = tmp_path / "site.toml"
    card = "[storage]\ncard_gb = 100\nrecording_mbit_s = 10\n"
    path.write_text(card, encoding="utf-8")
    plan = _planned(road, read_site(path))
    assert plan.recommended is not None
    held = as_json(plan)["recommended"]["storage"]
    assert held["low_days"] < held["days_kept"]
    assert held["high_days"] is None or held["days_kept"] < held["high_days"]  # null: no end
    expected = as_json(plan)["recommended"]["expected"]
    # by hand: 100 GB at 10 Mbit/s are 80,000 s of recording, less 0.3 % that the file system
    # takes; at 25 s a clip, few of which overlap
    by_hand = 79_760 / (expected["per_day"] * 25)
    assert held["days_kept"] == pytest.approx(by_hand, rel=0.02)

    path.write_text(card + "other_recording_share = 1.0\n", encoding="utf-8")
    plan = _planned(road, read_site(path))
    said = whole(plan_document(plan, "road")).splitlines()
    assert said[2].startswith("FIRST")
    assert "22 h" in " ".join(said[2:5])
    assert plan.warnings[0].code == "other recording"
    assert max(map(len, said)) <= 80


def test_a_schedule_counts_its_hours_only(road: Path, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text(
        '[site]\nkind = "busy road"\n[schedule]\nactive = ["20:00-08:00"]\n', encoding="utf-8"
    )
    plan, always = _planned(road, read_site(path)), _planned(road)
    half, full = plan.curves[0].prediction, always.curves[0].prediction
    seen = full.count >= 10
    assert half.per_day[seen] == pytest.approx(full.per_day[seen] / 2, rel=1e-6)
    assert as_json(plan)["schedule"]["hours_active_per_day"] == 12
    assert "20:00-08:00" in whole(plan_document(plan, "road"))


def test_hours_nobody_heard_are_said(road: Path, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text('[schedule]\ntraffic_by_hour = "published"\n', encoding="utf-8")
    site = read_site(path)
    heard = _heard(road, site, datetime(2024, 6, 4, 10, 15))
    plan = plan_of(survey_of([heard], site))
    expected = as_json(plan)["recommended"]["expected"]
    assert expected["hours_not_heard"] == [hour for hour in range(24) if hour != 10]
    assert "00-10, 11-24 h not heard" in whole(plan_document(plan, "road"))
    # and its interval is wider: a night hour is known to a factor e^(1.96 · 0.65) at best
    low, best, high = (expected[name][2] for name in ("by_hour_low", "by_hour", "by_hour_high"))
    assert high / best > np.exp(1.96 * 0.65) > 1 > low / best
