"""A site file read, refused or added to.

It is TOML; an unknown key is refused with the name that was meant, a value of another form with an
example of the right one.

Entry points: `read_site`, `add_keys`, `check_number`, `check_sections`.
"""

import os
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass, replace
from datetime import date, datetime
from math import isfinite
from pathlib import Path
from types import NoneType, UnionType
from typing import Any, Union, get_args, get_origin, get_type_hints

from audiolevel.ground.errors import SettingError
from audiolevel.ground.files import write_text
from audiolevel.ground.names import hint
from audiolevel.ground.texts import read_text
from audiolevel.metering.gain import check_gain
from audiolevel.site.checks import check_codec, check_readings, check_schedule, check_wanted
from audiolevel.site.sections import FULL_SCALE_DB, GAIN_CONTROLS, Site, setting_name
from audiolevel.site.toml_faults import toml_fault
from audiolevel.triggers.trigger import MODES, RANGES

# what a value must lie in: (lowest, highest), both allowed
_RANGES = {
    **RANGES,
    "distance_m": (0.01, 10_000.0),
    "at_m": (0.01, 10_000.0),
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
    "raised_share": (0.0, 1.0),
    "shout_share": (0.0, 1.0),
    "spl_at_full_scale_db": FULL_SCALE_DB,
    "calibration_within_db": (0.0, 20.0),
    "self_noise_dba": (0.0, 80.0),
    "converter_noise_dbfs": (-160.0, -20.0),
    "high_cut_hz": (50.0, 20_000.0),
    "high_cut_db_per_octave": (6.0, 96.0),
    "level_spread_db": (0.0, 20.0),
    "level_dba": (-20.0, 200.0),
}
# every gain and wanted sound is tried at every setting; what else is listed is listed by hand
_MOST = {"steps": 32, "wanted": 20}
_MOST_ITEMS = 200
_MOST_BYTES = 1 << 20
# the right form of what is no single number or text
_FORMS = {
    "modes": 'modes = ["threshold", "rise"]',
    "active": 'active = ["mon-fri 18:00-07:00", "sat-sun 00:00-24:00"]',
    "steps": 'steps = [["low", -12], ["mid", 0], ["high", 12]]: setting, then dB',
    "readings": "readings = [[22, -52], [58, -38]]: number shown, then dB FS",
    "traffic_by_hour": "24 flows from midnight on, or 'published'",
    "gain_control": 'gain_control = "none found"',
    "wanted": "[[wanted]] with two brackets",
    "place": "[[place]] with two brackets",
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
    where = Path(path)
    return replace(_site_of_text(read_text(where, most=_MOST_BYTES), where), folder=where.parent)


def _site_of_text(text: str, where: Path) -> Site:
    try:
        table = tomllib.loads(text)
    # a number of more digits than Python reads is a plain ValueError
    except (ValueError, RecursionError) as error:
        raise SettingError(f"{where}: {toml_fault(text, str(error))}") from error
    site: Site = _record(Site, table, str(where), "")
    _refuse_nonsense(site, str(where))
    try:
        _refuse_unknown(site, where.parent)
    except SettingError as error:
        raise SettingError(f"{where}: {error}") from error
    return site


def check_site(site: Site) -> None:
    """Refuse a site made in Python that no file could say.

    Raises
    ------
    SettingError
        A key or value that makes no sense.
    """
    _refuse_nonsense(_record(Site, _table(site), "Site", ""), "Site")
    _refuse_unknown(site, site.folder)


def _table(value: Any) -> Any:
    """A section as its file would have it, without what is not known."""
    if isinstance(value, tuple | list):
        return [_table(one) for one in value]
    if not is_dataclass(value):
        return value
    held = {one.metadata.get("key", one.name): getattr(value, one.name) for one in fields(value)}
    return {key: _table(one) for key, one in held.items() if key and one is not None}


def _refuse_unknown(site: Site, folder: Path | None) -> None:
    """Names that the file uses and nobody knows, whether or not they will be needed."""
    for one in site.wanted:
        check_wanted(one.sound, one.file, one.level_dba, folder)
    for place in site.place:
        if place.voices is not None and place.voices["normal"] < 0:
            raise SettingError("place: raised_share and shout_share must be 1 at most together")
    for visit in site.visit:
        if visit.weather not in ("", "dry", "wet"):
            raise SettingError(f"visit.weather = {visit.weather!r}: must be dry or wet")
    check_schedule(site.schedule.active, site.schedule.zone, site.schedule.traffic_by_hour)
    check_readings(site.display.readings)
    check_codec(site.storage.audio_codec)


def _record(kind: type[Any], table: object, where: str, section: str) -> Any:
    if not isinstance(table, Mapping):
        raise SettingError(f"{where}: [{section}] must be a section, not {table!r}")
    # annotations as types, even where they are written as text
    hints = get_type_hints(kind)
    names = {item.metadata.get("key", item.name): item.name for item in fields(kind)}
    known = [key for key in names if key]
    for key in table:
        if key not in known:
            place = f" in [{section}]" if section else ""
            raise SettingError(f"{where}: unknown key {key}{place}; {hint(key, known)}")
    for item in fields(kind):
        needed = item.default is item.default_factory  # both are the same marker: no default
        if needed and item.name not in table:
            example = "'bench'" if hints[item.name] is str else 10
            form = _form(item.name, f"{item.name} = {example}")
            raise SettingError(f"{where}: [[{section}]] needs {item.name}; {form}")
    values = {
        names[key]: _value(hints[names[key]], value, where, f"{section}.{key}" if section else key)
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
            # text may be one of the list's: its form is that of the list
            form = _form(key, f'{_last(key)} = "{value}"')
            raise SettingError(f"{where}: {key} must be text in quotes, not {value!r}; {form}")
        return value
    if hint is bool:
        if not isinstance(value, bool):
            form = _form(key, f"{_last(key)} = true")
            raise SettingError(f"{where}: {key} must be true or false, not {value!r}; {form}")
        return value
    if hint is int:
        number = _number(value, where, key)
        if number != int(number) or number < 1:
            raise SettingError(f"{where}: {key} must be a whole number from 1, not {value!r}")
        return int(number)
    if hint is datetime:
        try:
            return value if isinstance(value, datetime) else datetime.fromisoformat(str(value))
        except ValueError:
            raise SettingError(
                f"{where}: {key} must be a date and time, as 2026-02-20T09:30:00, not {value!r}"
            ) from None
    if hint is date:
        # of TOML's own kinds; a date-time is a date too, to Python
        if not isinstance(value, date) or isinstance(value, datetime):
            raise SettingError(f"{where}: {key} must be a date, as 2026-02-20 without quotes")
        return value
    # what is none of these is a section within the section
    return _record(hint, value, where, key)


def _sequence(kinds: tuple[Any, ...], value: object, where: str, key: str) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise SettingError(f"{where}: {key} must be a list, not {value!r}; {_form(key)}")
    if kinds[-1] is Ellipsis:
        # by the last part of the key, as for numbers
        if len(value) > (most := _MOST.get(key.rsplit(".", 1)[-1], _MOST_ITEMS)):
            raise SettingError(f"{where}: {key} has {len(value):,} entries; give at most {most}")
        return tuple(_value(kinds[0], item, where, key) for item in value)
    if len(value) != len(kinds):
        raise SettingError(f"{where}: {key} needs pairs, not {value!r}; {_form(key)}")
    if key == "gain.steps" and isinstance(value[1], str) and not isinstance(value[0], str):
        raise SettingError(
            f"{where}: {key}: {value!r} has its dB first; the setting comes first: "
            f'["{value[1]}", {value[0]}]'
        )
    return tuple(_value(kind, item, where, key) for kind, item in zip(kinds, value, strict=True))


def _form(key: str, otherwise: str = "") -> str:
    """The right form of a key's value."""
    return f"write {_FORMS.get(_last(key), otherwise)}"


def _last(key: str) -> str:
    return key.rsplit(".", 1)[-1]


def _number(value: object, where: str, key: str) -> float:
    # by the last part of the key: a name has one meaning in all sections
    return check_number(value, f"{where}: {key}", _last(key))


def check_number(value: object, said: str, key: str) -> float:
    """A number that a key may hold, from wherever it comes.

    Parameters
    ----------
    value : object
    said : str
        What it is called where it comes from.
    key : str
        Of any section.

    Raises
    ------
    SettingError
        It is no number, or none that the key may hold.
    """
    # Python takes TOML's true for 1; its nan and inf are numbers too
    if isinstance(value, bool) or not isinstance(value, int | float) or not _is_finite(value):
        within = re.search(r"[-+]?\d+([.,]\d+)?", value) if isinstance(value, str) else None
        example = f" = {within[0].replace(',', '.')}, without quotes" if within else " = 10, say"
        form = _form(key, f"{key}{example}")
        raise SettingError(f"{said} must be a number, not {repr(value)[:40]}; {form}")
    low, high = _RANGES.get(key, (-1e9, 1e9))
    if not low <= value <= high:
        share = f"; {value:g} % is {value / 100:g}" if high == 1.0 < value <= 100 else ""
        raise SettingError(f"{said} = {value:g} must lie between {low:g} and {high:g}{share}")
    return float(value)


def check_sections(sections: Mapping[str, Sequence[str]], said: str) -> None:
    """Refuse lines for a site file that could not be read from one.

    Parameters
    ----------
    sections : mapping of str to sequence of str
        As for `add_keys`.
    said : str
        Where they come from.

    Raises
    ------
    SettingError
        The first key whose value makes no sense.
    """
    text = ""
    for name, lines in sections.items():
        text = _with_lines(text, name, lines)
    _site_of_text(text, Path(said))


def _is_finite(value: float) -> bool:
    try:
        return isfinite(value)
    # a whole number of hundreds of digits
    except OverflowError:
        return False


def _refuse_nonsense(site: Site, where: str) -> None:
    for mode in site.trigger.modes:
        if mode not in MODES:
            # most cameras call a threshold a level
            meant = "threshold" if mode.casefold() in ("level", "absolute") else mode
            said = hint(meant, MODES)
            raise SettingError(f"{where}: trigger.modes: no mode {mode!r}; {said}")
    if not site.trigger.modes:
        raise SettingError(f"{where}: trigger.modes is empty; choose from {', '.join(MODES)}")
    if site.microphone.gain_control not in GAIN_CONTROLS:
        raise SettingError(
            f"{where}: microphone.gain_control = {site.microphone.gain_control!r} must be one of "
            f"{', '.join(GAIN_CONTROLS)}"
        )
    settings = [setting_name(setting) for setting, _ in site.gain.steps]
    at = None if site.gain.recorded_at is None else setting_name(site.gain.recorded_at)
    if at is not None and settings and at not in settings:
        steps = [gain_db for _, gain_db in site.gain.steps]
        said = hint(at, settings, otherwise=f"they have {', '.join(settings)}")
        # what was recorded at stands among the gains: the pairs are the wrong way round
        said = _form("steps") if at in map(setting_name, steps) else said
        raise SettingError(f"{where}: gain.recorded_at = {at} is not one of the gain.steps; {said}")
    # the second would silently take the place of the first
    if len(set(settings)) != len(settings):
        raise SettingError(f"{where}: gain.steps names a setting twice; leave one of the two")
    for setting, gain_db in site.gains_db():
        # None: without steps there is nothing to refuse
        if setting is not None:
            check_gain(gain_db, f"{where}: gain.steps: {setting_name(setting)} at")
    for sound in site.wanted:
        # both or neither
        if bool(sound.sound) == bool(sound.file):
            raise SettingError(
                f"{where}: [[wanted]] needs a sound or a file, one of the two; "
                'write sound = "breaking glass"'
            )
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
    before = read_text(where, most=_MOST_BYTES) if os.path.exists(where) else ""
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
