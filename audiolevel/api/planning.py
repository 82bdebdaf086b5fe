"""Plan a site, try a trigger on it, predict what it will do; measure once for all of them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from audiolevel.api.measuring import Measurement, Measurements, measured
from audiolevel.api.plans import Plan, Trials, planned
from audiolevel.api.results import Progress, names_its_site, site_of
from audiolevel.api.settings import Curve
from audiolevel.counting.expected import Expected
from audiolevel.folder.template import wanted_of
from audiolevel.ground.errors import SettingError
from audiolevel.metering import measurement as metering
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.parts import Moment
from audiolevel.metering.visit import AnyPath, Visit, Visits, visits_of
from audiolevel.planning.asked import Asked
from audiolevel.planning.plan import plan_of
from audiolevel.planning.prediction import settings_to_try, swept
from audiolevel.planning.survey import Survey as DomainSurvey
from audiolevel.planning.survey import gain_noise, gains_to_simulate, refuse_twice, survey_of
from audiolevel.planning.trial import levels_at, trials_of
from audiolevel.site.sections import Site, Wanted
from audiolevel.triggers.trigger import Trigger


@dataclass(frozen=True, eq=False)
class Survey(Measurements):
    """Visits to one site, measured once: plan, try and predict from them as often as you like.

    Attributes
    ----------
    each : tuple of Measurement
        With every gain of the site simulated.
    site : Site
    """

    site: Site

    def __repr__(self) -> str:
        heard_s = sum(one.duration_s for one in self)
        visits = f"{len(self)} visit{'s' * (len(self) != 1)}"
        return f"<Survey of {self.site.site.name or 'a site'}: {visits}, {heard_s:.0f} s>"

    def plan(
        self,
        *,
        limit_per_day: float | None = None,
        wanted: Sequence[Wanted | str] | None = None,
        asked: Asked | None = None,
        confidence: float = 0.95,
        seed: int = 0,
    ) -> Plan:
        """Plan from what was measured.

        Parameters
        ----------
        limit_per_day : float, optional
            False firings a day, in place of the site's.
        wanted : sequence of Wanted or str, optional
            Sounds to catch, in place of the site's; as text `breaking glass@5m`.
        asked, confidence, seed
            As in `audiolevel.plan`.

        Raises
        ------
        SettingError
            A value cannot be used.
        """
        site = self.site
        if limit_per_day is not None:
            site = replace(site, limits=replace(site.limits, false_triggers_per_day=limit_per_day))
        if wanted is not None:
            site = replace(site, wanted=tuple(map(_wanted, wanted)))
        known = site_of(site)
        bases = [one.base for one in self]
        return Plan(plan_of(survey_of(bases, known, confidence=confidence, seed=seed), asked))

    def trial(
        self,
        trigger: Trigger | Plan | AnyPath,
        *,
        gains_db: Sequence[float] | float | None = None,
        confidence: float = 0.95,
        seed: int = 0,
    ) -> Trials:
        """Try a trigger, as `audiolevel.trial` does."""
        tried, gains = _to_try(trigger, gains_db, self.site)
        bases = [metering.at_gains(one.base, gains) for one in self]
        return _tried(bases, self.site, tried, confidence, seed)

    def curve(
        self,
        trigger: Trigger,
        settings_db: Sequence[float],
        *,
        confidence: float = 0.95,
        seed: int = 0,
    ) -> Curve:
        """What a trigger does at each of several settings.

        Parameters
        ----------
        trigger : Trigger
            Its mode, times, unit and gain; `settings_db` take the place of its own setting.
        settings_db : sequence of float
        confidence, seed
            As in `plan`.

        Raises
        ------
        SettingError
            As in `trial`.
        """
        settings = np.unique(np.asarray(settings_db, dtype=np.float64))
        if not len(settings):
            raise SettingError("settings_db: none is given; give one or more")
        tried, gains = _to_try(trigger, None, self.site)
        heard = _counted(
            [metering.at_gains(one.base, gains) for one in self], self.site, confidence, seed
        )
        (gain_db,) = gains.gains_db
        # each is checked as a trigger, and brought to dB FS as one
        at = [tried.at(one).in_full_scale(heard.scale, gain_db) for one in settings.tolist()]
        # beside those that a plan tries, so that it says what the plan says
        tries = settings_to_try(heard, tried.mode, gain_db)
        tries = np.unique(np.round([*tries, *(one.at_db for one in at)], 6))
        rates = swept(heard, levels_at(heard, 0), at[0], tries).prediction
        rows = [int(np.abs(tries - one.at_db).argmin()) for one in at]
        return Curve(
            tried.mode,
            gain_db,
            self.unit if tried.mode == "threshold" else "dB",
            settings,
            rates.count[rows],
            rates.per_day[rows],
            rates.rate_low_per_day[rows],
            rates.rate_high_per_day[rows],
        )

    def predict(self, trigger: Trigger, *, confidence: float = 0.95, seed: int = 0) -> Expected:
        """What to expect of a trigger, as `audiolevel.predict` does."""
        return self.trial(trigger, confidence=confidence, seed=seed)[0].expected


def _wanted(one: Wanted | str) -> Wanted:
    if isinstance(one, Wanted):
        return one
    sound, distance_m = wanted_of(one)
    return Wanted(sound, distance_m=distance_m)


Given = Visits | Measurement | Sequence[Visit | Measurement | AnyPath]


@names_its_site
def survey(
    recordings: Given,
    *,
    site: Site | AnyPath | None = None,
    starts: Sequence[Moment | None] | Moment = (),
    progress: Progress | None = None,
) -> Survey:
    """Measure visits to a site at every gain of it, for many plans, trials and predictions.

    Parameters
    ----------
    recordings : Visit, Measurement or path, or sequence of them
        As in `plan`; what was measured already is not measured again.
    site, starts, progress
        As in `plan`.

    Raises
    ------
    RecordingError, SettingError
        As in `plan`.
    """
    known = site_of(site)
    bases = _heard(recordings, known, gains_to_simulate(known), starts, progress)
    return Survey(tuple(Measurement(one, known) for one in bases), known)


def _heard(
    recordings: Given,
    site: Site,
    gains: Gains,
    starts: Sequence[Moment | None] | Moment,
    progress: Progress | None,
) -> list[metering.Measurement]:
    """Each visit measured at some gains; those measured before only where they must be."""
    several: Sequence[Any] = recordings if isinstance(recordings, list | tuple) else [recordings]
    if not any(isinstance(one, Measurement) for one in several):
        visits = visits_of(several, starts)
        found = measured(visits, site, gains=gains, progress=progress)
    elif starts:
        raise SettingError("starts: a measurement has its own; give it to its visit")
    else:
        visits = [one for one in several if not isinstance(one, Measurement)]
        new = measured(visits_of(visits), site, gains=gains, progress=progress) if visits else []
        rest = iter(new)
        found = [
            metering.at_gains(_of(site, one), gains) if isinstance(one, Measurement) else next(rest)
            for one in several
        ]
    refuse_twice(found)
    return found


def _of(site: Site, measured: Measurement) -> metering.Measurement:
    """What was measured, without gains that were simulated with the noise of another site."""
    same = gain_noise(measured.site) == gain_noise(site)
    return measured.base if same else replace(measured.base, gains=[])


@names_its_site
def plan(
    recordings: Given,
    *,
    site: Site | AnyPath | None = None,
    starts: Sequence[Moment | None] | Moment = (),
    asked: Asked | None = None,
    confidence: float = 0.95,
    seed: int = 0,
    progress: Progress | None = None,
) -> Plan:
    """Plan the gain and the trigger of a site from one or more visits to it.

    Parameters
    ----------
    recordings : Visit, Measurement or path, or sequence of them
        Sound files or level histories of one site, made at one gain; a `Visit` says which part,
        what is marked in it, and whether the road was wet.
    site : Site or path, optional
        What is known of the place, the microphone and the job.
    starts : sequence of datetime, str or datetime64, optional
        When each recording began, by the local clock.
    asked : Asked, optional
        A setting that is insisted on, to be told beside the recommended one.
    confidence : float
        Of every interval, above 0.5 and below 1.
    seed : int
        Of everything drawn by chance.
    progress : callable, optional
        Called with the seconds measured and those there are; raising in it ends the work.

    Returns
    -------
    Plan

    Raises
    ------
    RecordingError, SettingError
        A file or value cannot be used; one line that says why and what to do.
    """
    heard = survey(recordings, site=site, starts=starts, progress=progress)
    return heard.plan(asked=asked, confidence=confidence, seed=seed)


@names_its_site
def trial(
    recordings: Given,
    trigger: Trigger | Plan | AnyPath,
    *,
    gains_db: Sequence[float] | float | None = None,
    site: Site | AnyPath | None = None,
    starts: Sequence[Moment | None] | Moment = (),
    confidence: float = 0.95,
    seed: int = 0,
    progress: Progress | None = None,
) -> Trials:
    """Try one trigger on recordings of a site, at one or more gains.

    Parameters
    ----------
    recordings : Visit or path, or sequence of them
    trigger : Trigger, Plan or path
        A level without a unit of its own is in that of the site's calibration; or a plan, or the
        JSON of one, whose setting is tried.
    gains_db : float or sequence of float, optional
        Relative to the recording; by default the trigger's, or the plan's, or as recorded.
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
    tried, gains = _to_try(trigger, gains_db, known)
    bases = _heard(recordings, known, gains, starts, progress)
    return _tried(bases, known, tried, confidence, seed)


