"""How many minutes a day does a trigger record, and how many of them hold people talking?

Entry points: `captured`, `RecordedTime`, `Minutes`.
"""

from dataclasses import dataclass
from math import isfinite

from audiolevel.planning.choice import Option
from audiolevel.planning.storage import firing_hours, share_of_day, together_share
from audiolevel.privacy.speech_detection import SpeechShare
from audiolevel.site import Site

DAY_MIN = 1440.0


@dataclass(frozen=True)
class Minutes:
    """Minutes a day with their limits; `best` is None where only an upper limit is known."""

    best: float | None
    low: float
    high: float


@dataclass(frozen=True)
class RecordedTime:
    """What the recommended trigger records, and how much of it holds audible speech."""

    clip_s: float
    recorded: Minutes
    speech: Minutes | None


def captured(
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
    row : int or None
        Another row of the option's curve.
    clip_s : float or None
        Another length of a clip; by default the site's seconds before and after.

    Notes
    -----
    People are taken to talk as often during a clip as at any other time: a trigger that fires on
    shouts records more speech than that. The limits of speech multiply those of the rate and of
    the share, so they hold with at least twice the confidence's complement, and usually more.
    """
    prediction, at = option.curve.prediction, option.row if row is None else row
    length = site.storage.before_s + site.storage.after_s if clip_s is None else clip_s
    hours = firing_hours(site, prediction, at)

    def minutes(per_day: float) -> float:
        own = share_of_day(per_day, length, rearm_s=site.trigger.rearm_s, hours=hours)
        return DAY_MIN * float(together_share(own, site.storage.other_recording_share))

    best = float(prediction.per_day[at])
    known = isfinite(best) and prediction.method[at] != "upper limit"
    recorded = Minutes(
        minutes(best) if known else None,
        minutes(float(prediction.rate_low_per_day[at])) if known else minutes(0.0),
        minutes(float(prediction.rate_high_per_day[at])),
    )
    return RecordedTime(length, recorded, None if share is None else _spoken(recorded, share))


def _spoken(recorded: Minutes, share: SpeechShare) -> Minutes:
    best = None if recorded.best is None else recorded.best * share.best
    return Minutes(best, recorded.low * share.low, recorded.high * share.high)
