"""What every result of the API can do: be read, be written as JSON, be saved into a folder."""

import functools
import os
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING, Any, ParamSpec, Self, TypeVar

from audiolevel.api.redacting import redacted
from audiolevel.ground.errors import SettingError
from audiolevel.ground.files import Run, json_mark, text_mark, write_text, writing
from audiolevel.ground.records import Object, json_text
from audiolevel.metering.level_history import COARSE_MARK, MARK
from audiolevel.metering.visit import AnyPath
from audiolevel.report import text
from audiolevel.report.document import Document
from audiolevel.report.html import fragment
from audiolevel.site.sections import NO_KEY, Site
from audiolevel.site.site_file import check_site, read_site
from audiolevel.version import __version__

if TYPE_CHECKING:
    from audiolevel.report.figures import Axes, Picture

# given what is done and all there is: seconds of sound, or files of a folder; raising cancels
Progress = Callable[[float, float], object]

Base = TypeVar("Base")
Given = ParamSpec("Given")


class Result:
    """A result of the API."""

    #: stem of the files that `save` writes
    _stem = "result"

    def __repr__(self) -> str:
        return f"<{type(self).__name__}: {self.document().title}>"

    def to_object(self) -> Object:
        """The result as dictionaries, lists and numbers: what the JSON holds."""
        raise NotImplementedError

    def document(self) -> Document:
        """What the result has to say; text, Markdown and pages are renderings of it."""
        raise NotImplementedError

    def redacted(self) -> Self:
        """The same without names of files, moments and hours of the day, to be shared."""
        return redacted(self)

    def to_text(self) -> str:
        """All of the result in lines of 80 columns."""
        return text.whole(self.document())

    def to_brief(self, rest: str = "the full text") -> str:
        """The most important of the result in at most 20 lines of 80 columns.

        Parameters
        ----------
        rest : str
            Where all that is left out can be read.
        """
        return text.brief(self.document(), rest)

    def _repr_html_(self) -> str | None:
        """The result in a notebook."""
        return fragment(self.document())

    def to_json(self) -> str:
        """The result as JSON, which names the command that writes it."""
        return json_text(marked(self.to_object(), self._stem))

    def save_json(self, path: AnyPath, *, force: bool = False) -> Path:
        """Write the JSON to a file.

        Parameters
        ----------
        path : path
        force : bool
            Replace a file that another command, or somebody else, has made.

        Raises
        ------
        AudioLevelError
            It cannot be written, or would replace something else.
        """
        with writing(force=force):
            write_text(path, self.to_json(), json_mark(self._stem))
        return Path(path)

    def save(self, folder: AnyPath, *, force: bool = False, page: bool = True) -> list[Path]:
        """Write text, JSON, pictures and a page into a folder, which is made if it is not there.

        Parameters
        ----------
        folder : path
        force : bool
            As in `save_json`.
        page : bool
            Whether to write the page, one HTML file, too.

        Returns
        -------
        list of Path
            The files written.

        Raises
        ------
        AudioLevelError
            The folder cannot be made or written, or holds something else of the same name.
        """
        where = made_folder(folder)
        files = [where / f"{self._stem}.json", where / f"{self._stem}.txt"]
        mark = text_mark(self._stem)
        with writing(force=force) as run:
            # all of them before the first is written: no half of a set
            check_saved(run, where, self._stem)
            # worked out once, for the file and the page; so are the pictures
            values = self.to_object()
            write_text(files[0], json_text(marked(values, self._stem)), json_mark(self._stem))
            write_text(files[1], f"{self.to_text()}\n\n{mark}\n", mark)
            pictures = self._pictures()
            files += self._save_pictures(where, pictures)
            # not every command has a page
            made = self._page(values, pictures) if page else ""
            if made:
                files.append(where / f"{self._stem}.html")
                write_text(files[-1], made, mark)
            return files

    @property
    def pictures(self) -> tuple[str, ...]:
        """Names of what `plot` can draw."""
        return tuple(self._pictures())

    def plot(self, ax: "Axes | None" = None, *, picture: str | None = None) -> "Axes":
        """Draw one of `pictures`, the first by default.

        Parameters
        ----------
        ax : Axes, optional
            Of matplotlib; by default those of a new figure.
        picture : str, optional
            Its name.

        Raises
        ------
        SettingError
            There is no such picture.
        """
        # imported here: matplotlib takes long to load and only pictures need it
        from audiolevel.report.figures import drawn_on

        drawn = self._pictures()
        name = next(iter(drawn), "") if picture is None else picture
        if name not in drawn:
            raise SettingError(f"picture {name!r}: there is {', '.join(drawn) or 'none'} to draw")
        return drawn_on(drawn[name], ax)

    def _pictures(self) -> "dict[str, Picture]":
        """What there is to draw, by the stem of its file."""
        return {}

    def _save_pictures(self, where: Path, pictures: "Mapping[str, Picture]") -> list[Path]:
        # imported here: matplotlib takes long to load and only pictures need it
        from audiolevel.report import figures

        files = [where / f"{stem}.png" for stem in pictures]
        for file, picture in zip(files, pictures.values(), strict=True):
            figures.save(picture, file, self._stem)
        return files

    def _page(self, values: Object, pictures: "Mapping[str, Picture]") -> str:
        """The result as one HTML file; empty where the command has none."""
        return ""