def _to_try(
    trigger: Trigger | Plan | AnyPath, gains_db: Sequence[float] | float | None, site: Site
) -> tuple[Trigger, Gains]:
    """What is tried, and at which gains."""
    if not isinstance(trigger, Trigger):
        trigger = _set_by(trigger, site)
    given = (trigger.gain_db or 0.0) if gains_db is None else gains_db
    each = (given,) if isinstance(given, float | int) else tuple(given)
    if not each:
        raise SettingError("gains_db: none is given; 0 is the recorded gain")
    # no limit of clipping: what is asked for is tried, however much it clips
    return trigger, Gains(each, gain_noise(site))


def _tried(
    measurements: Sequence[metering.Measurement],
    site: Site,
    trigger: Trigger,
    confidence: float,
    seed: int,
) -> Trials:
    survey = _counted(measurements, site, confidence, seed)
    return Trials(survey, tuple(trials_of(survey, trigger)))


def _counted(
    measurements: Sequence[metering.Measurement], site: Site, confidence: float, seed: int
) -> DomainSurvey:
    """What firings are counted in: nothing is placed."""
    return survey_of(measurements, site, confidence=confidence, seed=seed, place_wanted=False)


def _set_by(plan: Plan | AnyPath, site: Site) -> Trigger:
    """The trigger of a plan, for its gain, with what the site says of its times."""
    record = planned(plan)
    option, name = record.recommended, "plan" if isinstance(plan, Plan) else plan
    if option is None:
        raise SettingError(f"{name}: has nothing to set, so there is nothing to try")
    calibrated = site.microphone.spl_at_full_scale_db is not None
    if calibrated != (record.reference == Scale(0.0).unit):
        raise SettingError(
            f"{name}: its levels are {record.reference}; give the site file that it was made with"
        )
    at_db = option.setting_db
    return replace(site.trigger.trigger(option.mode, at_db), gain_db=option.gain_db)


def predict(
    measurements: Measurement | Iterable[Measurement],
    trigger: Trigger,
    *,
    confidence: float = 0.95,
    seed: int = 0,
) -> Expected:
    """Firings of a trigger per hour and per day, with their intervals.

    Parameters
    ----------
    measurements : Measurement, or sequence of them, or Survey
        Of one site, which says the schedule and the traffic.
    trigger : Trigger
        A level without a unit of its own is in that of the site's calibration, and without a gain
        at the recorded one.
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
    tried, gains = _to_try(trigger, None, several[0].site)
    bases = [metering.at_gains(one.base, gains) for one in several]
    return _tried(bases, several[0].site, tried, confidence, seed)[0].expected
