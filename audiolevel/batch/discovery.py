"""The recordings of a folder, with what a manifest and site files say of each.

A recording belongs to the site of the nearest `site.toml` above it, and where there is none, to the
topmost folder below the batch's own; its name is that folder's. What the files themselves do not
say stands in a manifest, a CSV with the column `path` (relative to the folder) and any of `start`,
`gain_setting`, `site`, `channel`, `from_s`, `to_s`, `expect`.

Entry points: `find_items`, `Selection`, `Item`.
"""

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from fnmatch import fnmatch
from math import isfinite
from pathlib import Path

from audiolevel.ground.errors import SettingError
from audiolevel.ground.files import SOUND_ENDINGS, VIDEO_ENDINGS
from audiolevel.ground.names import hint, printable
from audiolevel.ground.tables import table_of
from audiolevel.metering.parts import ALL, Part, moment_of, place_s
from audiolevel.metering.visit import AnyPath, Visit
from audiolevel.site.sections import Site, setting_name
from audiolevel.site.site_file import read_site

SITE_FILE = "site.toml"
_FORM = "path,start and what else of it is known, and rows like visit1.wav,2026-03-20T08:00"
_ENDINGS = SOUND_ENDINGS | VIDEO_ENDINGS
_MOST_ROWS = 200_000
COLUMNS = ("path", "start", "gain_setting", "site", "channel", "from_s", "to_s", "expect")


@dataclass(frozen=True)
class Item:
    """A recording to measure.

    Attributes
    ----------
    path : str
        Relative to the folder, with forward slashes, as it is shown (`names.printable`).
    site : str
        The name that recordings are brought together under.
    site_file : str or None
        Path of the site file that holds for it.
    start : datetime or None
        When the recording began.
    gain_setting : float, str or None
        On the camera's own scale, a number or a name.
    channel : int or None
        From 1; None takes the mean square of all.
    part : Part
        What of it is measured.
    closed : str
        Why nothing of it can be measured, where it is no recording but a folder that cannot be
        looked into; else "".
    file : str
        The path as it opens the file, where that is no text; else "".
    fails : bool
        Whether it is known that it cannot be measured.
    """

    path: str
    site: str
    site_file: str | None = None
    start: datetime | None = None
    gain_setting: float | str | None = None
    channel: int | None = None
    part: Part = ALL
    closed: str = ""
    file: str = ""
    fails: bool = False

    def within(self, folder: str | os.PathLike[str]) -> Path:
        """The file itself."""
        return Path(folder) / (self.file or self.path)

    def visit(self, folder: str | os.PathLike[str]) -> Visit:
        """The file with what is known of it."""
        return Visit(
            self.within(folder),
            start=self.start,
            channel=self.channel,
            from_s=self.part.from_s,
            to_s=self.part.to_s,
        )


@dataclass(frozen=True)
class Selection:
    """Which recordings of a folder, and what is said of them.

    Attributes
    ----------
    include, exclude : sequences of str
        Patterns (`*.flac`, `night/*`) of paths relative to the folder; nothing included is all.
    manifest : path or None
        CSV with `path` and any of `COLUMNS`.
    site : path or None
        Site file of all recordings that have none of their own.
    channel : int or None
        Used where the manifest says nothing; from 1.
    """

    include: Sequence[str] = ()
    exclude: Sequence[str] = ()
    manifest: AnyPath | None = None
    site: AnyPath | None = None
    channel: int | None = None


ALL_THERE = Selection()


def find_items(folder: AnyPath, chosen: Selection = ALL_THERE) -> list[Item]:
    """Every recording below a folder, sound or video, in the order of their paths.

    A folder that cannot be looked into is an item too: what may lie in it must not be passed over
    in silence. A pattern of `exclude` that matches it, or `it/`, leaves it out.

    Parameters
    ----------
    folder : path
    chosen : Selection

    Returns
    -------
    list of Item

    Raises
    ------
    SettingError
        The folder, manifest or a site file cannot be read, the manifest names a file that is not
        there or has a column that is none of its own, or a site file has a key or value that makes
        no sense.
    """
    root = Path(folder)
    # not Path.is_dir, which fails where it may not look
    if not os.path.isdir(root):
        raise SettingError(f"{root}: is no folder; name the folder that holds the recordings")
    manifest, site_file = chosen.manifest, None if chosen.site is None else str(chosen.site)
    known = {} if manifest is None else _read_manifest(Path(manifest))
    sites = _Sites(root, site_file)
    sounds, closed = _sounds(root)
    items = []
    for path, why in closed.items():
        name = printable(path.relative_to(root).as_posix())
        # a manifest may name what lies in it
        known = {one: row for one, row in known.items() if not one.startswith(_slashed(f"{name}/"))}
        if not any(
            fnmatch(one, pattern) for one in (name, f"{name}/") for pattern in chosen.exclude
        ):
            items.append(Item(name, sites.of(path.parent)[0], closed=why))
    for path in sounds:
        own = path.relative_to(root).as_posix()
        name = printable(own)
        # what is left over at the end is named by the manifest but not in the folder
        row = known.pop(_slashed(name), {})
        included = not chosen.include or any(fnmatch(name, one) for one in chosen.include)
        if not included or any(fnmatch(name, one) for one in chosen.exclude):
            continue
        site, file = sites.of(path.parent)
        item = _item(name, row, row.get("site") or site, file, chosen.channel, str(manifest))
        items.append(item if name == own else replace(item, file=own))
    if known:
        missing = sorted(known)[0]
        raise SettingError(f"{manifest}: names {missing}, which is not in {root}; mend the path")
    # before anything is measured: a slip in one of them must not cost hours
    named = {site_file, *(item.site_file for item in items)}
    known_sites = {one: read_site(one) for one in sorted(one for one in named if one is not None)}
    for item in items:
        _refuse_setting(item, known_sites.get(item.site_file or ""), manifest)
    # the system lists files in any order; results come in that of their paths
    return sorted(items, key=lambda item: Path(item.path))


