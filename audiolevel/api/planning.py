"""Plan a site, try one trigger on it, predict what a trigger will do."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from audiolevel.api.measuring import Measurement, measured
from audiolevel.api.results import (
    Progress,
    Result,
    as_kind,
    made_folder,
    names_its_site,
    quiet,
    site_of,
)
from audiolevel.counting.expected import Expected
from audiolevel.errors import SettingError
from audiolevel.files import text_mark, write_text, writing
from audiolevel.followup.plan_file import read_record
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.quality import clipping_notices
from audiolevel.metering.visit import AnyPath, Visits, visits_of
from audiolevel.notices import Notice
from audiolevel.planning.asked import Asked
from audiolevel.planning.heard import heard_levels
from audiolevel.planning.plan import SitePlan, plan_of, survey_notices
from audiolevel.planning.plan_record import PlanRecord, plan_of_object
from audiolevel.planning.prediction import swept_with
from audiolevel.planning.survey import (
    Survey,
    gain_noise,
    gains_to_simulate,
    refuse_twice,
    survey_of,
)
from audiolevel.planning.trial import Trial, trials_of
from audiolevel.records import Object
from audiolevel.report.document import Document
from audiolevel.report.figures import Picture
from audiolevel.report.plan import json as plan_json
from audiolevel.report.plan.document import plan_document, set_words
from audiolevel.report.trial import json as trial_json
from audiolevel.report.trial.document import trial_document
from audiolevel.site.sections import Site
from audiolevel.triggers.trigger import Trigger


@dataclass(frozen=True, eq=False)
class Plan(SitePlan, Result):
    """What to set, what it will do, and the whole of what it was chosen from."""

    _stem = "plan"

    def __repr__(self) -> str:
        option = self.recommended
        if option is None:
            return f"<Plan for {self.name}: nothing to set yet>"
        return f"<Plan for {self.name}: {set_words(option, self)}>"

    @property
    def name(self) -> str:
        """Of the site, or of its recordings."""
        paths = (one.path.name for one in self.survey.measurements)
        return self.survey.site.site.name or ", ".join(paths)

    def to_object(self) -> Object:
        """The object that `audiolevel plan --json` writes (docs/plan.schema.json)."""
        return plan_json.as_json(self)

    def document(self) -> Document:
        """What to set, what it will do, what else there is, and how that is known."""
        return plan_document(self, self.name)

    def save_record(self, folder: AnyPath, *, force: bool = False) -> Path:
        """Write the commissioning record, a page to print and to sign, into a folder.

        Parameters
        ----------
        folder : path
            Made if it is not there.
        force : bool
            As in `save`.
        """
        from audiolevel.report.plan.page import record_page

        file, mark = made_folder(folder) / "record.html", text_mark(self._stem)
        with writing(force=force):
            write_text(file, record_page(self, self.name), mark)
        return file

    def _pictures(self) -> dict[str, Picture]:
        # imported here: matplotlib takes long to load and only pictures need it
        from audiolevel.report.plan.figure import pictures_of

        return pictures_of(self, self.name)

    def _page(self, values: Object, pictures: Mapping[str, Picture]) -> str:
        from audiolevel.report.plan.page import plan_page

        return plan_page(self, self.name, values, pictures)


@dataclass(frozen=True, eq=False)
class Trials(Result):
    """One trigger on every recording at every gain that was asked for."""

    survey: Survey
    each: tuple[Trial, ...]
    _stem = "trial"

    @property
    def notices(self) -> list[Notice]:
        """What the reader should be careful about."""
        notices = survey_notices(self.survey)
        several = len(self.survey.measurements) > 1
        for trial in self.each:
            clipped = clipping_notices(trial.measurement, trial.gain.gain_db)
            # with one recording its name would say nothing
            name = trial.measurement.path.name if several else ""
            notices += [one.of(name) for one in clipped]
        return notices

    def to_object(self) -> Object:
        """The object that `audiolevel trial --json` writes."""
        return trial_json.as_json(self.each, self.survey.scale, self.notices)

    def document(self) -> Document:
        """How often it fired at each gain, and what that means a day."""
        return trial_document(self.survey, self.each, self.notices)

    def _pictures(self) -> dict[str, Picture]:
        from audiolevel.report.trial.figure import firings_over_time

        return {"trial": firings_over_time(self.each, self.survey.scale)}

    def _page(self, values: Object, pictures: Mapping[str, Picture]) -> str:
        from audiolevel.report.trial.page import trial_page

        return trial_page(self.survey, self.each, self.notices, pictures["trial"])


@names_its_site
def plan(
    recordings: Visits,
    *,
    site: Site | AnyPath | None = None,
    starts: Sequence[datetime | None] = (),
    asked: Asked | None = None,
    confidence: float = 0.95,
    seed: int = 0,
    progress: Progress = quiet,
) -> Plan:
    """Plan the gain and the trigger of a site from one or more visits to it.

    Parameters
    ----------
    recordings : Visit or path, or sequence of them
        Sound files or level histories of one site, made at one gain; a `Visit` says which part,
        what is marked in it, and whether the road was wet.
    site : Site or path, optional
        What is known of the place, the microphone and the job.
    starts : sequence of datetime, optional
        When each recording began, by the local clock.
    asked : Asked, optional
        A setting that is insisted on, to be told beside the recommended one.
    confidence : float
        Of every interval, above 0.5 and below 1.
    seed : int
        Of everything drawn by chance.
    progress : callable, optional
        Given a path, a context that yields what is called with milliseconds measured.

    Returns
    -------
    Plan

    Raises
    ------
    RecordingError, SettingError
        A file or value cannot be used; one line that says why and what to do.
    """
    known = site_of(site)
    visits = visits_of(recordings, starts)
    measurements = measured(visits, known, gains=gains_to_simulate(known), progress=progress)
    refuse_twice(measurements)
    survey = survey_of(measurements, known, confidence=confidence, seed=seed)
    return as_kind(Plan, plan_of(survey, asked))


def planned(plan: Plan | AnyPath) -> PlanRecord:
    """The records of a plan, or of the JSON of one.

    Raises
    ------
    SettingError
        The file is no plan.
    """
    if isinstance(plan, Plan):
        # by way of its JSON: a plan at hand and one read again give the same answer
        return plan_of_object(json.loads(plan.to_json()))
    return read_record(plan)


@names_its_site
def trial(
    recordings: Visits,
    trigger: Trigger | Plan | AnyPath,
    *,
    gains_db: Sequence[float] | None = None,
    site: Site | AnyPath | None = None,
    starts: Sequence[datetime | None] = (),
    confidence: float = 0.95,
    seed: int = 0,
    progress: Progress = quiet,
) -> Trials:
    """Try one trigger on recordings of a site, at one or more gains.

    Parameters
    ----------
    recordings : Visit or path, or sequence of them
    trigger : Trigger, Plan or path
        A threshold's level in the unit of the site's calibration; or a plan, or the JSON of one,
        whose setting is tried.
    gains_db : sequence of float, optional
        Relative to the recording; by default as recorded, or that of the plan.
    site, starts, confidence, seed, progress
        As in `plan`.

    Returns
    -------
    Trials

    Raises
    ------
    RecordingError, SettingError
        As in `plan`.
    """
    known = site_of(site)
    if not isinstance(trigger, Trigger):
        trigger, at_gain_db = _set_by(trigger, known)
        gains_db = (at_gain_db,) if gains_db is None else gains_db
    gains_db = (0.0,) if gains_db is None else gains_db
    if not len(gains_db):
        raise SettingError("gains_db: none is given; 0 is the recorded gain")
    visits = visits_of(recordings, starts)
    # no limit of clipping: what is asked for is tried, however much it clips
    gains = Gains(tuple(gains_db), gain_noise(known))
    measurements = measured(visits, known, gains=gains, progress=progress)
    refuse_twice(measurements)
    # a trial counts firings only: nothing is placed
    survey = survey_of(measurements, known, confidence=confidence, seed=seed, place_wanted=False)
    return Trials(survey, tuple(trials_of(survey, trigger)))


def _set_by(plan: Plan | AnyPath, site: Site) -> tuple[Trigger, float]:
    """The trigger of a plan, in the plan's unit, and its gain."""
    record = planned(plan)
    option = record.recommended
    if option is None:
        raise SettingError("plan: has nothing to set, so there is nothing to try")
    calibrated = site.microphone.spl_at_full_scale_db is not None
    if calibrated != (record.reference == Scale(0.0).unit):
        raise SettingError(
            f"plan: its levels are {record.reference}; give the site file that it was made with"
        )
    return site.trigger.trigger(option.mode, option.setting_db), option.gain_db


