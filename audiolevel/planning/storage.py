"""How many days the card holds what the trigger and all else record.

Every firing records a clip from `before_s` before it to `after_s` after it. Clips that overlap are
one recording, so a busy trigger records all the time and never more than all the time. What is
recorded, at the camera's bit rate, fills the card; another trigger or a continuous recording fills
it as well, and where that is the larger part the sound trigger hardly matters.

Conventions: gigabytes are decimal (10⁹ bytes, IEC 80000-13), as printed on cards; rates of
firings are per hour or per day, bit rates in Mbit/s or kbit/s.

Entry points: `recorded_share`, `together_share`, `days_to_fill`, `card_life`, `card_life_of`,
`CardLife`, `storage_notices`.

Formulas, evidence and limits: docs/storage.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from audiolevel.counting.predicted import Prediction
from audiolevel.ground.arrays import Array
from audiolevel.ground.notices import Notice, notice
from audiolevel.site.sections import AUDIO_KBIT_S, Site, Storage

# a computer that counts 2³⁰ shows 7 % fewer for the same card
BYTES_PER_GB = 1e9
HOURS = 24
DAY_S = 86400.0
HOUR_S = 3600.0


@dataclass(frozen=True)
class CardLife:
    """How long a card holds what a trigger and all else record.

    Attributes
    ----------
    days_kept : float
        Best estimate; infinite if nothing is ever recorded, nan where the count has no estimate.
    low_days, high_days : float
        Interval, from the interval of the rate of firings.
    recorded_share : float
        Share of the time that is recorded, by the trigger or by the other recording.
    other_days : float
        Days kept if the sound trigger never fired; infinite without another recording.
    dominated_by_other : bool
        The other recording is at least half of what is written.
    """

    days_kept: float
    low_days: float
    high_days: float
    recorded_share: float
    other_days: float
    dominated_by_other: bool


def recorded_share(per_hour: ArrayLike, clip_s: float, rearm_s: float = 0.0) -> Array:
    """Share of the time recorded by a trigger that fires at random.

    Parameters
    ----------
    per_hour : array_like
        Firings per hour; nan stays nan.
    clip_s : float
        Length of a clip, before and after the firing together.
    rearm_s : float
        Time after a firing in which there is no other.

    Returns
    -------
    ndarray
        Between 0 and 1, of the shape of `per_hour`.

    Notes
    -----
    Times between firings are X = rearm + E with E exponential, so that the mean of X is one over
    the rate. A clip adds min(X, clip) to the union, hence the share is rate · E[min(X, clip)]
    exactly (a renewal-reward argument: Ross, Introduction to Probability Models, ch. 7). Without
    a re-arm time it is 1 − exp(−rate · clip). A rate that the re-arm time does not allow counts
    as the fastest possible, one firing at every re-arm.
    """
    rate = np.asarray(per_hour, dtype=np.float64) / HOUR_S
    # clips never overlap, so each firing adds its whole length
    if clip_s <= rearm_s:
        return np.minimum(rate, 1 / rearm_s if rearm_s else np.inf) * clip_s
    free = 1 - np.minimum(rate * rearm_s, 1.0)  # share of the time in which the trigger is armed
    # free is 0 for a trigger that fires at every re-arm: the ∞ is meant
    with np.errstate(divide="ignore", invalid="ignore"):
        # of E: firings per second of armed time, so that the mean of X is one over the rate
        armed_rate = np.where(free > 0, rate / free, np.inf)
        # share that the clip records past the re-arm time; expm1 keeps small rates exact
        beyond = free * -np.expm1(-armed_rate * (clip_s - rearm_s))
    return np.asarray(np.minimum(rate * rearm_s, 1.0) + beyond)


def share_of_day(
    per_day: ArrayLike, clip_s: float, *, rearm_s: float = 0.0, hours: ArrayLike | None = None
) -> Array:
    """Share of a day that is recorded when the firings keep to some hours more than to others.

    Parameters
    ----------
    per_day : array_like, shape (n,)
        Firings a day; nan stays nan.
    clip_s, rearm_s : float
        As in `recorded_share`.
    hours : array_like (24,), optional
        Weight of each hour in a day's firings, zero where the trigger is not active; default: all
        hours alike.
    """
    weight = np.ones(HOURS) if hours is None else np.asarray(hours, dtype=np.float64)
    # (n, 24); the share is bent, so a busy hour must not be averaged away first
    per_hour = np.asarray(per_day, dtype=np.float64)[..., None] * (weight / weight.sum())
    return np.asarray(recorded_share(per_hour, clip_s, rearm_s).mean(axis=-1))


def together_share(share: ArrayLike, other_share: float) -> Array:
    """Share of the time in which at least one of two independent recordings runs."""
    own = np.asarray(share, dtype=np.float64)
    # at least one of two independent events
    return np.asarray(own + other_share - own * other_share)


def days_to_fill(
    card_gb: float, mbit_s: float, recorded_share: ArrayLike = 1.0, overhead_share: float = 0.0
) -> Array:
    """Days until the card is full; infinite if nothing is recorded.

    Parameters
    ----------
    card_gb : float
        Decimal gigabytes.
    mbit_s : float
        Picture and sound together while recording.
    recorded_share : array_like
        Share of the time that is recorded.
    overhead_share : float
        Share of the card that holds no recording: file system, index, reserve.
    """
    # bytes to bits
    usable_bit = card_gb * BYTES_PER_GB * 8 * (1 - overhead_share)
    full_days = usable_bit / (mbit_s * 1e6) / DAY_S
    # nothing recorded: it never fills, and infinity says so
    with np.errstate(divide="ignore"):
        return np.asarray(full_days / np.asarray(recorded_share, dtype=np.float64))


def mbit_per_s(card: Storage) -> float:
    """Bit rate while recording: the camera's, with the sound's where a codec is named."""
    # kbit/s to Mbit/s
    return card.recording_mbit_s + AUDIO_KBIT_S[card.audio_codec] / 1000


def card_life(
    card: Storage,
    per_day: Sequence[float],
    *,
    rearm_s: float,
    hours: ArrayLike | None = None,
    days_a_week: int = 7,
) -> CardLife | None:
    """Days that a card holds with a trigger that fires so often; None if the card is not known.

    Parameters
    ----------
    card : Storage
        Section `[storage]` of the site file.
    per_day : (best, low, high)
        Firings a day and the interval of the rate; best is nan if there is only an upper limit.
    rearm_s : float
        Of the trigger.
    hours : array_like (24,), optional
        Weight of each hour in a day's firings, zero where the trigger is not active; default: all
        hours alike.
    days_a_week : int
        Days on which it fires so often; on the others not at all.
    """
    if card.card_gb is None:
        return None
    own = share_of_day(per_day, card.before_s + card.after_s, rearm_s=rearm_s, hours=hours)
    own = own * days_a_week / 7
    other = card.other_recording_share
    share = together_share(own, other)
    mbit_s, overhead = mbit_per_s(card), card.overhead_share
    # best, low, high of the rate; a high rate fills it early, so the ends change places
    days = days_to_fill(card.card_gb, mbit_s, share, overhead)
    # without a best estimate the upper limit must do
    known = share[2] if math.isnan(share[0]) else share[0]
    return CardLife(
        days_kept=float(days[0]),
        low_days=float(days[2]),
        high_days=float(days[1]),
        recorded_share=float(share[0]),
        other_days=float(days_to_fill(card.card_gb, mbit_s, other, overhead)),
        dominated_by_other=bool(other > 0 and other >= known / 2),
    )


def card_life_of(site: Site, prediction: Prediction, row: int) -> CardLife | None:
    """Days that the site's card holds with the setting of a prediction's row."""
    best, low, high = (
        float(part[row])
        for part in (prediction.per_day, prediction.rate_low_per_day, prediction.rate_high_per_day)
    )
    hours = firing_hours(prediction, row)
    return card_life(
        site.storage,
        (best, low, high),
        rearm_s=site.trigger.rearm_s,
        hours=hours,
        days_a_week=prediction.conditions.schedule.days_active_per_week,
    )


def firing_hours(prediction: Prediction, row: int) -> Array | None:
    """Weight of each hour in a day's firings, (24,): by traffic where known, else as active.

    None where neither is known: all hours alike.
    """
    by_hour = prediction.by_hour
    # nan in a row that has only an upper limit
    if by_hour is not None and np.isfinite(by_hour[row]).all() and by_hour[row].sum() > 0:
        return np.asarray(by_hour[row])
    return prediction.active


def storage_notices(life: CardLife | None, card: Storage, wanted_days: float) -> list[Notice]:
    """What is wrong with the card: another recording fills it, or it is too small."""
    if life is None or card.card_gb is None:
        return []
    notices = []
    if life.dominated_by_other:
        share, days = card.other_recording_share, life.other_days
        notices.append(
            notice("other recording", other_share=share, card_gb=card.card_gb, other_days=days)
        )
    if life.low_days < wanted_days:
        # the whole interval lies below what is wanted, or only its lower end
        cause = "holds fewer" if life.high_days < wanted_days else "may hold fewer"
        notices.append(
            notice(
                "card",
                cause,
                wanted_days=wanted_days,
                days_kept=life.days_kept,
                low_days=life.low_days,
                high_days=life.high_days,
                recorded_share=life.recorded_share,
            )
        )
    return notices
