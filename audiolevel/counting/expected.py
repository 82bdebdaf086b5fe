"""Firings to expect of one setting, with their intervals."""

from dataclasses import dataclass

from audiolevel.ground.intervals import Interval


@dataclass(frozen=True)
class Expected:
    """What a prediction says of one setting.

    Attributes
    ----------
    per_hour : Interval
        Rate in hours like the recording's; best is None where only an upper limit is honest.
    rate : Interval
        Mean rate of a day's active hours, firings a day; best as above.
    count : Interval
        One day's count; without a best estimate of its own.
    method : str
        "counted", "extrapolated" or "upper limit".
    seen : int
        Firings in the recordings.
    heard_s : float
        Time listened.
    confidence : float
        Of every interval.
    """

    per_hour: Interval
    rate: Interval
    count: Interval
    method: str
    seen: int
    heard_s: float
    confidence: float

    @property
    def only_limited(self) -> bool:
        """Whether there is an upper limit only, and no best estimate."""
        return self.method == "upper limit"
