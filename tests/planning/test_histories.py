"""Plans and trials from level histories: of a recording's own, of a coarse log, without peaks."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.ground.errors import RecordingError, SettingError
from audiolevel.planning.placement import in_rows
from audiolevel.report.plan.figure import firings_and_gains
from audiolevel.site.sections import Limits, Microphone, Site, SiteSection, TriggerSection, Wanted
from audiolevel.triggers.trigger import MODES, firings

RATE = 8000


def _street(folder: Path, seconds: int = 1200, peak_db: float = -12.0) -> Path:
    """Pass-bys of noise whose loudest sample is `peak_db` below full scale."""
    rng = np.random.default_rng(21)
    time = np.arange(0, seconds, 0.01)
    power = np.full(len(time), 10**-6.5)
    for at in rng.uniform(0, seconds, seconds // 12):
        power += 10 ** rng.normal(-4.2, 0.4) / (1 + ((time - at) / 0.9) ** 2)
    wave = rng.standard_normal(seconds * RATE) * np.repeat(np.sqrt(power), RATE // 100)
    wave *= 10 ** (peak_db / 20) / np.abs(wave).max()
    path = folder / "street.wav"
    sf.write(path, wave, RATE)
    return path


@pytest.fixture(scope="module")
def street(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("street")
    sound = _street(folder)
    al.measure_all([sound], history=folder / "street.csv")
    return sound, folder / "street.csv"


SITE = Site(
    site=SiteSection(kind="street"),
    microphone=Microphone(spl_at_full_scale_db=110.0, self_noise_dba=30.0),
    limits=Limits(false_triggers_per_day=40.0, detection=0.8),
    wanted=(Wanted(sound="vehicle horn", distance_m=8.0),),
)


def _answer(plan: al.Plan) -> tuple[object, ...]:
    option = plan.recommended
    assert option is not None
    at = (option.trigger.mode, option.gain_db, option.trigger.at_db)
    return plan.base.choice.case, *at, plan.base.ceiling_db, option.expected


def _same_but_for_gains(
    sound: Path,
    history: Path,
    site: Site | Path,
    marks: Path | Sequence[al.Mark] = (),
    from_s: float | None = None,
    to_s: float = 600.0,
) -> None:
    """Half of the twenty minutes is planned twice."""
    plans = [
        al.plan(al.Visit(source, marks=marks, from_s=from_s, to_s=to_s), site=site)
        for source in (sound, history)
    ]
    assert _answer(plans[0]) == _answer(plans[1])
    usable = [{gain.gain_db for gain in plan.base.gains if gain.usable} for plan in plans]
    assert usable[1] <= usable[0]
    said = {one.code for one in plans[1].warnings} - {one.code for one in plans[0].warnings}
    assert ("gains not simulated" in said) or usable[0] == usable[1]
    assert said <= {"gains not simulated", "history assumed"}


def test_a_made_street_and_its_history_give_the_same_plan(street: tuple[Path, Path]) -> None:
    _same_but_for_gains(*street, SITE)
    _same_but_for_gains(*street, Site())


@pytest.fixture(scope="module")
def sample_history(sample_audio: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    history = tmp_path_factory.mktemp("sample") / "sample.csv"
    al.measure_all([sample_audio / "bridge_approach.ogg"], history=history)
    return history


@pytest.mark.parametrize("marked", [False, True])
def test_the_sample_and_its_history_give_the_same_plan(
    sample_audio: Path, sample_history: Path, marked: bool
) -> None:
    sound = sample_audio / "bridge_approach.ogg"
    marks = sample_audio / "wanted.csv" if marked else ()
    # the other half with marks, so that both are planned
    begin_s, end_s = (600.0, 1200.0) if marked else (0.0, 600.0)
    site = sample_audio / "site.toml"
    _same_but_for_gains(sound, sample_history, site, marks, begin_s, end_s)


def _coarser(history: Path, rows: int, folder: Path, quantity: str = "laf_db") -> Path:
    """The history in rows of so many hundredths: the highest LAF of each, or the mean."""
    laf = np.loadtxt(history, delimiter=",", skiprows=1, usecols=1)
    grouped = laf[: len(laf) // rows * rows].reshape(-1, rows)
    level = grouped.max(axis=1)
    if quantity == "laeq_db":
        level = 10 * np.log10((10 ** (grouped / 10)).mean(axis=1))
    path = folder / f"{quantity}_{rows}.csv"
    ends = np.arange(1, len(level) + 1) * rows / 100
    lines = (f"{at:.3f},{one:.2f}" for at, one in zip(ends, level, strict=True))
    path.write_text("\n".join([f"time_s,{quantity}", *lines]) + "\n")
    return path


def test_a_log_of_a_second_plans_a_threshold_and_says_what_it_cannot(
    street: tuple[Path, Path], tmp_path: Path
) -> None:
    log = _coarser(street[1], 100, tmp_path)
    plan = al.plan([log], site=SITE)
    assert {curve.mode for curve in plan.curves} == {"threshold"}
    codes = {one.code for one in plan.warnings}
    assert {"coarse history", "modes not told", "no peaks", "history assumed"} <= codes
    # the highest LAF of each second is all that a threshold with a re-arm time of 10 s looks at
    level_only = replace(SITE, trigger=TriggerSection(modes=("threshold",)))
    fine = al.plan([street[0]], site=level_only).recommended
    coarse = plan.recommended
    assert fine is not None
    assert coarse is not None
    # sound pressure is the same at every gain
    assert coarse.trigger.at_db == pytest.approx(fine.trigger.at_db, abs=1.0)
    assert coarse.gain_db == 0


def test_four_rows_in_the_window_offer_a_rise_and_three_do_not(
    street: tuple[Path, Path], tmp_path: Path
) -> None:
    for rows, modes in ((25, {"threshold", "rise", "fall", "change"}), (33, {"threshold"})):
        plan = al.plan([_coarser(street[1], rows, tmp_path)], site=SITE)
        assert {curve.mode for curve in plan.curves} == modes
        assert ("modes not told" in {one.code for one in plan.warnings}) == (rows == 33)
    with pytest.raises(SettingError, match="mode rise: a window of 1 s holds fewer than 4 rows"):
        al.trial([_coarser(street[1], 33, tmp_path)], al.Trigger.rise(change_db=10))


def test_another_mode_is_advised_only_where_the_rows_could_tell_it(
    street: tuple[Path, Path], tmp_path: Path
) -> None:
    # too faint to be caught within the limit, with only the threshold allowed to try
    site = replace(
        SITE,
        trigger=TriggerSection(modes=("threshold",)),
        wanted=(Wanted("vehicle horn", distance_m=80.0),),
    )
    for rows, told in ((10, True), (100, False)):
        plan = al.plan([_coarser(street[1], rows, tmp_path)], site=site)
        assert plan.base.choice.is_trade
        assert set(plan.base.survey.tellable) == ({*MODES} if told else {"threshold"})


def test_firings_of_a_trial_are_row_ends(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    level = np.full(400, -60.0)
    level[[100, 150, 181, 300]] = -30  # 150 is 6.25 s after 100, in the re-arm time
    path.write_text(
        "time_s,laf_db\n"
        + "".join(f"{(k + 1) / 8:.3f},{one}\n" for k, one in enumerate(level.tolist()))
    )
    trigger = al.Trigger.threshold(level_db=-40.0)
    (trial,) = al.trial([path], trigger)
    assert trial.firings_s.tolist() == [12.625, 22.75, 37.625]
    assert al.measure(path).firings(trigger).tolist() == [12.625, 22.75, 37.625]


def test_recordings_of_one_plan_share_one_interval(
    street: tuple[Path, Path], tmp_path: Path
) -> None:
    log = _coarser(street[1], 100, tmp_path)
    with pytest.raises(SettingError, match=r"has LAF every 1 s and .* LAF every 0\.01 s"):
        al.plan([street[1], log], site=SITE)
    mean = _coarser(street[1], 100, tmp_path, "laeq_db")
    lines = mean.read_text().replace("laeq_db", "laf_db", 1)
    mean.write_text(lines)
    assert al.plan([log, mean], site=SITE).base.survey.row_s == 1.0


def test_a_course_in_rows_keeps_its_highest_level_or_its_energy(
    street: tuple[Path, Path], tmp_path: Path
) -> None:
    course = np.full(230, -80.0)
    course[40:60] = -20
    course[120:130] = -30
    log = _coarser(street[1], 100, tmp_path)
    survey = al.plan([log], site=Site()).base.survey
    assert in_rows(course, survey).tolist() == [-20, -30, -80]
    mean = _coarser(street[1], 100, tmp_path, "laeq_db")
    survey = al.plan(al.Visit(mean, level_column="laeq_db"), site=Site()).base.survey
    # 0.2 s of a second at −20 and 0.1 s at −30: 10 lg 0.2 = −7.0 dB and 10 lg 0.1 = −10 dB
    assert in_rows(course, survey)[:2] == pytest.approx([-26.99, -40.0], abs=0.01)


def test_without_peaks_room_above_is_not_known(street: tuple[Path, Path], tmp_path: Path) -> None:
    bare = tmp_path / "bare.csv"
    lines = street[1].read_text().splitlines()
    bare.write_text("\n".join(",".join(line.split(",")[:2]) for line in lines) + "\n")
    plan = al.plan([bare], site=SITE)
    assert {gain.headroom_db for gain in plan.base.gains} == {None}
    assert [gain.gain_db for gain in plan.base.gains if gain.usable and gain.gain_db > 0] == []
    assert plan.recommended is not None
    assert plan.recommended.gain_db == 0
    written = plan.to_object()
    assert {gain["headroom_db"] for gain in written["gains"]} == {None}
    assert {gain["clipped_share"] for gain in written["gains"]} == {None}
    assert written["levels"]["sample_peak_dbfs"] is None
    assert written["ceiling_dbfs"] is None
    row = next(line for line in plan.to_text().splitlines() if line.split()[:2] == ["+0", "dB"])
    assert row.split()[2] == "?"
    assert "no peaks" in plan.to_text()
    assert "200 dB" not in plan.to_text()
    assert plan.base is not None
    firings_and_gains(plan.base, "bare")  # draws what is known
    with pytest.raises(RecordingError, match=r"whether it would clip at \+6 dB is not known"):
        al.trial([bare], al.Trigger.threshold(level_db=90.0), gains_db=[6.0], site=SITE)
    steps = al.plan([bare], site=Site()).to_text()
    assert "how much room the gain leaves above" in " ".join(steps.split())


def test_marks_stay_where_they_are_in_the_whole(street: tuple[Path, Path], tmp_path: Path) -> None:
    marks = tmp_path / "marks.csv"
    marks.write_text("start_s,end_s,sound\n30,32,horn\n400,403,horn\n1100,1101,horn\n")
    plan = al.plan(al.Visit(street[0], marks=marks, from_s=200.0, to_s=1000.0), site=SITE)
    assert plan.base.survey.marks == [[al.Mark(200.0, 203.0, "horn")]]
    assert plan.base.survey.duration_s == 800


def test_the_highest_level_of_each_second_fires_like_the_level_itself(sample_audio: Path) -> None:
    """What docs/levels.md says of coarse logs, on the sample from its L10 up."""
    laf = al.measure(sample_audio / "bridge_approach.ogg").laf_db
    seconds = laf[: len(laf) // 100 * 100].reshape(-1, 100)
    highest = seconds.max(axis=1)
    mean = 10 * np.log10((10 ** (seconds / 10)).mean(axis=1))
    fine, by_highest, by_mean = [], [], []
    for at_db in np.arange(np.percentile(laf, 90), laf.max(), 2.0).tolist():
        trigger = al.Trigger.threshold(level_db=at_db)
        fine.append(len(firings(laf, trigger)))
        by_highest.append(len(firings(highest, trigger, 1.0)))
        by_mean.append(len(firings(mean, trigger, 1.0)))
    assert fine[0] > 40
    assert np.abs(np.subtract(by_highest, fine)).max() <= 1
    assert sum(by_mean) < 0.8 * sum(fine)
