"""What was found out about a camera's microphone input: full scale, own scale, noise, gain control.

Entry point: `Instrument`.
"""

from dataclasses import dataclass

from audiolevel.ground.notices import Notice
from audiolevel.metering.calibration import Calibration, DisplayLine
from audiolevel.metering.gain_control import Steadiness
from audiolevel.metering.own_noise import OwnNoise


@dataclass(frozen=True, eq=False)
class Instrument:
    """What was found out about a camera's microphone input; None is what was not looked for.

    Attributes
    ----------
    calibration : Calibration or None
        The SPL at full scale.
    display : DisplayLine or None
        The camera's own scale.
    readings : tuple of (float, float)
        Numbers shown and levels in dB FS behind `display`.
    notices : tuple of Notice
    noise : OwnNoise or None
        The camera's own, in two parts.
    spl_at_full_scale_db : float or None
        That turns the capsule's noise into dB(A): found here, or of the site file.
    steadiness : Steadiness or None
        What the test for gain control found.
    tones_apart_db : float or None
        Between a calibrator's 94 and 114 dB.
    """

    calibration: Calibration | None
    display: DisplayLine | None
    readings: tuple[tuple[float, float], ...]
    notices: tuple[Notice, ...]
    noise: OwnNoise | None = None
    spl_at_full_scale_db: float | None = None
    steadiness: Steadiness | None = None
    tones_apart_db: float | None = None

    @property
    def self_noise_dba(self) -> float | None:
        """The capsule's own noise as sound pressure; None if not known."""
        if self.noise is None or self.noise.capsule_db is None:
            return None
        full_db = self.spl_at_full_scale_db
        return None if full_db is None else self.noise.capsule_db + full_db
