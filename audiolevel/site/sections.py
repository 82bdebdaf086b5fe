"""What is known of the place, the microphone and the job: a site file's sections.

All of it is optional. The sections are small frozen records whose field names are the keys.

Entry point: `Site`.
"""

from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any

from audiolevel.counting.belief import WET_SHARE
from audiolevel.ground.errors import SettingError
from audiolevel.ground.names import hint
from audiolevel.metering.calibration import DisplayLine, fit_display
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.sounds.propagation import Air
from audiolevel.triggers.trigger import MODES, Trigger

# 95 % of a calibration that does not say how good it is: a data sheet's (common practice)
UNKNOWN_CALIBRATION_DB = 3.0
# a sine that fills the scale, dB SPL: below and above is a slip of the pen
FULL_SCALE_DB = (40.0, 200.0)
# what the program knows of a site and no file says
NO_KEY = {"key": False}
# Bit rates of a microphone's channel in kbit/s: G.711 is 8 bits at 8 kHz, G.726 has four rates
# (RFC 3551, sections 4.5.14 and 4.5.4), linear PCM of 16 bits is its sampling rate times 16.
# AAC may use any rate; these are common practice.
AUDIO_KBIT_S = MappingProxyType(
    {
        "none": 0.0,
        "G.711": 64.0,
        "G.726-16": 16.0,
        "G.726-24": 24.0,
        "G.726-32": 32.0,
        "G.726-40": 40.0,
        "PCM 8 kHz": 128.0,
        "PCM 16 kHz": 256.0,
        "PCM 48 kHz": 768.0,
        "AAC 16 kHz": 32.0,
        "AAC 48 kHz": 64.0,
    }
)
# what an active test of the camera's gain may have found
GAIN_CONTROLS = ("not tested", "none found", "found")


@dataclass(frozen=True)
class Place:
    """Where people may be: a name, its distance from the microphone, and how people talk there.

    `raised_share` and `shout_share` are of the talk there, the rest is in a normal voice; with
    neither nobody knows.
    """

    name: str
    distance_m: float
    raised_share: float | None = None
    shout_share: float | None = None

    @property
    def voices(self) -> dict[str, float] | None:
        """Share of the talk by vocal effort; None is not known."""
        if self.raised_share is None and self.shout_share is None:
            return None
        raised, shout = self.raised_share or 0.0, self.shout_share or 0.0
        return {"normal": 1.0 - (raised + shout), "raised": raised, "shout": shout}


@dataclass(frozen=True)
class SiteSection:
    """`[site]`: its name, its kind, and the share of the days on which its road is wet."""

    name: str = ""
    kind: str | None = None
    wet_share: float = WET_SHARE


@dataclass(frozen=True)
class Microphone:
    """`[microphone]`: the SPL of a sine that just fills the scale, and what else is known of it.

    `calibration_within_db` is the half width of the calibration's 95 % interval; `self_noise_dba`
    the capsule's own noise in dB(A), in front of the gain; `converter_noise_dbfs` the converter's,
    A-weighted, behind it; `gain_control` says what the test of `calibrate --steady` found;
    `calibrated_on` is the day of the calibration. `high_cut_hz` and `high_cut_db_per_octave` are of
    the camera's own low-pass: by default one of 24 dB an octave at 500 Hz, which is steeper than
    most cameras have (common practice).
    """

    spl_at_full_scale_db: float | None = None
    calibration_within_db: float | None = None
    self_noise_dba: float | None = None
    converter_noise_dbfs: float | None = None
    gain_control: str = "not tested"
    calibrated_on: date | None = None
    high_cut_hz: float = 500.0
    high_cut_db_per_octave: float = 24.0


@dataclass(frozen=True)
class GainSteps:
    """`[gain]`: the setting while recording, and what each setting amplifies, in dB.

    Settings are the camera's own numbers or names. `keep` leaves the gain as recorded.
    """

    recorded_at: float | str | None = None
    steps: tuple[tuple[float | str, float], ...] = ()
    keep: bool = False


