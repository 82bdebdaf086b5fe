"""What was heard of the active hours, and how much quieter the others are on real streets."""

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from audiolevel.planning.survey import Survey, survey_of
from audiolevel.privacy.active_hours import MEAN_DB, QUIET_DAY_DB, listened_in
from audiolevel.site.sections import ScheduleSection
from tests.made_street import SITE, heard, wave_of
from tests.studies import night_noise


def _visits(active: tuple[str, ...], *starts: datetime | None, seconds: float = 600.0) -> Survey:
    site = replace(SITE, schedule=ScheduleSection(active=active))
    one = heard(wave=wave_of(60.0))
    levels = replace(one.levels, duration_s=seconds)
    visits = [replace(one, start=start, levels=levels) for start in starts]
    return survey_of(visits, site, place_wanted=False)


def test_a_morning_says_little_of_the_night() -> None:
    found = listened_in(_visits(("22:00-06:00",), datetime(2026, 3, 2, 9, 30)))
    assert not found.everywhen
    assert found.hours == ()
    # at five it is 9.0 dB quieter than by day on average, at nine 1.3 dB
    assert found.quieter_db.best == pytest.approx(9.0 - 1.3)
    # one day in twenty 16.2 dB and more, at three
    assert found.quieter_db.high == pytest.approx(16.2 - 1.3)
    assert found.quieter_db.low == 0.0


def test_hours_that_were_heard_are_quieter_on_another_day() -> None:
    starts = [datetime(2026, 3, 2, hour) for hour in (20, 21)]
    found = listened_in(_visits(("20:00-22:00",), *starts))
    assert found.everywhen
    assert found.hours == (20, 21)
    assert found.quieter_db.best == 0.0
    # at nine in the evening one day in twenty lies 5.9 dB below the day, the mean 1.1
    assert found.quieter_db.high == pytest.approx(5.9 - 1.1)
    # four minutes of an hour are not that hour
    short = listened_in(_visits(("20:00-22:00",), *starts, seconds=240.0))
    assert not short.everywhen


def test_without_a_start_or_a_schedule_every_hour_counts_and_none_was_heard() -> None:
    found = listened_in(_visits((), None))
    assert not found.everywhen
    assert found.quieter_db.high == pytest.approx(-QUIET_DAY_DB.min())


def test_adding_hours_never_makes_it_less_quiet() -> None:
    before = 0.0
    for active in (("09:00-12:00",), ("09:00-20:00",), ("09:00-24:00",), ("00:00-24:00",)):
        found = listened_in(_visits(active, datetime(2026, 3, 2, 9, 30)))
        assert found.quieter_db.high >= before
        before = found.quieter_db.high


def test_the_table_is_that_of_the_real_streets(real_levels: Path) -> None:
    mean, quiet = night_noise.table(real_levels)
    assert np.abs(mean - MEAN_DB).max() < 0.06
    assert np.abs(quiet - QUIET_DAY_DB).max() < 0.06
