"""A part of a recording or of a level history, from one moment in it to another.

Entry points: `Part`, `ALL`, `place_s`, `moment_of`.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil, floor, inf, isfinite
from numbers import Real

import numpy as np

from audiolevel.ground.errors import SettingError

# a text in ISO 8601 is one too
Moment = datetime | str | np.datetime64
# rows and frames are told apart to a millionth of one
_SLACK = 1e-6


@dataclass(frozen=True)
class Part:
    """Seconds `from_s` to `to_s` of a recording; None is its beginning, or its end.

    Raises
    ------
    SettingError
        A time is negative or not finite, or the end is not after the beginning.
    """

    from_s: float | None = None
    to_s: float | None = None

    def __post_init__(self) -> None:
        for option, value in (("--from", self.from_s), ("--to", self.to_s)):
            if not isinstance(value, Real | None):
                raise SettingError(f"{option} {value!r}: is no number of seconds")
            if value is not None and (not isfinite(value) or value < 0):
                raise SettingError(f"{option} {value:g}: must be seconds from the beginning")
        if self.to_s is not None and self.to_s <= self.begin_s:
            raise SettingError(f"--to {self.to_s:g} s must lie after --from {self.begin_s:g} s")

    @property
    def begin_s(self) -> float:
        """Where it begins."""
        return self.from_s or 0.0

    def rows(self, row_s: float) -> tuple[int, int | None]:
        """First of the rows that lie wholly in it, and the one after the last; None for all."""
        # inwards at both ends: a row partly outside is no part of it
        stop = None if self.to_s is None else floor(self.to_s / row_s + _SLACK)
        return ceil(self.begin_s / row_s - _SLACK), stop

    def start(self, of_whole: datetime | None) -> datetime | None:
        """When the part began, given when the whole did.

        Raises
        ------
        SettingError
            It has an offset: hours of the day are the local clock's.
        """
        if of_whole is None:
            return None
        if of_whole.tzinfo is not None:
            raise SettingError(
                f"start {of_whole.isoformat()}: give the time of the clock on the wall there, "
                "without Z or an offset"
            )
        return of_whole + timedelta(seconds=self.begin_s)


ALL = Part()


def moment_of(given: Moment | None, said: str) -> datetime | None:
    """A moment as `datetime`, whatever it was given as; None is not known.

    Parameters
    ----------
    given : datetime, str or datetime64
        As text in ISO 8601, with the time of day.
    said : str
        What it is called where it comes from.

    Raises
    ------
    SettingError
        It is no date with a time of day.
    """
    found: object = given
    if isinstance(given, np.datetime64):
        found = given.astype("datetime64[us]").item()
    # a date alone would be midnight
    elif isinstance(given, str) and any(sign in given for sign in "T "):
        try:
            found = datetime.fromisoformat(given)
        except ValueError:
            found = given
    # what is not a time of numpy or pandas is no datetime, but looks like one
    if given is not None and (not isinstance(found, datetime) or found != found):
        raise SettingError(f"{said}: {given!r} is no date and time like 2026-03-02T17:30")
    return found  # type: ignore[return-value]  # a datetime, or None


def place_s(text: str) -> float:
    """Seconds of a place in a recording, written `90`, `1:30` or `0:01:30`.

    Parameters
    ----------
    text : str

    Returns
    -------
    float
        Seconds from the beginning.

    Raises
    ------
    ValueError
        It is none of these.

    Examples
    --------
    >>> place_s("1:30"), place_s("0:01:30"), place_s("90")
    (90.0, 90.0, 90.0)
    """
    fields = text.split(":")
    try:
        numbers = [float(field) for field in fields]
    except ValueError:
        numbers = []
    # 1:75 is a slip of the pen; the first field alone may pass 59, and nan fails both
    inner_good = all(0 <= one < 60 for one in numbers[1:])
    if not 1 <= len(numbers) <= 3 or not inner_good or not 0 <= numbers[0] < inf:
        raise ValueError(
            f"{text!r} is not seconds, minutes:seconds or hours:minutes:seconds, like 1:30"
        )
    # hours, minutes, seconds, as far as there are any
    return sum(one * unit for one, unit in zip(reversed(numbers), (1, 60, 3600), strict=False))