@dataclass(frozen=True)
class Display:
    """`[display]`: pairs of what the camera showed and the level measured meanwhile."""

    readings: tuple[tuple[float, float], ...] = ()

    @property
    def line(self) -> DisplayLine | None:
        """The camera's own scale through them; None without any."""
        return fit_display(self.readings) if self.readings else None


@dataclass(frozen=True)
class TriggerSection:
    """`[trigger]`: what the camera can do."""

    modes: tuple[str, ...] = MODES
    window_s: float = 1.0
    hold_s: float = 0.0
    rearm_s: float = 10.0
    release_db: float = 2.0

    def trigger(self, mode: str, at_db: float, **other: float | None) -> Trigger:
        """A trigger with these settings, or with others where they are given."""
        times: dict[str, Any] = {
            "window_s": self.window_s,
            "hold_s": self.hold_s,
            "rearm_s": self.rearm_s,
            "release_db": self.release_db,
        }
        times |= {name: value for name, value in other.items() if value is not None}
        return Trigger(mode, at_db, **times)


@dataclass(frozen=True)
class Limits:
    """`[limits]`: what the plan must keep."""

    false_triggers_per_day: float = 20.0
    detection: float = 0.9
    clipped_share: float = 0.001
    days_kept: float = 7.0


@dataclass(frozen=True)
class Wanted:
    """`[[wanted]]`: a sound to catch, by name or from a file, at a distance.

    Without `must` it is counted and has no say in what is set.
    """

    sound: str = ""
    file: str = ""
    distance_m: float = 10.0
    level_dba: float | None = None
    level_spread_db: float | None = None
    at_m: float = 1.0
    obstruction_db: float = 0.0
    must: bool = True


@dataclass(frozen=True)
class Storage:
    """`[storage]`: the card and what is written to it.

    `audio_codec` adds that codec's bit rate to `recording_mbit_s` (`AUDIO_KBIT_S`);
    `overhead_share` is what the file system, indexes and the camera's reserve take.
    """

    card_gb: float | None = None
    recording_mbit_s: float = 4.0
    before_s: float = 5.0
    after_s: float = 20.0
    other_recording_share: float = 0.0
    audio_codec: str = "none"
    overhead_share: float = 0.003


@dataclass(frozen=True)
class ScheduleSection:
    """`[schedule]`: when the trigger is active, and the traffic of each hour.

    `zone` is the time zone of the camera's clock, by its IANA name; it matters at changes of
    summer time only.
    """

    active: tuple[str, ...] = ()
    traffic_by_hour: tuple[float, ...] | str = ()
    zone: str = ""


@dataclass(frozen=True)
class VisitSection:
    """`[[visit]]`: what a recording in the site's folder does not say itself.

    `recording` is a file below `visits`, or a folder of the files of one recording; `marks` is a
    file below it too, `from` and `to` are seconds from the recording's beginning.
    """

    recording: str
    start: datetime | None = None
    weather: str = ""
    marks: str = ""
    from_s: float | None = field(default=None, metadata={"key": "from"})
    to_s: float | None = field(default=None, metadata={"key": "to"})
    channel: int | None = None
    level_column: str = ""
    time_column: str = ""


