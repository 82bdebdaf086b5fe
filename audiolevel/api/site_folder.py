"""A site as a folder: its visits, its plan, its logs, and where it stands."""

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from functools import cached_property
from itertools import count
from pathlib import Path

from audiolevel.api.following import FollowUp, follow_up
from audiolevel.api.planning import Survey, survey
from audiolevel.api.plans import Plan, planned
from audiolevel.api.results import Progress, Result, made_folder, marked
from audiolevel.counting.schedule import zone_named
from audiolevel.folder.kept import content_of
from audiolevel.folder.state import (
    LOGS,
    PLAN,
    SITE_FILE,
    changes,
    logs_read,
    origin_of,
    plan_file,
    read_origin,
    write_origin,
)
from audiolevel.folder.template import QUESTIONS, Question, site_text, wanted_of
from audiolevel.folder.visits import VISITS, FolderVisit, Found, visits_in
from audiolevel.followup.event_log import LogFormat
from audiolevel.ground.errors import SettingError
from audiolevel.ground.files import json_mark, text_mark, write_text, writing
from audiolevel.ground.records import Object, json_text
from audiolevel.metering.visit import AnyPath
from audiolevel.planning.asked import Asked
from audiolevel.planning.plan_record import PlanRecord
from audiolevel.report.document import Document, as_object
from audiolevel.report.folder.document import (
    changed_words,
    folder_document,
    next_words,
    sites_document,
)
from audiolevel.report.words.settings import planned_words
from audiolevel.site.sections import Site
from audiolevel.site.site_file import read_site


