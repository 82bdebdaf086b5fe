"""The visits in a site's folder: what a recorder left there, as it left it.

Sound files and level histories anywhere below `visits` are taken; files that a recorder has split
one recording into are joined where the times in their names say so. `[[visit]]` in the site file
says what the files do not.

Entry points: `visits_in`, `Found`, `FolderVisit`.
"""

import os
import time
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from audiolevel.folder.kept import Kept, content_of, key_of
from audiolevel.ground.errors import AudioLevelError, SettingError
from audiolevel.ground.files import SOUND_ENDINGS, VIDEO_ENDINGS
from audiolevel.metering.file_times import time_in_name
from audiolevel.metering.gain import Gains
from audiolevel.metering.level_log import LevelLog, LogForm, is_history
from audiolevel.metering.sound_files import open_recording
from audiolevel.metering.visit import Visit
from audiolevel.site.sections import Site, VisitSection

VISITS = "visits"
KEPT = ".measured"
MARKS_END = ".marks.csv"
# names tell whole seconds, and recorders take a moment to open the next file
_SAME_S = 2.0
# a file written so lately is looked at twice, that long apart, to see whether it grows
_LATELY_S, _LOOK_AGAIN_S = 10.0, 0.3


@dataclass(frozen=True, eq=False)
class FolderVisit(Visit):
    """A visit in a site's folder.

    Attributes
    ----------
    files : tuple of Path
        That hold its sound, or its levels.
    contents : mapping of Path to str
        What was in each of them, and in the file of its marks, when it was found.
    place : Path
        Where its measurements are kept.
    """

    files: tuple[Path, ...] = ()
    contents: Mapping[Path, str] = field(default_factory=dict)
    place: Path = Path()

    def kept(self, gains: Gains) -> Kept:
        """Where its measurement at these gains is kept, or will be."""
        return self._kept(gains, ["metering"])

    def kept_speech(self) -> Kept:
        """Where what a privacy review hears in it is kept, or will be."""
        return self._kept(None, ["metering", "privacy"])

    def _kept(self, gains: Gains | None, rooms: Sequence[str]) -> Kept:
        contents = [(path.name, self.contents[path]) for path in self.files]
        return Kept(self.place / key_of(self, contents, gains, rooms))


@dataclass(frozen=True)
class Found:
    """What was taken from a site's folder, and what was left out.

    Attributes
    ----------
    visits : tuple of FolderVisit
        In the order of their starts, then of their names.
    left_out : tuple of (str, str)
        A file below `visits`, and why.
    """

    visits: tuple[FolderVisit, ...]
    left_out: tuple[tuple[str, str], ...]


def visits_in(folder: Path, site: Site) -> Found:
    """The visits of a site.

    Parameters
    ----------
    folder : Path
        Of the site.
    site : Site
        Its site file.

    Raises
    ------
    SettingError
        A `[[visit]]` names a recording that is not there, or says something that cannot be.
    """
    below = folder / VISITS
    usable: list[Path] = []
    left_out: list[tuple[str, str]] = []
    contents: dict[Path, str] = {}
    seen: dict[str, str] = {}
    for path in _files(below):
        if path.name.endswith(MARKS_END):
            continue
        name = path.relative_to(below).as_posix()
        why = _why_not(path, site.visit)
        if not why:
            contents[path] = content_of(path)
            # a copy would count as a second visit that agrees wonderfully
            first = seen.setdefault(contents[path], name)
            why = "" if first == name else f"holds the same as {first}"
        if why:
            left_out.append((name, why))
        else:
            usable.append(path)
    said = [(_named(one, below, usable), one) for one in site.visit]
    taken = {path for paths, _ in said for path in paths}
    groups = [(paths, None) for paths in _joined(path for path in usable if path not in taken)]
    made = [_visit(paths, one, folder, contents) for paths, one in [*said, *groups]]
    made.sort(key=lambda one: (str(one.start or _begin(one.files[0]) or "~"), one.name))
    return Found(tuple(made), tuple(left_out))


def _files(below: Path) -> list[Path]:
    """All files of a folder by their path, without hidden ones."""
    found = []
    for where, folders, names in os.walk(below):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        found += [Path(where, name) for name in names if not name.startswith(".")]
    return sorted(found)