@dataclass(frozen=True)
class Site:
    """A whole site file; every section has its defaults.

    `folder` is that of the file, which the files it names are relative to; `calibration_assumed`
    says that the calibration is no measured one (`assuming`).
    """

    site: SiteSection = field(default_factory=SiteSection)
    microphone: Microphone = field(default_factory=Microphone)
    gain: GainSteps = field(default_factory=GainSteps)
    display: Display = field(default_factory=Display)
    trigger: TriggerSection = field(default_factory=TriggerSection)
    limits: Limits = field(default_factory=Limits)
    wanted: tuple[Wanted, ...] = ()
    place: tuple[Place, ...] = ()
    visit: tuple[VisitSection, ...] = ()
    air: Air = field(default_factory=Air)
    storage: Storage = field(default_factory=Storage)
    schedule: ScheduleSection = field(default_factory=ScheduleSection)
    folder: Path | None = field(default=None, compare=False, metadata=NO_KEY)
    calibration_assumed: bool = field(default=False, metadata=NO_KEY)

    def __repr__(self) -> str:
        full_db, limit = self.microphone.spl_at_full_scale_db, self.limits.false_triggers_per_day
        scale = "not calibrated" if full_db is None else f"{full_db:g} dB SPL at full scale"
        wanted = f"{len(self.wanted)} wanted sound{'s' * (len(self.wanted) != 1)}"
        return f"<Site {self.site.name or 'without a name'}: {scale}, {limit:g} a day, {wanted}>"

    def assuming(self, spl_at_full_scale_db: float) -> "Site":
        """The same with an assumed calibration; one of its own is never overruled."""
        low, high = FULL_SCALE_DB
        # nan lies nowhere
        if not low <= spl_at_full_scale_db <= high:
            raise SettingError(
                f"{spl_at_full_scale_db:g} dB SPL for a sine that fills the scale must lie between "
                f"{low:g} and {high:g}"
            )
        if self.microphone.spl_at_full_scale_db is not None:
            return self
        microphone = replace(self.microphone, spl_at_full_scale_db=spl_at_full_scale_db)
        return replace(self, microphone=microphone, calibration_assumed=True)

    def gains_db(self) -> list[tuple[float | str | None, float]]:
        """Gains to consider: (setting, dB relative to the recording)."""
        if not self.gain.steps:
            # without a table of steps: 6 dB each, twice the amplitude, to 36 dB either way
            return [(None, float(gain)) for gain in range(-36, 37, 6)]
        at = self.recorded_step_db()
        return [(setting, gain - at) for setting, gain in self.gain.steps]

    def setting_of(self, gain_db: float) -> float | str | None:
        """The camera's own name of a gain to consider; None where it has none."""
        return {db: setting for setting, db in self.gains_db()}.get(gain_db)

    def gain_db_of(self, setting: str) -> float:
        """A gain setting of the camera, in dB relative to the recording.

        Raises
        ------
        SettingError
            The site file has no such setting.
        """
        known = {setting_name(one): gain_db for one, gain_db in self.gains_db() if one is not None}
        if setting not in known:
            named = f"the site file has {', '.join(known) or 'none; list them as gain.steps'}"
            raise SettingError(f"gain setting {setting}: {hint(setting, known, otherwise=named)}")
        return known[setting]

    def own_noise(self, format_floor_db: float) -> OwnNoise:
        """The camera's own noise; `format_floor_db` of the file stands in for the converter's."""
        noise, full = self.microphone.self_noise_dba, self.microphone.spl_at_full_scale_db
        # dB(A) of the noise less the SPL at full scale is dB FS
        capsule_db = None if noise is None or full is None else noise - full
        converter_db = self.microphone.converter_noise_dbfs
        if converter_db is None:
            return OwnNoise(capsule_db, format_floor_db)
        return OwnNoise(capsule_db, converter_db, stated=True)

    @property
    def calibration_spread_db(self) -> float:
        """Standard deviation of the calibration: half of its 95 % figure."""
        within_db = self.microphone.calibration_within_db
        # a figure without its uncertainty is taken for a data sheet's
        return (UNKNOWN_CALIBRATION_DB if within_db is None else within_db) / 2

    def recorded_step_db(self) -> float:
        """The dB that the table of steps gives for the setting used while recording."""
        if self.gain.recorded_at is None:
            return 0.0
        at = setting_name(self.gain.recorded_at)
        return next((db for one, db in self.gain.steps if setting_name(one) == at), 0.0)


def setting_name(setting: float | str) -> str:
    """A gain setting as it is written: a name as it is, a number without needless zeros."""
    return setting if isinstance(setting, str) else f"{setting:g}"
