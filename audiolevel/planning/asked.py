"""A setting that somebody insists on, or that a plan made before, looked at like any other.

Entry points: `Asked`, `asked_option`, `planned_option`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from audiolevel.ground.errors import SettingError
from audiolevel.metering.headroom import GainMargins
from audiolevel.planning.curves import curve_at
from audiolevel.planning.option import Option, option_at
from audiolevel.planning.plan_record import PlanRecord
from audiolevel.planning.prediction import settings_to_try, with_setting
from audiolevel.planning.survey import Survey, refuse_level
from audiolevel.site.sections import setting_name

# gains are written to hundredths of a decibel
_SAME_GAIN_DB = 0.006


@dataclass(frozen=True)
class Asked:
    """A gain and a trigger; one of level, number shown and change says the setting.

    Attributes
    ----------
    gain : str or None
        The camera's own setting; None as recorded.
    mode : str
    level_db : float or None
        Of a threshold, in the unit of the site's calibration.
    shown : float or None
        The same on the camera's own scale.
    change_db : float or None
        Of a rise, fall or change.

    Raises
    ------
    SettingError
        No setting, or one that has no meaning in the mode or beside another.
    """

    gain: str | None = None
    mode: str = "threshold"
    level_db: float | None = None
    shown: float | None = None
    change_db: float | None = None

    def __post_init__(self) -> None:
        level, change = self.level_db is not None, self.change_db is not None
        if self.mode != "threshold":
            if not change:
                raise SettingError(f"--mode {self.mode}: give its step, like --change 12")
            # what has no effect would pass for something that had one
            if level or self.shown is not None:
                raise SettingError(f"--mode {self.mode}: --level and --shown are of a threshold")
            return
        if change:
            raise SettingError("--change: is of --mode rise, fall or change, not of threshold")
        if level and self.shown is not None:
            raise SettingError("--level and --shown: both say the level; give one of them")
        if not level and self.shown is None:
            raise SettingError("--mode threshold: give its level by --level, or by --shown")


def asked_option(survey: Survey, gains: Sequence[GainMargins], asked: Asked) -> Option:
    """What a setting would do on the recordings of a survey.

    Parameters
    ----------
    survey : Survey
    gains : sequence of GainMargins
        Every gain that was simulated.
    asked : Asked

    Raises
    ------
    SettingError
        No such gain, a gain that clips so much that it was not simulated, or a number shown
        without readings of the camera's scale.
    """
    # gains are relative to the recording
    gain_db = 0.0 if asked.gain is None else survey.site.gain_db_of(asked.gain)
    at_db = _setting_db(survey, gain_db, asked)
    return _option(survey, gains, gain_db, asked.mode, at_db)


def planned_option(
    survey: Survey, gains: Sequence[GainMargins], planned: PlanRecord
) -> Option | None:
    """What the setting of a plan that was made before does on the recordings of a survey.

    Parameters
    ----------
    survey : Survey
    gains : sequence of GainMargins
        Every gain that was simulated.
    planned : PlanRecord

    Returns
    -------
    Option or None
        None where the plan has nothing to set.

    Raises
    ------
    SettingError
        The plan is in another unit, or its gain is none of the site's.
    """
    option = planned.recommended
    if option is None:
        return None
    if planned.reference != survey.scale.unit:
        raise SettingError(
            f"plan: its levels are {planned.reference}, those here {survey.scale.unit}; give the "
            "site file that it was made with"
        )
    # the JSON holds two digits of it
    near = min(gains, key=lambda one: abs(one.gain_db - option.gain_db))
    if abs(near.gain_db - option.gain_db) > _SAME_GAIN_DB:
        raise SettingError(
            f"plan: its gain is {option.gain_db:+g} dB from the recording's, which is none of this "
            "site's; give the site file that it was made with"
        )
    at_db = option.setting_db
    if option.mode == "threshold":
        at_db = survey.scale.full_scale(at_db, near.gain_db)
    return _option(survey, gains, near.gain_db, option.mode, at_db)


def _option(
    survey: Survey, gains: Sequence[GainMargins], gain_db: float, mode: str, at_db: float
) -> Option:
    """A setting in dB FS at a gain, or a change, read off a curve of its own."""
    index = next((i for i, one in enumerate(gains) if one.gain_db == gain_db), None)
    if index is None:
        raise SettingError("--gain: the recorded gain is not among those of the site file")
    simulated, setting = [one.gains[index] for one in survey.measurements], gains[index].setting
    name = f"{gain_db:+g} dB" if setting is None else setting_name(setting)
    # a gain is given up while simulating once it clips too much: there are no levels to sweep
    if any(one.laf is None for one in simulated):
        if not survey.has_peaks:
            raise SettingError(
                f"gain {name}: whether it would clip is not known from a level history "
                "without sample_peak_db; ask for the recorded gain or less, or give the recording"
            )
        share = 100 * gains[index].clipped_share
        raise SettingError(
            f"gain {name}: {share:.2g} % of the samples would clip, so nothing can be "
            "said of its levels; ask for less gain"
        )
    if mode == "threshold":
        refuse_level(survey, at_db, gain_db)
    # refused before anything is worked out for it
    survey.site.trigger.trigger(mode, at_db)
    # its own setting goes among those tried, so that it is read off the same curve
    settings, row = with_setting(settings_to_try(survey, mode, gain_db), at_db)
    curve = curve_at(survey, index, gain_db, mode, settings)
    return option_at(curve, row, gains[index], survey.site)


def _setting_db(survey: Survey, gain_db: float, asked: Asked) -> float:
    """Level in dB FS at the gain, or change."""
    if asked.change_db is not None:
        return asked.change_db
    if asked.shown is not None:
        line = survey.site.display.line
        if line is None:
            raise SettingError(
                "--shown: the camera's own scale is not known; add display.readings to the site "
                "file (audiolevel calibrate --record), or give --level"
            )
        # the straight line of the camera's scale, read backwards: number to dB FS
        at_db = (asked.shown - line.offset) / line.slope
        try:
            refuse_level(survey, at_db, gain_db)
        except SettingError as error:
            read = sorted(shown for shown, _ in survey.site.display.readings)
            raise SettingError(
                f"--shown {asked.shown:g}: the camera's own scale was read from {read[0]:g} to "
                f"{read[-1]:g}, and by that is {error}"
            ) from error
        return at_db
    assert asked.level_db is not None  # `Asked` has one of the three
    return survey.scale.full_scale(asked.level_db, gain_db)