# what `save` writes, where it is more than the JSON and the text
_PICTURES = {
    "trial": ("trial.png", "trial.alt.txt", "trial.html"),
    "plan": (
        *("plan.png", "plan.alt.txt", "ranges.png", "ranges.alt.txt"),
        *("plan.html", "record.html"),
    ),
    "followup": (
        *("followup.png", "followup.alt.txt", "levels_known.png", "levels_known.alt.txt"),
        "followup.html",
    ),
    "privacy": (
        *("privacy.png", "privacy.alt.txt", "rings.png", "rings.alt.txt"),
        *("privacy.md", "privacy.html"),
    ),
}


def check_saved(run: Run, folder: AnyPath, command: str) -> None:
    """Refuse a folder in which the reports of a command would replace something else.

    Raises
    ------
    AudioLevelError
        As `Run.check`.
    """
    where = Path(folder)
    if not os.path.isdir(where):
        return
    names = (f"{command}.json", f"{command}.txt", *_PICTURES.get(command, ()))
    for name in names:
        run.check(where / name, mark_of(name, command))


def mark_of(name: AnyPath, command: str) -> str:
    """What a report of a command carries, by the ending of its name."""
    return json_mark(command) if str(name).endswith(".json") else text_mark(command)


@contextmanager
def outputs(
    command: str,
    *,
    inputs: Sequence[AnyPath] = (),
    folder: AnyPath | None = None,
    json: Sequence[AnyPath] = (),
    history: tuple[AnyPath, bool] | None = None,
    sound: AnyPath | None = None,
    site: AnyPath | None = None,
    force: bool = False,
) -> Iterator[Run]:
    """A run of a command that says before anything is opened what it reads and will write.

    Parameters
    ----------
    command : str
    inputs : sequence of path
        None of these is written to, under whatever name or link.
    folder : path, optional
        For `Result.save`.
    json : sequence of path, optional
        JSON files of the command.
    history : (path, bool), optional
        A level history, and whether its rows are of a second.
    sound : path, optional
        A rendered sound.
    site : path, optional
        A site file that lines are added to.
    force : bool
        As in `Result.save_json`.

    Yields
    ------
    Run
        Its `written` names the files that were written.

    Raises
    ------
    AudioLevelError
        An output would take the place of an input, of a sound file or of somebody else's report, or
        two outputs have one name.
    """
    marks = [(one, json_mark(command)) for one in json]
    if history is not None:
        path, coarse = history
        marks.append((path, COARSE_MARK if coarse else MARK))
    if site is not None:
        marks.append((site, ""))
    with writing(inputs, force=force) as run:
        if sound is not None:
            run.check(sound, None)
        for path, mark in marks:
            run.check(path, mark)
        named = [os.path.realpath(path) for path, _ in marks]
        twice = [path for path in named if named.count(path) > 1]
        if twice:
            raise SettingError(f"{twice[0]}: is named for two outputs; give each a name of its own")
        if folder is not None:
            check_saved(run, folder, command)
        yield run


def marked(value: Object, command: str) -> Object:
    """An object with the command that makes it beside the version, first of all keys."""
    version = {"audiolevel": __version__, "command": command}
    return version | {key: one for key, one in value.items() if key not in version}


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


def site_of(site: Site | AnyPath | None) -> Site:
    """A site as it is given, or read from its file; without one the defaults."""
    if not isinstance(site, Site):
        return read_site(site)
    check_site(site)
    return site


def names_its_site(function: Callable[Given, Base]) -> Callable[Given, Base]:
    """A function whose errors about a key of its `site` name the file, whenever they arise."""

    @functools.wraps(function)
    def named(*words: Given.args, **given: Given.kwargs) -> Base:
        site = given.get("site")
        try:
            return function(*words, **given)
        except SettingError as error:
            if not isinstance(site, str | PathLike) or not _OF_A_SITE.match(str(error)):
                raise
            raise SettingError(f"{os.fspath(site)}: {error}") from error

    return named


# a section, alone or with a key
_SECTIONS = "|".join(one.name for one in fields(Site) if one.metadata != NO_KEY)
_OF_A_SITE = re.compile(rf"\[{{0,2}}({_SECTIONS})\b[.\]]")


def as_kind(kind: type[Base], base: Any, **more: Any) -> Base:
    """A domain record as the class of the API that adds what can be done with it."""
    # fields only, not `asdict`, which would copy every array inside
    values = {one.name: getattr(base, one.name) for one in fields(base)}
    return kind(**values, **more)
