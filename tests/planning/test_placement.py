"""Settings swept, and moments weighed, by hand."""

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest

from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.visit import Visit
from audiolevel.planning.placement import moment_weights, placing_stretches
from audiolevel.planning.survey import Survey, survey_of
from audiolevel.site.sections import ScheduleSection, Site


def _history(tmp_path: Path, minutes: float, start: datetime | None) -> Measurement:
    path = tmp_path / "h.csv"
    rows = round(minutes * 6000)
    path.write_text("time_s,laf_db\n" + "".join(f"{k / 100},-40\n" for k in range(1, rows + 1)))
    return measure(Visit(path, start=start), gains=Gains([0.0]))


def _survey(heard: Measurement, *active: str) -> Survey:
    return survey_of([heard], Site(schedule=ScheduleSection(active=active)))


def test_moments_count_by_the_share_of_their_hour_that_is_active(tmp_path: Path) -> None:
    # from 17:59 on, active from 18:00 on five days of the seven that have an hour of it
    heard = _history(tmp_path, 2, datetime(2026, 3, 2, 17, 59))
    survey = _survey(heard, "mon-fri 18:00-24:00", "09:00-10:00")
    weights = moment_weights(survey, placing_stretches([heard]))
    assert weights is not None
    assert set(weights[:6000].tolist()) == {0.0}
    assert weights[6000:] == pytest.approx(np.full(6000, 5 / 7))


def test_moments_are_alike_without_schedule_start_or_active_hour(tmp_path: Path) -> None:
    unknown = _history(tmp_path, 0.1, None)
    assert moment_weights(_survey(unknown), placing_stretches([unknown])) is None
    alike = moment_weights(_survey(unknown, "mon-fri 18:00-24:00"), placing_stretches([unknown]))
    assert alike is not None
    assert len(set(alike.tolist())) == 1
    noon = _history(tmp_path, 0.1, datetime(2026, 3, 2, 12, 0))
    assert moment_weights(_survey(noon, "mon-fri 18:00-24:00"), placing_stretches([noon])) is None


def test_an_uncalibrated_survey_places_nothing(tmp_path: Path) -> None:
    survey = _survey(_history(tmp_path, 0.1, None))
    assert survey.scale == Scale(None)
    assert survey.wanted == ()
