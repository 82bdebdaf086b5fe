"""A camera's own noise, in two parts: the capsule's in front of the gain, the converter's behind.

The capsule's rises with the gain as the site does; the converter's stays where it is. So a lower
gain brings the site down to the converter's noise, and a higher one does not lift the site out of
the capsule's.

Entry points: `OwnNoise`, `two_parts`, `quiet_level_db`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

import numpy as np

from audiolevel.ground.arrays import Array, Centi
from audiolevel.ground.errors import RecordingError
from audiolevel.metering.decibels import centibels, level_db, mean_square

Part = Literal["capsule", "converter"]
# two quiet recordings must lie this far apart, or their difference is all error of measurement
_LEAST_DIFFERENCE_DB = 10.0
# what the quiet of two rooms may differ by
_WITHIN_DB = 0.5
# the quietest part of a quiet recording: somebody always moves a chair in the rest
_QUIETEST = 0.25


@dataclass(frozen=True)
class OwnNoise:
    """A-weighted own noise in dB FS.

    Attributes
    ----------
    capsule_db : float or None
        At the recorded gain; None if not known.
    converter_db : float
        At every gain.
    stated : bool
        Whether the converter's was stated; otherwise it is the floor of the file's format, which
        is less than any converter's, and levels at other gains are left without it.
    """

    capsule_db: float | None
    converter_db: float
    stated: bool = False

    def at(self, gain_db: float) -> float:
        """Level of both parts together in dB FS at a gain relative to the recording."""
        power = mean_square(self.converter_db)
        if self.capsule_db is not None:
            power = power + mean_square(self.capsule_db + gain_db)
        return float(level_db(power))

    def limiting(self, gain_db: float) -> Part:
        """The louder of the two parts at a gain."""
        capsule_db = self.capsule_db
        louder = capsule_db is not None and capsule_db + gain_db > self.converter_db
        return "capsule" if louder else "converter"

    def moved(self, recorded_db: Array, gain_db: float) -> Array:
        """Levels at another gain of what was recorded, noise included; dB FS, any shape.

        The recording holds the converter's noise once. Moved by the gain it holds G times of it
        (a power), and the camera has it once again: (1 − G) times are added, or taken away where
        the gain rises. Nothing reads below the camera's own noise.
        """
        moved = mean_square(np.asarray(recorded_db, dtype=np.float64) + gain_db)
        if not self.stated or gain_db == 0.0:
            return np.asarray(level_db(moved))
        with_noise = moved + mean_square(self.converter_db) * (1.0 - 10 ** (gain_db / 10))
        if gain_db > 0.0:
            with_noise = np.maximum(with_noise, mean_square(self.at(gain_db)))
        return np.asarray(level_db(with_noise))

    def changes_levels(self, gain_db: float) -> bool:
        """Whether levels at a gain are no plain shift on its account."""
        return self.stated and gain_db != 0.0

    def in_history(self, laf: Centi, gain_db: float) -> Centi:
        """Put right a history that was shifted by `gain_db`; hundredths of a dB, shape (rows,)."""
        if not self.changes_levels(gain_db):
            return laf
        return centibels(self.moved(laf / 100 - gain_db, gain_db))


def two_parts(quiet_db: Sequence[tuple[float, float]]) -> OwnNoise:
    """Both parts from quiet recordings at two gains or more.

    Parameters
    ----------
    quiet_db : sequence of (float, float)
        Gain in dB relative to the recorded gain, and A-weighted level in dB FS there.

    Returns
    -------
    OwnNoise
        The capsule's at gain 0; None where the level does not rise with the gain.

    Raises
    ------
    RecordingError
        Gains less than 10 dB apart, or levels that fall, or rise faster than the gain.
    """
    gains = np.array([gain for gain, _ in quiet_db], dtype=np.float64)
    powers = mean_square(np.array([level for _, level in quiet_db], dtype=np.float64))
    if len(gains) < 2 or np.ptp(gains) < _LEAST_DIFFERENCE_DB:
        raise RecordingError(
            "--noise: two quiet recordings are needed at gains at least "
            f"{_LEAST_DIFFERENCE_DB:g} dB apart"
        )
    for (low, quieter), (high, louder) in combinations(sorted(quiet_db), 2):
        # two at one gain say nothing of what rises with it
        if high > low:
            _refuse_rise(louder - quieter, high - low)
    # the two outermost gains tell most
    lowest, highest = int(gains.argmin()), int(gains.argmax())
    factors = 10 ** (gains / 10)
    # power = capsule · G + converter, through the outermost two
    capsule = (powers[highest] - powers[lowest]) / (factors[highest] - factors[lowest])
    converter = powers[lowest] - capsule * factors[lowest]
    # a tenth of the whole cannot be told from nothing
    told = capsule * factors[highest] > 0.1 * powers[highest]
    converter = max(converter, 0.1 * powers[lowest])
    return OwnNoise(
        float(level_db(capsule)) if told else None, float(level_db(converter)), stated=True
    )


def _refuse_rise(level_db: float, gain_db: float) -> None:
    """Refuse a level that moves with the gain as no noise does."""
    if level_db < -_WITHIN_DB:
        raise RecordingError(
            f"--noise: the level falls by {-level_db:.1f} dB where the gain rises by {gain_db:g} "
            "dB: were the gains swapped? Give each recording with the gain that it was made at"
        )
    if level_db > gain_db + _WITHIN_DB:
        raise RecordingError(
            f"--noise: the level rises by {level_db:.1f} dB where the gain rises by {gain_db:g} "
            "dB: the room was not equally quiet, or the gains are not what they are said to be; "
            "record both in a row in the quietest room there is"
        )


def quiet_level_db(second_laeq_db: Array) -> float:
    """Level of the quiet in a recording: energy mean of the quietest quarter of its seconds.

    Parameters
    ----------
    second_laeq_db : array, shape (seconds,)
        A-weighted, dB FS.
    """
    ordered = np.sort(second_laeq_db)
    kept = ordered[: max(1, round(_QUIETEST * len(ordered)))]
    return float(level_db(mean_square(kept).mean()))
