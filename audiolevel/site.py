"""The site file: what is known of the place, the microphone and the job.

A TOML file with what is known of the place, the microphone and the job. All of it is optional;
an unknown key is refused with the nearest known name. The sections are small frozen records whose
field names are the keys.

Entry points: `Site`, `read_site`.
"""

import difflib
import os
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from datetime import date, datetime
from math import isfinite
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from audiolevel.counting.site_kinds import WET_SHARE, kind_of
from audiolevel.errors import SettingError
from audiolevel.files import write_text
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.site_checks import check_readings, check_schedule, check_wanted
from audiolevel.sounds.propagation import Air
from audiolevel.triggers.trigger import MODES, Trigger

# 95 % of a calibration that does not say how good it is: a data sheet's (common practice)
UNKNOWN_CALIBRATION_DB = 3.0
# what an active test of the camera's gain may have found
GAIN_CONTROLS = ("not tested", "none found", "found")


@dataclass(frozen=True)
class Place:
    """Where people may be: a name and its distance from the microphone."""

    name: str
    distance_m: float


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
    `calibrated_on` is the day of the calibration.
    """

    spl_at_full_scale_db: float | None = None
    calibration_within_db: float | None = None
    self_noise_dba: float | None = None
    converter_noise_dbfs: float | None = None
    gain_control: str = "not tested"
    calibrated_on: date | None = None


@dataclass(frozen=True)
class GainSteps:
    """`[gain]`: the setting while recording, and what each setting amplifies, in dB.

    Settings are the camera's own numbers or names.
    """

    recorded_at: float | str | None = None
    steps: tuple[tuple[float | str, float], ...] = ()


@dataclass(frozen=True)
class Display:
    """`[display]`: pairs of what the camera showed and the level measured meanwhile."""

    readings: tuple[tuple[float, float], ...] = ()


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
        times = {
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
    """`[[wanted]]`: a sound to catch, by name or from a file, at a distance."""

    sound: str = ""
    file: str = ""
    distance_m: float = 10.0
    level_dba: float | None = None
    level_spread_db: float | None = None
    at_m: float = 1.0
    obstruction_db: float = 0.0


@dataclass(frozen=True)
class Storage:
    """`[storage]`: the card and what is written to it.

    `audio_codec` adds that codec's bit rate to `recording_mbit_s` (`planning.storage` has the
    names); `overhead_share` is what the file system, indexes and the camera's reserve take.
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
class Site:
    """A whole site file; every section has its defaults."""

    site: SiteSection = field(default_factory=SiteSection)
    microphone: Microphone = field(default_factory=Microphone)
    gain: GainSteps = field(default_factory=GainSteps)
    display: Display = field(default_factory=Display)
    trigger: TriggerSection = field(default_factory=TriggerSection)
    limits: Limits = field(default_factory=Limits)
    wanted: tuple[Wanted, ...] = ()
    place: tuple[Place, ...] = ()
    air: Air = field(default_factory=Air)
    storage: Storage = field(default_factory=Storage)
    schedule: ScheduleSection = field(default_factory=ScheduleSection)

    def gains_db(self) -> list[tuple[float | str | None, float]]:
        """Gains to consider: (setting, dB relative to the recording)."""
        if not self.gain.steps:
            # without a table of steps: 6 dB each, twice the amplitude, to 36 dB either way
            return [(None, float(gain)) for gain in range(-36, 37, 6)]
        at = self.recorded_step_db()
        return [(setting, gain - at) for setting, gain in self.gain.steps]

    def gain_db_of(self, setting: str) -> float:
        """A gain setting of the camera, in dB relative to the recording.

        Raises
        ------
        SettingError
            The site file has no such setting.
        """
        known = {setting_name(one): gain_db for one, gain_db in self.gains_db() if one is not None}
        if setting not in known:
            named = ", ".join(known) or "none; list them as gain.steps"
            raise SettingError(f"gain setting {setting}: the site file has {named}")
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
        return dict(self.gain.steps).get(self.gain.recorded_at, 0.0)


def setting_name(setting: float | str) -> str:
    """A gain setting as it is written: a name as it is, a number without needless zeros."""
    return setting if isinstance(setting, str) else f"{setting:g}"


