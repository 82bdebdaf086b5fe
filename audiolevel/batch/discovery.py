"""The recordings of a folder, with what a manifest and site files say of each.

A recording belongs to the site of the nearest `site.toml` above it; its name is that folder's. What
the files themselves do not say stands in a manifest, a CSV with the column `path` (relative to the
folder) and any of `start`, `gain_setting`, `site`, `channel`.

Entry points: `find_items`, `Item`.
"""

import csv
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from fnmatch import fnmatch
from pathlib import Path

from audiolevel.errors import SettingError

SOUND_ENDINGS = frozenset(
    {".wav", ".wave", ".rf64", ".w64", ".flac", ".ogg", ".oga", ".opus", ".mp3"}
    | {".aif", ".aiff", ".au", ".caf"}
)
SITE_FILE = "site.toml"


@dataclass(frozen=True)
class Item:
    """A recording to measure.

    Attributes
    ----------
    path : str
        Relative to the folder, with forward slashes.
    site : str
        The name that recordings are brought together under.
    site_file : str or None
        Path of the site file that holds for it.
    start : datetime or None
        When the recording began.
    gain_setting : float or None
        On the camera's own scale.
    channel : int or None
        From 1; None takes the mean square of all.
    """

    path: str
    site: str
    site_file: str | None = None
    start: datetime | None = None
    gain_setting: float | None = None
    channel: int | None = None


def find_items(
    folder: str | os.PathLike[str],
    *,
    include: Sequence[str] = (),
    exclude: Sequence[str] = (),
    manifest: str | os.PathLike[str] | None = None,
    site_file: str | None = None,
    channel: int | None = None,
) -> list[Item]:
    """Every recording below a folder, in the order of their paths.

    Parameters
    ----------
    folder : path
    include, exclude : sequences of str
        Patterns (`*.flac`, `night/*`) of paths relative to the folder; nothing included is all.
    manifest : path or None
    site_file : str or None
        Used where no folder has its own.
    channel : int or None
        Used where the manifest says nothing.

    Returns
    -------
    list of Item

    Raises
    ------
    SettingError
        The folder or manifest cannot be read, or the manifest names a file that is not there.
    """
    root = Path(folder)
    if not root.is_dir():
        raise SettingError(f"{root}: is no folder; name the folder that holds the recordings")
    known = {} if manifest is None else _read_manifest(Path(manifest))
    sites = _Sites(root, site_file)
    items = []
    # the system lists files in any order; results come in that of their paths
    for path in sorted(_sounds(root)):
        name = path.relative_to(root).as_posix()
        # what is left over at the end is named by the manifest but not in the folder
        row = known.pop(name, {})
        chosen = not include or any(fnmatch(name, pattern) for pattern in include)
        if not chosen or any(fnmatch(name, pattern) for pattern in exclude):
            continue
        site, file = sites.of(path.parent)
        items.append(_item(name, row, row.get("site") or site, file, channel, str(manifest)))
    if known:
        missing = sorted(known)[0]
        raise SettingError(f"{manifest}: names {missing}, which is not in {root}; mend the path")
    return items


def _sounds(root: Path) -> list[Path]:
    found = []
    for parent, folders, files in os.walk(root):
        # in place, which keeps os.walk from going into hidden folders
        folders[:] = [name for name in folders if not name.startswith(".")]
        found += [
            Path(parent) / name
            for name in files
            if Path(name).suffix.lower() in SOUND_ENDINGS and not name.startswith(".")
        ]
    return found


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
        own = folder / SITE_FILE
        if own.is_file():
            name = folder.relative_to(self._root).as_posix()
            return (self._root.name if name == "." else name), str(own)
        # no further up: a site file above the folder is for another job
        if folder == self._root:
            return self._root.name, self._default
        return self.of(folder.parent)


def _read_manifest(path: Path) -> dict[str, dict[str, str]]:
    try:
        with path.open(newline="", encoding="utf-8") as file:
            reader = csv.DictReader(file)
            if "path" not in (reader.fieldnames or []):
                raise SettingError(f"{path}: no column path; see docs/batch.md")
            # manifests written on Windows have backslashes
            return {row["path"].replace("\\", "/"): row for row in reader}
    except (OSError, UnicodeDecodeError) as error:
        raise SettingError(f"{path}: cannot be read as text; check the name") from error


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
            start=datetime.fromisoformat(row["start"]) if row.get("start") else None,
            gain_setting=float(row["gain_setting"]) if row.get("gain_setting") else None,
            channel=int(row["channel"]) if row.get("channel") else channel,
        )
    except ValueError as error:
        raise SettingError(f"{manifest}: {name}: {error}; mend that row") from error