def _refuse_setting(item: Item, site: Site | None, manifest: AnyPath | None) -> None:
    """A setting that the site's steps do not have is a slip of the pen."""
    setting = item.gain_setting
    if setting is None or site is None or not site.gain.steps or setting == site.gain.recorded_at:
        return
    try:
        site.gain_db_of(setting_name(setting))
    except SettingError as error:
        raise SettingError(f"{manifest}: {item.path}: {error}") from error


def _sounds(root: Path) -> tuple[list[Path], dict[Path, str]]:
    """Sound files below a folder, and the folders that cannot be looked into, with the reason."""
    found, closed = [], {}

    def keep(error: OSError) -> None:
        closed[Path(error.filename)] = error.strerror or "no reason given"

    for parent, folders, files in os.walk(root, onerror=keep):
        # in place, which keeps os.walk from going into hidden folders
        folders[:] = [name for name in folders if not name.startswith(".")]
        found += [
            Path(parent) / name
            for name in files
            if Path(name).suffix.lower() in _ENDINGS and not name.startswith(".")
        ]
    if root in closed:
        raise SettingError(f"{root}: cannot be read ({closed[root]}); check its permissions")
    return found, closed


class _Sites:
    """The nearest site file of each folder, looked up once."""

    def __init__(self, root: Path, default: str | None) -> None:
        self._root = root
        self._known: dict[Path, tuple[str, str | None]] = {}
        self._default = default

    def of(self, folder: Path) -> tuple[str, str | None]:
        if folder not in self._known:
            # once a folder, and its parents by the way
            self._known[folder] = self._look(folder)
        return self._known[folder]

    def _look(self, folder: Path) -> tuple[str, str | None]:
        within = folder.relative_to(self._root)
        own = folder / SITE_FILE
        # not Path.is_file, which fails where it may not look
        if os.path.isfile(own):
            return self._name(within), str(own)
        # no further up: a site file above the folder is for another job
        if folder == self._root:
            return self._name(within), self._default
        site, file = self.of(folder.parent)
        # no site file above it: what lies in one of the topmost folders belongs together, and
        # what lies in two does not
        if file is None or file == self._default:
            return printable(within.parts[0]), self._default
        return site, file

    def _name(self, within: Path) -> str:
        """A folder's name as that of a site; the root has its own."""
        if within.parts:
            return printable(within.as_posix())
        # "" where the root is given as "."
        name = self._root.resolve().name
        # a folder in it may have the same name, and is another site
        return printable(f"{name}/" if os.path.isdir(self._root / name) else name)


def _read_manifest(path: Path) -> dict[str, dict[str, str]]:
    header, *table = table_of(path, f"a manifest is {_FORM}", _MOST_ROWS)
    _refuse_columns(path, header)
    rows: dict[str, dict[str, str]] = {}
    for number, cells in enumerate(table, 1):
        if len(cells) > len(header):
            raise SettingError(f"{path}: row {number}: has more cells than the header; mend it")
        row = dict(zip(header, cells, strict=False))
        name = _slashed(row["path"])
        if name in rows:
            raise SettingError(f"{path}: row {number}: names {name} twice")
        rows[name] = row
    return rows


def _slashed(name: str) -> str:
    # manifests written on Windows have backslashes
    return name.replace("\\", "/")


def _refuse_columns(path: Path, names: Sequence[str]) -> None:
    if "path" not in names:
        raise SettingError(f"{path}: no column path; a manifest is {_FORM}")
    for name in names:
        if name not in COLUMNS:
            # a column that is passed over would look as if it had been heard
            raise SettingError(f"{path}: unknown column {name!r}; {hint(name, COLUMNS)}")
        if names.count(name) > 1:
            raise SettingError(f"{path}: has the column {name} twice; leave one out")


def _item(
    name: str,
    row: Mapping[str, str],
    site: str,
    site_file: str | None,
    channel: int | None,
    manifest: str,
) -> Item:
    try:
        return Item(
            path=name,
            site=site,
            site_file=site_file,
            # an empty cell is as good as no column
            start=moment_of(row.get("start") or None, "start"),
            gain_setting=_setting(row["gain_setting"]) if row.get("gain_setting") else None,
            channel=_channel(row["channel"]) if row.get("channel") else channel,
            part=_part(row.get("from_s"), row.get("to_s")),
            fails=_fails(row.get("expect")),
        )
    except ValueError as error:
        raise SettingError(f"{manifest}: {name}: {error}; mend that row") from error


def _setting(text: str) -> float | str:
    """A gain setting: a number, or else a name."""
    try:
        number = float(text)
    except ValueError:
        return text
    if not isfinite(number):
        raise ValueError(f"gain_setting {text} is no setting")
    return number


def _part(begin: str | None, end: str | None) -> Part:
    from_s = place_s(begin) if begin else None
    to_s = place_s(end) if end else None
    if to_s is not None and to_s <= (from_s or 0.0):
        raise ValueError(f"to_s {end} does not lie after from_s {begin or 0}")
    return Part(from_s, to_s)


def _fails(text: str | None) -> bool:
    if text and text != "fails":
        raise ValueError(f"expect {text!r} is not fails, and nothing else is expected")
    return bool(text)


def _channel(text: str) -> int | None:
    if text == "mean":
        return None
    if not text.isdecimal() or int(text) < 1:
        raise ValueError(f"channel {text!r} is neither mean nor a channel from 1")
    return int(text)
