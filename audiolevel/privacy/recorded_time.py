"""Minutes a day that a trigger records, and how many of them hold people talking.

Entry points: `recorded_time`, `RecordedTime`.
"""

from dataclasses import dataclass
from math import isfinite

from audiolevel.ground.intervals import Interval
from audiolevel.planning.option import Option
from audiolevel.planning.storage import firing_hours, share_of_day, together_share
from audiolevel.privacy.speech_detection import SpeechShare
from audiolevel.site.sections import Site

DAY_MIN = 1440.0


@dataclass(frozen=True)
class RecordedTime:
    """What a trigger records, and how much of it holds audible speech.

    Attributes
    ----------
    clip_s : float
        Length of one clip.
    recorded : Interval
        Minutes of the mean day; no best estimate where only an upper limit of the firings is known.
    most : float
        Minutes of a single day, at most: of the upper end of one day's firings.
    speech : Interval or None
        Minutes a day with audible speech; None where the recording could not be judged.
    """

    clip_s: float
    recorded: Interval
    most: float
    speech: Interval | None


def recorded_time(
    option: Option,
    site: Site,
    share: SpeechShare | None,
    *,
    row: int | None = None,
    clip_s: float | None = None,
) -> RecordedTime:
    """Minutes a day that an option records, and with speech in them.

    Parameters
    ----------
    option : Option
        Of a plan.
    site : Site
        Its seconds before and after a firing, re-arm time and other recording.
    share : SpeechShare or None
        Of the recordings.
    row : int or None
        Another row of the option's curve.
    clip_s : float or None
        Another length of a clip; by default the site's seconds before and after.

    Returns
    -------
    RecordedTime

    Notes
    -----
    People are taken to talk as often during a clip as at any other time: a trigger that fires on
    shouts records more speech than that. The limits of speech multiply those of the rate and of
    the share, so they hold with at least twice the confidence's complement, and usually more.
    """
    prediction, at = option.curve.prediction, option.row if row is None else row
    length = site.storage.before_s + site.storage.after_s if clip_s is None else clip_s
    hours = firing_hours(prediction, at)

    def minutes(per_day: float) -> float:
        own = share_of_day(per_day, length, rearm_s=site.trigger.rearm_s, hours=hours)
        # what the other recording holds anyway counts once
        return DAY_MIN * float(together_share(own, site.storage.other_recording_share))

    best = float(prediction.per_day[at])
    # where none fired only the upper limit is known, so no best estimate and 0 below
    known = isfinite(best) and prediction.method[at] != "upper limit"
    recorded = Interval(
        minutes(best) if known else None,
        minutes(float(prediction.rate_low_per_day[at])) if known else minutes(0.0),
        minutes(float(prediction.rate_high_per_day[at])),
    )
    most = max(recorded.high, minutes(float(prediction.high_per_day[at])))
    speech = None if share is None else recorded.times(share.share)
    return RecordedTime(length, recorded, most, speech)
