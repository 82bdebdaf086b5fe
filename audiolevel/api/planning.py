"""Plan a site, try one trigger on it, predict what a trigger will do."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from audiolevel.api.measuring import Measurement
from audiolevel.api.results import (
    AnyPath,
    Progress,
    Result,
    Source,
    as_kind,
    each_of,
    form_of,
    made_folder,
    name_of,
    names_its_site,
    parts_of,
    quiet,
    site_of,
    sources_of,
)
from audiolevel.counting.belief import wet_of
from audiolevel.counting.expected import Expected
from audiolevel.errors import SettingError
from audiolevel.files import text_mark, write_text, writing
from audiolevel.metering import measurement as metering
from audiolevel.metering.annotations import Mark, read_marks
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.level_log import LogForm
from audiolevel.metering.parts import Part
from audiolevel.metering.quality import clipping_notices
from audiolevel.notices import Notice
from audiolevel.planning.asked import Asked
from audiolevel.planning.heard import heard_levels
from audiolevel.planning.plan import SitePlan, plan_of, survey_notices
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

Marks = AnyPath | Sequence[Mark]


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
        from audiolevel.report.trial.document import trial_page

        return trial_page(self.survey, self.each, self.notices, pictures["trial"])


@names_its_site
def plan(
    recordings: Sequence[AnyPath] | AnyPath,
    *,
    site: Site | AnyPath | None = None,
    starts: Sequence[datetime | None] = (),
    marks: Sequence[Marks] = (),
    weather: Sequence[str | None] = (),
    asked: Asked | None = None,
    channel: int | None = None,
    level_column: str | None = None,
    time_column: str | None = None,
    from_s: Sequence[float | None] = (),
    to_s: Sequence[float | None] = (),
    sequence: bool = False,
    confidence: float = 0.95,
    seed: int = 0,
    progress: Progress = quiet,
) -> Plan:
    """Plan the gain and the trigger of a site from one or more recordings of it.

    Parameters
    ----------
    recordings : path or sequence of path
        Sound files or level histories of one site, made at one gain.
    site : Site or path, optional
        What is known of the place, the microphone and the job.
    starts : sequence of datetime, optional
        When each recording began, by the local clock.
    marks : sequence of path or of sequences of Mark, optional
        Wanted sounds in each recording.
    weather : sequence of "dry", "wet" or None, optional
        Whether the road was dry or wet in each recording; None if nobody knows.
    asked : Asked, optional
        A setting that is insisted on, to be told beside the recommended one.
    channel : int, optional
        Measure this channel, from 1; by default the mean square of all.
    level_column, time_column : str, optional
        Columns of level histories with another header; default `laf_db` and `time_s`.
    from_s, to_s : sequence of float, optional
        Only this part of each recording, in seconds from its beginning. Marks stay where they are
        in the whole; times in results are counted from `from_s`.
    sequence : bool
        The recordings are one that a recorder has split; joined in time order.
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
    known, folder = site_of(site)
    sources = sources_of(recordings, starts, sequence=sequence)
    survey = _surveyed(
        sources,
        known,
        gains_to_simulate(known),
        starts=starts,
        channel=channel,
        marks=marks,
        weather=weather,
        form=form_of(known, level_column, time_column),
        parts=parts_of(from_s, to_s, sources),
        folder=folder,
        confidence=confidence,
        seed=seed,
        progress=progress,
    )
    return as_kind(Plan, plan_of(survey, asked))