def _why_not(path: Path, sections: Sequence[VisitSection]) -> str:
    """Why a file is no part of a visit; empty for one that is."""
    if path.suffix.lower() not in SOUND_ENDINGS | VIDEO_ENDINGS and not is_history(path):
        return "is neither a sound nor a level history, by its name"
    if _grows(path):
        return "is still being written"
    columns = next((one for one in sections if Path(one.recording).name == path.name), None)
    try:
        if is_history(path):
            form = LogForm() if columns is None else _form(columns)
            LevelLog(path, form)
        else:
            open_recording(path)
    except AudioLevelError as error:
        # the path stands before it already
        why = str(error).removeprefix(f"{path}: ")
        return f"is no level history: {why}" if is_history(path) else why
    return ""


def _form(section: VisitSection) -> LogForm:
    return LogForm(section.level_column or None, section.time_column or None)


def _grows(path: Path) -> bool:
    before = path.stat()
    if abs(time.time() - before.st_mtime) > _LATELY_S:
        return False
    time.sleep(_LOOK_AGAIN_S)
    return path.stat().st_size != before.st_size


def _named(section: VisitSection, below: Path, usable: Sequence[Path]) -> list[Path]:
    """The files that a `[[visit]]` names: one, or those of a folder."""
    where = below / section.recording
    found = [path for path in usable if path == where or where in path.parents]
    if not found:
        raise SettingError(
            f"[[visit]] recording = {section.recording!r}: no recording of that name can be used "
            f"below {VISITS}"
        )
    return found


def _begin(path: Path) -> datetime | None:
    return time_in_name(f"{path.parent.name}/{path.name}")


def _joined(paths: Iterable[Path]) -> list[list[Path]]:
    """Files by the recording that they are of: one goes on where the one before it ends."""
    groups: list[list[Path]] = []
    ends: datetime | None = None
    for path in sorted(paths, key=lambda path: (path.parent, str(_begin(path) or "~"), path.name)):
        begin = _begin(path)
        follows = (
            bool(groups)
            and ends is not None
            and begin is not None
            and groups[-1][-1].parent == path.parent
            and abs((begin - ends).total_seconds()) <= _SAME_S
        )
        if follows:
            groups[-1].append(path)
        else:
            groups.append([path])
        # a history is never split so
        ends = None
        if begin is not None and not is_history(path):
            ends = begin + timedelta(seconds=open_recording(path).duration_s)
    return groups


def _visit(
    paths: Sequence[Path],
    section: VisitSection | None,
    folder: Path,
    contents: Mapping[Path, str],
) -> FolderVisit:
    one = VisitSection(recording=paths[0].name) if section is None else section
    marks = folder / VISITS / one.marks if one.marks else _marks_beside(paths[0])
    of_visit = {path: contents[path] for path in paths}
    if marks is not None and marks.is_file():
        of_visit[marks] = content_of(marks)
    wet = None if one.weather == "" else one.weather == "wet"
    try:
        return FolderVisit(
            paths[0] if len(paths) == 1 else list(paths),
            start=one.start or (None if _tells_itself(paths) else _begin(paths[0])),
            marks=marks or (),
            wet=wet,
            channel=one.channel,
            from_s=one.from_s,
            to_s=one.to_s,
            level_column=one.level_column or None,
            time_column=one.time_column or None,
            files=tuple(paths),
            contents=of_visit,
            place=folder / KEPT,
        )
    except SettingError as error:
        raise SettingError(f"{paths[0]}: {error}") from error


def _tells_itself(paths: Sequence[Path]) -> bool:
    """Whether the measurement finds the start by itself, and says from where."""
    first = paths[0]
    looks = len(paths) > 1 or first.suffix.lower() in VIDEO_ENDINGS or is_history(first)
    # a day's folder and a time for a name: the file alone does not know
    return looks and time_in_name(first.name) is not None


def _marks_beside(path: Path) -> Path | None:
    beside = path.with_name(f"{path.stem}{MARKS_END}")
    return beside if beside.is_file() else None