# what a value must lie in: (lowest, highest), both allowed
_RANGES = {
    "distance_m": (0.01, 10_000.0),
    "at_m": (0.01, 10_000.0),
    "window_s": (0.01, 600.0),
    "hold_s": (0.0, 600.0),
    "rearm_s": (0.0, 86_400.0),
    "release_db": (0.0, 60.0),
    "false_triggers_per_day": (0.01, 8_640.0),
    "detection": (0.0, 1.0),
    "clipped_share": (0.0, 1.0),
    "days_kept": (0.0, 3_650.0),
    "card_gb": (0.001, 1e6),
    "recording_mbit_s": (1e-6, 1e4),
    "before_s": (0.0, 86_400.0),
    "after_s": (0.0, 86_400.0),
    "other_recording_share": (0.0, 1.0),
    "overhead_share": (0.0, 0.9),
    "temperature_c": (-20.0, 50.0),
    "humidity_percent": (1.0, 100.0),
    "pressure_kpa": (50.0, 120.0),
    "obstruction_db": (0.0, 100.0),
    "wet_share": (0.0, 1.0),
    "spl_at_full_scale_db": (40.0, 200.0),
    "calibration_within_db": (0.0, 20.0),
    "self_noise_dba": (0.0, 80.0),
    "converter_noise_dbfs": (-160.0, -20.0),
    "level_spread_db": (0.0, 20.0),
    "level_dba": (-20.0, 200.0),
}


def read_site(path: str | os.PathLike[str] | None) -> Site:
    """Read a site file; None gives the defaults.

    Raises
    ------
    SettingError
        The file is missing, is not TOML, or has a key or value that makes no sense.
    """
    if path is None:
        return Site()
    return _site_of_text(_text(Path(path)), Path(path))


def _text(where: Path) -> str:
    try:
        return where.read_text(encoding="utf-8")
    except OSError as error:
        raise SettingError(f"{where}: cannot be read ({error.strerror}); check the name") from error
    except UnicodeDecodeError as error:
        raise SettingError(f"{where}: is not text in UTF-8; save it as such") from error


def _site_of_text(text: str, where: Path) -> Site:
    try:
        table = tomllib.loads(text)
    # a number of more digits than Python reads is a plain ValueError
    except (ValueError, RecursionError) as error:
        raise SettingError(f"{where}: is not TOML: {error}") from error
    site: Site = _record(Site, table, str(where), "")
    _refuse_nonsense(site, str(where))
    try:
        _refuse_unknown(site, where.parent)
    except SettingError as error:
        raise SettingError(f"{where}: {error}") from error
    return site


def _refuse_unknown(site: Site, folder: Path) -> None:
    """Names that the file uses and nobody knows, whether or not they will be needed."""
    for one in site.wanted:
        check_wanted(one.sound, one.file, one.level_dba, folder)
    check_schedule(site.schedule.active, site.schedule.zone, site.schedule.traffic_by_hour)
    check_readings(site.display.readings)


def _record(kind: type[Any], table: object, where: str, section: str) -> Any:
    if not isinstance(table, Mapping):
        raise SettingError(f"{where}: [{section}] must be a section, not {table!r}")
    # annotations as types, even where they are written as text
    hints = get_type_hints(kind)
    known = [item.name for item in fields(kind)]
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1, cutoff=0.5)
            hint = f"did you mean {near[0]}?" if near else f"known here: {', '.join(known)}"
            place = f" in [{section}]" if section else ""
            raise SettingError(f"{where}: unknown key {key}{place}; {hint}")
    for item in fields(kind):
        needed = item.default is item.default_factory  # both are the same marker: no default
        if needed and item.name not in table:
            raise SettingError(f"{where}: [{section}] needs {item.name}")
    values = {
        key: _value(hints[key], value, where, f"{section}.{key}" if section else key)
        for key, value in table.items()
    }
    return kind(**values)


def _value(hint: Any, value: object, where: str, key: str) -> Any:
    if get_origin(hint) in (Union, UnionType):
        choices = [choice for choice in get_args(hint) if choice is not NoneType]
        # text stays text where the key allows it; else the first kind says what is wrong
        is_text = isinstance(value, str) and str in choices
        return _value(str if is_text else choices[0], value, where, key)
    if get_origin(hint) is tuple:
        return _sequence(get_args(hint), value, where, key)
    if hint is float:
        return _number(value, where, key)
    if hint is str:
        if not isinstance(value, str):
            raise SettingError(f"{where}: {key} must be text in quotes, not {value!r}")
        return value
    if hint is date:
        # of TOML's own kinds; a date-time is a date too, to Python
        if not isinstance(value, date) or isinstance(value, datetime):
            raise SettingError(f"{where}: {key} must be a date, as 2026-02-20 without quotes")
        return value
    # what is none of these is a section within the section
    return _record(hint, value, where, key)


