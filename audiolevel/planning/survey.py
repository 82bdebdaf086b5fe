"""What a plan, a trial or a prediction is made from: measurements of one site, and what is known.

Entry points: `Survey`, `survey_of`, `refuse_twice`, `refuse_level`, `gains_to_simulate`,
`gain_noise`, `bandwidth_hz`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from audiolevel.counting.conditions import Conditions
from audiolevel.counting.schedule import read_schedule
from audiolevel.ground.errors import SettingError
from audiolevel.metering.annotations import Mark
from audiolevel.metering.calibration import Scale
from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.metering.statistics import Levels, Summary, known_levels
from audiolevel.planning.evidence import Evidence, evidence_of, taught
from audiolevel.planning.heard import heard_part, is_silent
from audiolevel.planning.wanted import Arriving, wanted_sounds
from audiolevel.site.sections import Site
from audiolevel.sounds.arrival import WantedSound
from audiolevel.triggers.trigger import MODES

# a history does not say its rate; wanted sounds are then made for a common one
_USUAL_RATE_HZ = 16_000
# a recorder's clock and a rounded length
_SAME_S = 2.0
# a full-scale square wave; and what is no level of a site that was heard
_HIGHEST_LAF_DB, _FAR_BELOW_DB = 3.02, 60.0
# less tells nothing of how often it fires when nobody wants it
_LEAST_FREE_S = 10.0


@dataclass(frozen=True)
class Survey:
    """Measurements of one site at one gain, with the site file and the marked sounds.

    Attributes
    ----------
    measurements : sequence of Measurement
    site : Site
    scale : Scale
        The unit levels are said in.
    levels : Levels
        Of all measurements together, dB FS.
    wanted : sequence of WantedSound
        The sounds to catch, as they arrive; empty without a calibration.
    confidence : float
        Of every interval.
    seed : int
        Of everything drawn by chance.
    arriving : Arriving or None
        What the wanted sounds were worked out with; None where none were.
    evidence : sequence of Evidence
        What marked sounds at known distances say of the levels worked out.
    left_out : sequence of Measurement
        Recordings of digital silence beside those that hold sound: no visits.
    """

    measurements: Sequence[Measurement]
    site: Site
    scale: Scale
    levels: Levels
    wanted: Sequence[WantedSound] = ()
    confidence: float = 0.95
    seed: int = 0
    arriving: Arriving | None = None
    evidence: Sequence[Evidence] = ()
    left_out: Sequence[Measurement] = ()

    @cached_property
    def conditions(self) -> Conditions:
        """What every prediction of the site is asked for."""
        schedule = self.site.schedule
        return Conditions(
            schedule=read_schedule(schedule.active),
            traffic=schedule.traffic_by_hour or None,
            wet_share=self.site.site.wet_share,
            confidence=self.confidence,
            seed=self.seed,
        )

    @property
    def marks(self) -> list[list[Mark]]:
        """Wanted sounds in each recording itself."""
        # a firing labelled false is one like those that nobody listened to
        return [[mark for mark in one.marks if mark.wanted] for one in self.measurements]

    @property
    def labels(self) -> list[tuple[Mark, ...]]:
        """The wanted sounds, and firings that somebody has listened to and found none."""
        return [one.marks for one in self.measurements]

    @property
    def wet(self) -> list[bool | None]:
        """Whether the road was wet in each; None if nobody said."""
        return [one.wet for one in self.measurements]

    @property
    def row_s(self) -> float:
        """Between two rows of the level histories, the same in all of them."""
        return self.measurements[0].row_s

    def shift_db(self, mode: str, gain_db: float) -> float:
        """What turns a setting at a gain into the one shown; a change is the same in both."""
        return self.scale.shown(0.0, gain_db) if mode == "threshold" else 0.0

    @property
    def has_peaks(self) -> bool:
        """Whether the highest samples of all measurements are known."""
        return all(one.has_peaks for one in self.measurements)

    @property
    def modes(self) -> tuple[str, ...]:
        """The site's modes of trigger whose firings the rows can tell."""
        return tuple(mode for mode in self.tellable if mode in self.site.trigger.modes)

    @property
    def tellable(self) -> tuple[str, ...]:
        """Modes of trigger whose firings the rows can tell, listed in the site file or not."""
        trigger = self.site.trigger
        # the 1.0 stands for any step: only the window decides whether rows are fine enough
        return tuple(mode for mode in MODES if trigger.trigger(mode, 1.0).told_by(self.row_s))

    @property
    def duration_s(self) -> float:
        """Length heard in all measurements together."""
        return sum(one.heard_s for one in self.measurements)