@dataclass(frozen=True, eq=False)
class SiteFolder(Result):
    """A site's folder: `site.toml`, `visits`, `plan`, `logs`.

    Attributes
    ----------
    folder : Path
    site : Site
        Of its site file, or the defaults.
    """

    folder: Path
    site: Site
    _stem = "site"

    def __repr__(self) -> str:
        return f"<SiteFolder {self.folder}: {len(self.visits)} visits>"

    @cached_property
    def _found(self) -> Found:
        return visits_in(self.folder, self.site)

    @property
    def visits(self) -> tuple[FolderVisit, ...]:
        """What a recorder left below `visits`, files of one recording joined."""
        return self._found.visits

    @property
    def left_out(self) -> tuple[tuple[str, str], ...]:
        """Files below `visits` that are no visits, and why."""
        return self._found.left_out

    @property
    def plan_file(self) -> Path:
        """The JSON of its plan, whether it is there or not."""
        return plan_file(self.folder)

    def logs(self) -> dict[str, Path]:
        """The camera's logs by their names; a folder of clips is one."""
        where = self.folder / LOGS
        found = sorted(where.iterdir()) if where.is_dir() else []
        return {one.name: one for one in found if not one.name.startswith(".")}

    def new_logs(self) -> list[Path]:
        """Logs that no follow-up has read, with this plan or one before."""
        read = logs_read(self.folder)
        return [path for path in self.logs().values() if _digest(path) not in read]

    def survey(self, *, progress: Progress | None = None) -> Survey:
        """Every visit measured at every gain of the site; what was measured before is kept."""
        self.refuse_empty()
        return survey(self.visits, site=self.site, progress=progress)

    def plan(
        self,
        *,
        limit_per_day: float | None = None,
        asked: Asked | None = None,
        confidence: float = 0.95,
        seed: int = 0,
        progress: Progress | None = None,
    ) -> Plan:
        """Plan the site from its visits; `save_plan` makes it the folder's.

        Parameters
        ----------
        limit_per_day : float, optional
            In place of the site file's.
        asked, confidence, seed, progress
            As in `audiolevel.plan`.

        Raises
        ------
        SettingError
            There is no visit, or one that cannot be used.
        """
        heard = self.survey(progress=progress)
        return heard.plan(
            limit_per_day=limit_per_day, asked=asked, confidence=confidence, seed=seed
        )

    def save_plan(
        self, made: Plan, *, page: bool = True, force: bool = False, redact: bool = False
    ) -> list[Path]:
        """Make a plan the folder's, with a note of what it was made from; both without names."""
        kept, shared = self.keep_followed(), made.redacted() if redact else made
        files = shared.save(self.folder / PLAN, page=page, force=force)
        self.note_origin(redact=redact)
        return files if kept is None else [*files, kept]

    def keep_followed(self) -> Path | None:
        """Keep the folder's plan before it is made anew, if logs have corrected it.

        Returns
        -------
        Path or None
            Where it is kept, named by the last day of its logs.
        """
        made = self.planned()
        if made is None or made.followed is None:
            return None
        # plans of earlier versions do not say when their logs were
        ends = [last for _, last in made.followed.counted_s or ()]
        return self._kept(_day(max(ends), zone_named(made.schedule.zone)) if ends else "corrected")

    def _kept(self, stem: str) -> Path:
        """The plan under another name, which no other plan has."""
        text, folder = self.plan_file.read_text(encoding="utf-8"), self.plan_file.parent
        names = (f"{stem}{f'-{number}' if number > 1 else ''}.json" for number in count(1))
        free = (file for name in names if not (file := folder / name).exists() or _is(file, text))
        kept = next(free)
        write_text(kept, text, json_mark(PLAN))
        return kept

    def note_origin(self, *, redact: bool = False) -> None:
        """Note that the plan in the folder was made from what is there now; without its names."""
        origin = replace(origin_of(self.folder, self._found), logs=logs_read(self.folder))
        write_origin(self.folder, origin.unnamed() if redact else origin)

    def follow_up(
        self,
        *,
        settings: Sequence[float | str] = (),
        shown: Sequence[float] = (),
        log_format: LogFormat | None = None,
    ) -> FollowUp:
        """Hold the logs that are new against the folder's plan.

        Parameters
        ----------
        settings, shown, log_format
            As in `audiolevel.follow_up`.

        Raises
        ------
        SettingError
            There is no plan, or no new log.
        """
        logs = self.new_logs()
        if not self.plan_file.is_file():
            raise SettingError(f"{self.folder}: has no plan yet; audiolevel plan {self.folder}")
        if not logs:
            raise SettingError(
                f"{self.folder / LOGS}: holds no log that was not followed up; put the camera's "
                "log there"
            )
        return follow_up(
            self.plan_file, logs, settings=settings, shown=shown, log_format=log_format
        )

    def keep_corrected(self, result: FollowUp) -> tuple[Path, list[Path]]:
        """Make the corrected plan the folder's; the one before is kept by the log's last day.

        Returns
        -------
        Path
            Where the plan before is kept.
        list of Path
            Its page, pictures and record, which are removed where another setting is to be set.
        """
        origin = read_origin(self.folder) or origin_of(self.folder, self._found)
        given = {os.path.realpath(one) for one in result.inputs}
        new = (_digest(one) for one in self.logs().values() if os.path.realpath(one) in given)
        read = (*logs_read(self.folder), *new)
        log = result.last.log
        shown = sorted(one for one in self.plan_file.parent.iterdir() if one.suffix != ".json")
        with writing(force=False) as run:
            before = self._kept(_day(log.covered[-1][1], log.zone))
            corrected = marked(result.corrected_plan(), PLAN)
            write_text(self.plan_file, json_text(corrected), json_mark(PLAN))
            write_origin(self.folder, replace(origin, plan=content_of(self.plan_file), logs=read))
            if result.decision.set_db == result.expectation.set_db:
                return before, []
            return before, [path for path in shown if run.clear(path, text_mark(PLAN))]

    def to_object(self) -> Object:
        """Where the site stands, as dictionaries and lists."""
        made = self.planned()
        return {
            "visits": [[str(path) for path in visit.files] for visit in self.visits],
            "left_out": [list(one) for one in self.left_out],
            "plan": None if made is None else planned_words(made),
            "changed": self.changed(),
            "document": as_object(self.document()),
        }

    def planned(self) -> PlanRecord | None:
        """The plan in the folder; None without one, or where this version cannot read it."""
        try:
            return planned(self.plan_file) if self.plan_file.is_file() else None
        except SettingError:
            return None

    def changed(self) -> list[str] | None:
        """What has changed since the plan was made; None where that is not known."""
        origin = read_origin(self.folder)
        return None if origin is None else changes(origin, origin_of(self.folder, self._found))

    def document(self) -> Document:
        """Where the site stands, in ten lines."""
        return folder_document(
            self.folder,
            self.site.site.name,
            self.visits,
            self.left_out,
            self.planned(),
            self.changed(),
            [path.name for path in self.new_logs()],
        )

    def refuse_empty(self) -> None:
        """Refuse a site that nobody has visited.

        Raises
        ------
        SettingError
            No file below `visits` can be used.
        """
        if self.visits:
            return
        why = "; ".join(f"{name}: {why}" for name, why in self.left_out[:3])
        raise SettingError(
            f"{self.folder / VISITS}: holds no recording{f' ({why})' if why else ''}; put the "
            "recordings of the site there"
        )