def predict(
    measurements: Measurement | Sequence[Measurement],
    trigger: Trigger,
    *,
    confidence: float = 0.95,
    seed: int = 0,
) -> Expected:
    """Firings of a trigger per hour and per day, with their intervals.

    Parameters
    ----------
    measurements : Measurement or sequence of Measurement
        Of one site, which says the schedule and the traffic.
    trigger : Trigger
        A threshold's level in the unit of the site's calibration.
    confidence : float
        Of every interval.
    seed : int
        Of everything drawn by chance.

    Returns
    -------
    Expected
        The best estimates are None where only an upper limit is honest.

    Examples
    --------
    Nothing rises by 30 dB in a minute of steady noise, so there is only an upper limit:

    >>> import numpy as np, audiolevel as al
    >>> noise = np.random.default_rng(0).normal(0, 0.01, 8000 * 60)
    >>> expected = al.predict(al.measure(noise, rate_hz=8000), al.Trigger.rise(change_db=30))
    >>> expected.seen, expected.rate.best, expected.method
    (0, None, 'upper limit')
    """
    several = [measurements] if isinstance(measurements, Measurement) else list(measurements)
    if not several:
        raise SettingError("measurements: none is given; give one or more")
    survey = survey_of(several, several[0].site, confidence=confidence, seed=seed)
    at_db = trigger.at_db
    # said in SPL where the site is calibrated; the sweep wants dB FS
    if trigger.mode == "threshold":
        at_db = Scale(survey.scale.spl_at_full_scale_db).full_scale(at_db)
    levels = [laf for laf in map(heard_levels, survey.measurements) if laf is not None]
    # 0 dB: the recorded gain
    counts, row = swept_with(survey, levels, trigger.at(at_db), gain_db=0.0)
    return counts.prediction.at(row)