def gains_to_simulate(site: Site) -> Gains:
    """The gains of a site, for measuring its recordings.

    A gain is given up once it clips more than the site's limit allows.
    """
    return Gains(
        gains_db=[gain for _, gain in site.gains_db()],
        noise=gain_noise(site),
        clipped_share_limit=site.limits.clipped_share,
    )


def gain_noise(site: Site) -> OwnNoise | None:
    """The noise that a simulated gain must put right: the converter's, where it is stated."""
    # the floor of the format is below any converter's and is never added
    noise = site.own_noise(format_floor_db=0.0)
    return noise if noise.stated else None


def survey_of(
    measurements: Sequence[Measurement],
    site: Site,
    *,
    confidence: float = 0.95,
    seed: int = 0,
    place_wanted: bool = True,
) -> Survey:
    """Bring together what a plan is made from.

    Parameters
    ----------
    measurements : sequence of Measurement
        Recordings of one site, at one gain, measured with `gains_to_simulate(site)`.
    site : Site
    confidence : float
        Of every interval.
    seed : int
        Of everything drawn by chance.
    place_wanted : bool
        Whether the wanted sounds of the site are needed.

    Raises
    ------
    SettingError
        A wanted sound is not known, a file of it cannot be used, the rows of the level histories
        are not of one length, marks leave nothing to count in, or the seed is negative.
    """
    if seed < 0:
        raise SettingError(f"seed: {seed} must not be negative")
    _refuse_mixed_rows(measurements)
    _refuse_marks_beyond(measurements)
    _refuse_marks_everywhere(measurements)
    every, kept = measurements, _with_sound(measurements)
    measurements = [heard_part(every[i]) for i in kept]
    scale = Scale(site.microphone.spl_at_full_scale_db)
    wanted: Sequence[WantedSound] = ()
    # a trial places none, and without calibration a sound pressure is no level
    arriving, evidence = None, tuple[Evidence, ...]()
    if place_wanted and scale.spl_at_full_scale_db is not None:
        arriving = Arriving(
            site,
            scale.spl_at_full_scale_db,
            measurements[0].sample_rate_hz or _USUAL_RATE_HZ,
            bandwidth_hz(measurements),
            seed,
        )
        placed = wanted_sounds(arriving)
        evidence = evidence_of(site.wanted, placed, measurements, arriving)
        wanted = taught(placed, evidence)
    return Survey(
        measurements=measurements,
        site=site,
        scale=scale,
        levels=_levels_together(measurements),
        wanted=wanted,
        confidence=confidence,
        seed=seed,
        arriving=arriving,
        evidence=evidence,
        left_out=[one for i, one in enumerate(every) if i not in kept],
    )


def refuse_level(survey: Survey, at_db: float, gain_db: float) -> None:
    """Refuse a threshold that says itself that it is meant in another unit.

    Parameters
    ----------
    survey : Survey
    at_db : float
        In dB FS at the gain.
    gain_db : float
        Relative to the recording.

    Raises
    ------
    SettingError
        It lies above full scale, or far below the quietest moment heard.
    """
    scale = survey.scale
    quietest_db = survey.levels.lafmin_db + gain_db
    if at_db > _HIGHEST_LAF_DB:
        wrong, edge_db = "above full scale, where nothing fires it", 0.0
    elif at_db < quietest_db - _FAR_BELOW_DB:
        wrong, edge_db = "far below the quietest moment heard, where it fires once", quietest_db
    else:
        return
    unit = "" if scale.spl_at_full_scale_db is not None else "; levels in dB SPL need a calibration"
    raise SettingError(
        f"level {scale.shown(at_db, gain_db):.4g} {scale.unit}: lies {wrong} "
        f"({scale.shown(edge_db, gain_db):.4g} {scale.unit} at this gain){unit}"
    )


