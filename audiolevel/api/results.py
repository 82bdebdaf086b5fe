"""What every result of the API can do: be read, be written as JSON, be saved into a folder."""

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import fields
from os import PathLike
from pathlib import Path
from typing import Any, TypeVar

from audiolevel.errors import SettingError
from audiolevel.files import write_text
from audiolevel.metering.level_log import LogForm
from audiolevel.metering.parts import Part
from audiolevel.records import Object, json_text
from audiolevel.site import Site, read_site

AnyPath = str | PathLike[str]
Advance = Callable[[int], object]
# given a recording's path, a context in which milliseconds measured are told; None is quiet
Progress = Callable[[str], AbstractContextManager[Advance | None]]

Base = TypeVar("Base")


class Result:
    """A result of the API."""

    #: stem of the files that `save` writes
    _stem = "result"

    def to_object(self) -> Object:
        """The result as dictionaries, lists and numbers: what the JSON holds."""
        raise NotImplementedError

    def to_text(self) -> str:
        """The result in lines of 80 columns."""
        raise NotImplementedError

    def to_json(self) -> str:
        """The result as JSON."""
        return json_text(self.to_object())

    def save_json(self, path: AnyPath) -> Path:
        """Write the JSON to a file."""
        write_text(path, self.to_json())
        return Path(path)

    def save(self, folder: AnyPath) -> list[Path]:
        """Write text, JSON and pictures into a folder, which is made if it is not there.

        Returns
        -------
        list of Path
            The files written.

        Raises
        ------
        SettingError
            The folder cannot be made or written.
        """
        where = made_folder(folder)
        files = [where / f"{self._stem}.json", where / f"{self._stem}.txt"]
        write_text(files[0], self.to_json())
        write_text(files[1], self.to_text() + "\n")
        return [*files, *self._save_pictures(where)]

    def _save_pictures(self, where: Path) -> list[Path]:
        return []


def made_folder(path: AnyPath) -> Path:
    """The folder to write into, made if it is not there."""
    where = Path(path)
    try:
        where.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SettingError(
            f"{where}: is no folder that can be written ({error.strerror}); choose another"
        ) from error
    return where


def site_of(site: Site | AnyPath | None) -> tuple[Site, Path | None]:
    """A site, and the folder that the files it names are relative to."""
    if isinstance(site, Site):
        return site, None
    # no file: the defaults, and nothing to be relative to
    return read_site(site), None if site is None else Path(site).parent


def quiet(_: str) -> AbstractContextManager[Advance | None]:
    """Progress that is told nobody."""
    return nullcontext(None)


def as_kind(kind: type[Base], base: Any, **more: Any) -> Base:
    """A domain record as the class of the API that adds what can be done with it."""
    # fields only, not `asdict`, which would copy every array inside
    values = {one.name: getattr(base, one.name) for one in fields(base)}
    return kind(**values, **more)


def parts_of(
    from_s: Sequence[float | None], to_s: Sequence[float | None], recordings: Sequence[Any]
) -> list[Part]:
    """The part of each recording that is looked at.

    Raises
    ------
    SettingError
        Not one for each recording, or times out of order.
    """
    begins, ends = each_of(from_s, recordings, "from_s"), each_of(to_s, recordings, "to_s")
    return [Part(begin, end) for begin, end in zip(begins, ends, strict=True)]


def form_of(site: Site, level_column: str | None, time_column: str | None) -> LogForm:
    """How to read the level histories of a site."""
    return LogForm(level_column, time_column, site.microphone.spl_at_full_scale_db)


def each_of(values: Sequence[Any], recordings: Sequence[Any], name: str) -> list[Any]:
    """One value for each recording; None for each where no values are given."""
    if not values:
        return [None] * len(recordings)
    if len(values) != len(recordings):
        raise SettingError(
            f"{name}: {len(values)} for {len(recordings)} recordings; give one for each"
        )
    return list(values)
