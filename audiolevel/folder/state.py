"""What the plan of a site's folder was made from, and what has changed since.

Entry points: `Origin`, `origin_of`, `read_origin`, `logs_read`, `write_origin`, `changes`,
`plan_file`.
"""

import hashlib
import json
import os
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from audiolevel.folder.kept import content_of
from audiolevel.folder.visits import VISITS, Found
from audiolevel.ground.files import json_mark, write_text
from audiolevel.ground.records import json_text

PLAN, LOGS, SITE_FILE = "plan", "logs", "site.toml"
_FILE = "made_from.json"
_MARK = json_mark("plan")


@dataclass(frozen=True)
class Origin:
    """What a plan was made from.

    Attributes
    ----------
    plan : str
        Digest of the plan's JSON.
    visits : mapping of str to str
        Digests of the files by their names.
    site : mapping of str to object
        The site file's values by their keys.
    logs : tuple of str
        Digests of the logs that were followed up, with plans before this one too: another plan does
        not make them new.
    """

    plan: str
    visits: Mapping[str, str]
    site: Mapping[str, object]
    logs: tuple[str, ...] = ()

    def unnamed(self) -> "Origin":
        """The same without names and dates, to be shared: one digest in place of all of them."""
        # what the recordings hold is in it, so that no name or date can be found by trying
        told = json_text({"visits": self.visits, "site": self.site}).encode()
        return replace(self, visits={"": hashlib.blake2b(told).hexdigest()}, site={})


def plan_file(folder: Path) -> Path:
    """The JSON of a site's plan, whether it is there or not."""
    return folder / PLAN / "plan.json"


def origin_of(folder: Path, found: Found) -> Origin:
    """What the plan that is in a folder now would be made from, if it was made now."""
    below, plan = folder / VISITS, plan_file(folder)
    contents = [pair for visit in found.visits for pair in visit.contents.items()]
    # marks may lie anywhere that the site file names
    digests = {Path(os.path.relpath(path, below)).as_posix(): digest for path, digest in contents}
    made = content_of(plan) if plan.is_file() else ""
    return Origin(made, digests, dict(_keys(folder / SITE_FILE)))


def read_origin(folder: Path) -> Origin | None:
    """What the folder's plan was made from; None where that is not known."""
    plan, known = plan_file(folder), _noted(folder)
    # of another plan: it was interrupted, or somebody has put a plan there
    if known is None or not plan.is_file() or content_of(plan) != known.plan:
        return None
    return known


def logs_read(folder: Path) -> tuple[str, ...]:
    """Digests of the logs that were followed up, with this plan or one before."""
    known = _noted(folder)
    return () if known is None else known.logs


def _noted(folder: Path) -> Origin | None:
    """The last note in the folder, whatever plan is there now."""
    try:
        value = json.loads((folder / PLAN / _FILE).read_text(encoding="utf-8"))
        logs = value["logs"]
        # notes of earlier versions have them by their names
        digests = tuple(logs.values() if isinstance(logs, dict) else logs)
        return Origin(value["plan"], dict(value["visits"]), dict(value["site"]), digests)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def write_origin(folder: Path, origin: Origin) -> None:
    """Note what the folder's plan was made from."""
    # what carries the mark may be replaced by the next plan
    text = json_text({"command": PLAN, **asdict(origin)})
    write_text(folder / PLAN / _FILE, text, _MARK)


def changes(before: Origin, now: Origin) -> list[str]:
    """What has changed, in words: visits that came, went or were edited, keys of the site file."""
    if "" in before.visits:
        same = before.visits == now.unnamed().visits
        return [] if same else ["recordings or site.toml (not told which: redacted)"]
    said = [f"new: {name}" for name in sorted(now.visits.keys() - before.visits.keys())]
    said += [f"gone: {name}" for name in sorted(before.visits.keys() - now.visits.keys())]
    both = sorted(before.visits.keys() & now.visits.keys())
    said += [f"changed: {name}" for name in both if before.visits[name] != now.visits[name]]
    for key in sorted(before.site.keys() | now.site.keys()):
        was, is_now = before.site.get(key), now.site.get(key)
        if was != is_now:
            said.append(f"{key}: {_told(is_now)}, was {_told(was)}")
    return said


def _told(value: object) -> str:
    return "not given" if value is None else f"{value}"


def _keys(path: Path) -> Iterator[tuple[str, object]]:
    """The values of a site file by their keys, as JSON holds them."""
    if not path.is_file():
        return
    for section, values in tomllib.loads(path.read_text(encoding="utf-8")).items():
        tables = values if isinstance(values, list) else [values]
        for number, table in enumerate(tables, 1):
            name = f"{section} {number}" if isinstance(values, list) else section
            for key, value in table.items():
                kept = value if isinstance(value, bool | int | float | str) else f"{value}"
                yield f"{name}.{key}", kept