def _sequence(kinds: tuple[Any, ...], value: object, where: str, key: str) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise SettingError(f"{where}: {key} must be a list, not {value!r}")
    if kinds[-1] is Ellipsis:
        return tuple(_value(kinds[0], item, where, key) for item in value)
    if len(value) != len(kinds):
        raise SettingError(f"{where}: {key} needs {len(kinds)} numbers in each pair: {value!r}")
    return tuple(_value(kind, item, where, key) for kind, item in zip(kinds, value, strict=True))


def _number(value: object, where: str, key: str) -> float:
    # Python takes TOML's true for 1; its nan and inf are numbers too
    if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
        raise SettingError(f"{where}: {key} must be a number, not {repr(value)[:40]}")
    # by the last part of the key: a name has one meaning in all sections
    low, high = _RANGES.get(key.rsplit(".", 1)[-1], (-1e9, 1e9))
    if not low <= value <= high:
        raise SettingError(f"{where}: {key} = {value:g} must lie between {low:g} and {high:g}")
    return float(value)


def _is_finite(value: float) -> bool:
    try:
        return isfinite(value)
    # a whole number of hundreds of digits
    except OverflowError:
        return False


def _refuse_nonsense(site: Site, where: str) -> None:
    try:
        kind_of(site.site.kind)
    except SettingError as error:
        raise SettingError(f"{where}: {error}") from error
    for mode in site.trigger.modes:
        if mode not in MODES:
            # a cutoff of 0 always finds one
            near = difflib.get_close_matches(mode, MODES, n=1, cutoff=0.0)
            raise SettingError(f"{where}: trigger.modes: no mode {mode!r}; did you mean {near[0]}?")
    if not site.trigger.modes:
        raise SettingError(f"{where}: trigger.modes is empty; choose from {', '.join(MODES)}")
    if site.microphone.gain_control not in GAIN_CONTROLS:
        raise SettingError(
            f"{where}: microphone.gain_control = {site.microphone.gain_control!r} must be one of "
            f"{', '.join(GAIN_CONTROLS)}"
        )
    at, settings = site.gain.recorded_at, [setting for setting, _ in site.gain.steps]
    if at is not None and settings and at not in settings:
        raise SettingError(
            f"{where}: gain.recorded_at = {setting_name(at)} is not one of the gain.steps"
        )
    # the second would silently take the place of the first
    if len(set(settings)) != len(settings):
        raise SettingError(f"{where}: gain.steps names a setting twice")
    for sound in site.wanted:
        # both or neither
        if bool(sound.sound) == bool(sound.file):
            raise SettingError(f"{where}: [[wanted]] needs a sound or a file, one of the two")
    flows = site.schedule.traffic_by_hour
    if not isinstance(flows, str) and flows and (len(flows) != 24 or min(flows) < 0):
        raise SettingError(f"{where}: schedule.traffic_by_hour needs 24 numbers, none below 0")


def add_keys(path: str | os.PathLike[str], sections: Mapping[str, Sequence[str]]) -> None:
    """Add keys to a site file, or make a new one; what is there is never touched.

    Parameters
    ----------
    path : path
    sections : mapping of str to sequence of str
        The lines of each section, `key = value`, by its name.

    Raises
    ------
    SettingError
        The file has one of the keys already (the message says the line), or is no site file.
    """
    where = Path(path)
    before = _text(where) if where.exists() else ""
    # refuse what is no site file before anything is added to it
    _site_of_text(before, where)
    present = tomllib.loads(before)
    for name, lines in sections.items():
        for line in lines:
            key = line.split("=")[0].strip()
            if key in present.get(name, {}):
                raise SettingError(f"{where}: has {name}.{key} already; to replace it put: {line}")
    text = before
    for name, lines in sections.items():
        text = _with_lines(text, name, lines)
    # what was added must be readable where it stands, or nothing is written
    _site_of_text(text, where)
    # all that was in it is still there, so whoever made it loses nothing: the mark of any file
    write_text(where, text, mark="")


def _with_lines(text: str, section: str, lines: Sequence[str]) -> str:
    """The text of a site file with lines in a section, made at the end where it is not there."""
    block = "\n".join(lines) + "\n"
    rows = text.splitlines(keepends=True)
    for i, row in enumerate(rows):
        # a comment may stand behind a header
        if row.split("#")[0].strip() == f"[{section}]":
            ended = "" if row.endswith("\n") else "\n"
            return "".join([*rows[: i + 1], ended, block, *rows[i + 1 :]])
    # one empty line between what was there and what is added
    gap = "\n" if text and not text.endswith("\n\n") else ""
    gap = "\n" + gap if text and not text.endswith("\n") else gap
    return f"{text}{gap}[{section}]\n{block}"