@dataclass(frozen=True, eq=False, repr=False)
class SiteFolders(Result):
    """Several sites in one folder.

    Attributes
    ----------
    folder : Path
    sites : tuple of SiteFolder
    """

    folder: Path
    sites: tuple[SiteFolder, ...]
    _stem = "sites"

    def __len__(self) -> int:
        return len(self.sites)

    def __iter__(self) -> Iterator[SiteFolder]:
        return iter(self.sites)

    def __getitem__(self, index: int) -> SiteFolder:
        return self.sites[index]

    def to_object(self) -> Object:
        """Where each site stands."""
        return {one.folder.name: one.to_object() for one in self.sites}

    def document(self) -> Document:
        """A row a site: its plan, what has changed since, what to do next."""
        rows = []
        for one in self.sites:
            plan, changed = one.planned(), one.changed()
            logs = [path.name for path in one.new_logs()]
            what = "none yet" if plan is None else planned_words(plan)
            since = changed_words(plan, changed)
            after = next_words(one.folder, bool(one.visits), plan, changed, logs)
            rows.append((one.folder.name, f"{len(one.visits)}", what, since, after))
        return sites_document(self.folder, rows)


def open_sites(folder: AnyPath) -> "SiteFolder | SiteFolders":
    """A site's folder, or a folder of sites.

    Parameters
    ----------
    folder : path

    Raises
    ------
    SettingError
        It is neither.
    """
    where = Path(folder)
    inside = sorted(one for one in where.iterdir() if one.is_dir()) if where.is_dir() else []
    sites = [one for one in inside if (one / SITE_FILE).is_file() and (one / VISITS).is_dir()]
    if sites and not (where / VISITS).is_dir():
        return SiteFolders(where, tuple(map(open_site, sites)))
    return open_site(where)


def open_site(folder: AnyPath) -> SiteFolder:
    """A site's folder.

    Parameters
    ----------
    folder : path
        With `site.toml`, `visits`, or both.

    Raises
    ------
    SettingError
        It is no folder, has neither, or its site file cannot be used.
    """
    where = Path(folder)
    site_file = where / SITE_FILE
    if not site_file.is_file() and not (where / VISITS).is_dir():
        raise SettingError(
            f"{where}: is a folder, and no site's, which holds {SITE_FILE} and {VISITS}; name a "
            f"sound file, use `audiolevel batch`, or make a site by: audiolevel new {where}"
        )
    return SiteFolder(where, read_site(site_file if site_file.is_file() else None))


def new_site(folder: AnyPath, values: Mapping[str, object], *, wanted: Sequence[str] = ()) -> Path:
    """Make a site's folder: a site file with a comment a key, `visits` and `logs`.

    Parameters
    ----------
    folder : path
        Made if it is not there; must hold no site file.
    values : mapping of str to object
        What is known, by the keys of the site file (`limits.false_triggers_per_day`); None is left
        out.
    wanted : sequence of str
        Sounds to catch with their distances, as `breaking glass@5m`.

    Returns
    -------
    Path
        The site file.

    Raises
    ------
    SettingError
        A value makes no sense, or the folder has a site file.
    """
    where = made_folder(folder)
    file = where / SITE_FILE
    if file.exists():
        raise SettingError(f"{file}: is there already; edit it, or choose another folder")
    text = site_text(values, [wanted_of(one) for one in wanted])
    with writing():
        write_text(file, text, None)
    try:
        read_site(file)
    except SettingError:
        # nothing is left of what cannot be read
        file.unlink()
        raise
    for name in (VISITS, LOGS):
        made_folder(where / name)
    return file


def site_questions() -> tuple[Question, ...]:
    """What a new site is asked for, in the order in which it can be answered on site."""
    return QUESTIONS


def _digest(path: Path) -> str:
    """Of a log's bytes, or of the names of its clips."""
    if path.is_dir():
        return " ".join(sorted(one.name for one in path.rglob("*")))
    return content_of(path)


def _day(at_s: float, zone: tzinfo) -> str:
    """The date of a moment in seconds since 1970."""
    return f"{datetime.fromtimestamp(at_s, zone):%Y-%m-%d}"


def _is(file: Path, text: str) -> bool:
    """Whether a file holds just that."""
    return file.is_file() and file.read_bytes() == text.encode()