@names_its_site
def trial(
    recordings: Sequence[AnyPath] | AnyPath,
    trigger: Trigger,
    *,
    gains_db: Sequence[float] = (0.0,),
    site: Site | AnyPath | None = None,
    starts: Sequence[datetime | None] = (),
    marks: Sequence[Marks] = (),
    weather: Sequence[str | None] = (),
    channel: int | None = None,
    level_column: str | None = None,
    time_column: str | None = None,
    from_s: Sequence[float | None] = (),
    to_s: Sequence[float | None] = (),
    sequence: bool = False,
    confidence: float = 0.95,
    seed: int = 0,
    progress: Progress = quiet,
) -> Trials:
    """Try one trigger on recordings of a site, at one or more gains.

    Parameters
    ----------
    recordings : path or sequence of path
    trigger : Trigger
        A threshold's level in the unit of the site's calibration.
    gains_db : sequence of float
        Relative to the recording.
    site, starts, marks, weather, channel, level_column, time_column, from_s, to_s, sequence
        As in `plan`.
    confidence, seed, progress
        As in `plan`.

    Returns
    -------
    Trials

    Raises
    ------
    RecordingError, SettingError
        As in `plan`.
    """
    gains = tuple(gains_db)
    if not gains:
        raise SettingError("gains_db: none is given; 0 is the recorded gain")
    known, folder = site_of(site)
    sources = sources_of(recordings, starts, sequence=sequence)
    survey = _surveyed(
        sources,
        known,
        # no limit of clipping: what is asked for is tried, however much it clips
        Gains(gains, gain_noise(known)),
        starts=starts,
        channel=channel,
        marks=marks,
        weather=weather,
        form=form_of(known, level_column, time_column),
        parts=parts_of(from_s, to_s, sources),
        folder=folder,
        confidence=confidence,
        seed=seed,
        progress=progress,
        # a trial counts firings only: nothing is placed
        place_wanted=False,
    )
    return Trials(survey, tuple(trials_of(survey, trigger)))


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


def _surveyed(
    recordings: Sequence[Source],
    site: Site,
    gains: Gains,
    *,
    starts: Sequence[datetime | None],
    channel: int | None,
    marks: Sequence[Marks],
    weather: Sequence[str | None],
    form: LogForm,
    parts: Sequence[Part],
    folder: Path | None,
    confidence: float,
    seed: int,
    progress: Progress,
    place_wanted: bool = True,
) -> Survey:
    """Recordings measured at these gains, with all that is known of them."""
    measurements = _measured(recordings, gains, starts, channel, progress, parts=parts, form=form)
    refuse_twice(measurements)
    return survey_of(
        measurements,
        site,
        marks=marks_within(marks_of(marks, recordings), parts),
        wet=[wet_of(one) for one in each_of(weather, recordings, "weather")],
        folder=folder,
        confidence=confidence,
        seed=seed,
        place_wanted=place_wanted,
    )


def _measured(
    recordings: Sequence[Source],
    gains: Gains,
    starts: Sequence[datetime | None],
    channel: int | None,
    progress: Progress,
    *,
    parts: Sequence[Part],
    form: LogForm,
) -> list[metering.Measurement]:
    measurements = []
    each_start = each_of(starts, recordings, "starts")
    for path, start, part in zip(recordings, each_start, parts, strict=True):
        # one recording at a time, so that memory does not grow with their number
        with progress(name_of(path)) as advance:
            measurements.append(
                metering.measure(
                    path,
                    channel=channel,
                    start=start,
                    gains=gains,
                    progress=advance,
                    part=part,
                    form=form,
                )
            )
    return measurements


def marks_within(marks: Sequence[Sequence[Mark]], parts: Sequence[Part]) -> list[list[Mark]]:
    """The marks that lie in the part of each recording, counted from its beginning."""
    moved = [[mark.within(part) for mark in of] for of, part in zip(marks, parts, strict=True)]
    # None: a mark that lies wholly outside the part
    return [[mark for mark in of if mark is not None] for of in moved]


def marks_of(marks: Sequence[Marks], recordings: Sequence[Source]) -> list[Sequence[Mark]]:
    """The marked sounds of each recording, read where they are files."""
    each = each_of(marks, recordings, "marks")
    return [_read(one) for one in each]


def _read(marks: Marks | None) -> Sequence[Mark]:
    if marks is None:
        return ()
    # a path, or else the marks themselves
    if isinstance(marks, str) or hasattr(marks, "__fspath__"):
        return read_marks(marks)
    return marks