def _with_sound(measurements: Sequence[Measurement]) -> list[int]:
    """Places of the recordings that hold sound; of all where none does."""
    every = range(len(measurements))
    return [i for i in every if not is_silent(measurements[i])] or list(every)


def bandwidth_hz(measurements: Sequence[Measurement]) -> float | None:
    """Up to where the recordings carry sound; None where only level histories are known."""
    # one camera made them all: the widest shows what it can
    known = [one.bandwidth_hz for one in measurements if one.bandwidth_hz is not None]
    return max(known, default=None)


def _refuse_mixed_rows(measurements: Sequence[Measurement]) -> None:
    """Firings of rows of several lengths are not alike, so they make no common count."""
    first = measurements[0]
    for one in measurements[1:]:
        if (one.row_s, one.quantity) != (first.row_s, first.quantity):
            raise SettingError(
                f"{one.path}: has {one.quantity} every {one.row_s:g} s and {first.path} "
                f"{first.quantity} every {first.row_s:g} s; plan from recordings and histories "
                "of one interval"
            )


def refuse_twice(measurements: Sequence[Measurement]) -> None:
    """Refuse minutes given twice: they would count twice, as two visits that agree wonderfully.

    Raises
    ------
    SettingError
        Two parts of one file overlap, or two recordings by their starts.
    """
    for i, one in enumerate(measurements):
        for other in measurements[:i]:
            # what came from memory has a name and no file
            same = one.path == other.path and one.path.exists()
            later_s = one.begin_s - other.begin_s if same else None
            if not same and one.start is not None and other.start is not None:
                later_s = (one.start - other.start).total_seconds()
            if later_s is not None and _overlap_s(later_s, one, other) > _SAME_S:
                by = "is the same file" if same else "by its start it is of the same time"
                raise SettingError(
                    f"{one.path}: {by} as {other.path.name}; give each minute of the site once"
                )


def _overlap_s(later_s: float, one: Measurement, other: Measurement) -> float:
    """Seconds that two stretches share, the first of which begins so much later."""
    return min(later_s + one.duration_s, other.duration_s) - max(later_s, 0.0)


def _refuse_marks_everywhere(measurements: Sequence[Measurement]) -> None:
    """What lies in marks is no false firing: somewhere there must be time without any."""
    whole_s = sum(one.duration_s for one in measurements)
    marked_s = sum(_marked_s([mark for mark in one.marks if mark.wanted]) for one in measurements)
    free_s = whole_s - marked_s
    # of a recording of seconds a tenth will do: that it is short is told anyway
    if any(one.marks for one in measurements) and free_s < min(_LEAST_FREE_S, whole_s / 10):
        raise SettingError(
            f"the marks leave {max(free_s, 0.0):.0f} s of all recordings to count false firings "
            "in; mark the wanted sounds alone, or record more"
        )


def _marked_s(marks: Sequence[Mark]) -> float:
    """Length of all marks together, counted once where they overlap."""
    marked_s = until_s = 0.0
    for mark in sorted(marks, key=lambda one: one.start_s):
        marked_s += max(0.0, mark.end_s - max(mark.start_s, until_s))
        until_s = max(until_s, mark.end_s)
    return marked_s


def _refuse_marks_beyond(measurements: Sequence[Measurement]) -> None:
    """A mark past the end of its recording belongs to another one, or is a slip of the pen."""
    for one in measurements:
        for mark in one.marks:
            # a second: marks are made by ear, and a coarse log ends with a whole row
            if mark.end_s > one.duration_s + 1.0:
                raise SettingError(
                    f"{one.path}: ends at {one.duration_s:.0f} s, and a {mark.sound} is marked "
                    f"from {mark.start_s:g} to {mark.end_s:g} s; check which marks belong to it"
                )


def _levels_together(measurements: Sequence[Measurement]) -> Levels:
    # energies and histograms are added: levels themselves cannot be averaged
    together = Summary(measurements[0].row_s)
    for one in measurements:
        together.include(one.summary)
    # what one history does not tell is not known of all together
    lacking = frozenset[str]().union(*(one.lacking for one in measurements))
    return known_levels(together.levels(), lacking)
