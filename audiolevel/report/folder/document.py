"""Where a site stands: its visits, its plan, what has changed since, what to do next.

Entry points: `folder_document`, `sites_document`.
"""

from collections.abc import Sequence
from pathlib import Path

from audiolevel.folder.state import LOGS
from audiolevel.folder.visits import VISITS, FolderVisit
from audiolevel.planning.plan_record import PlanRecord
from audiolevel.report.document import Document, Fact, Section, Table, document
from audiolevel.report.words.quantities import counted
from audiolevel.report.words.settings import planned_words

_LISTED = 3


def folder_document(
    folder: Path,
    name: str,
    visits: Sequence[FolderVisit],
    left_out: Sequence[tuple[str, str]],
    plan: PlanRecord | None,
    changed: Sequence[str] | None,
    new_logs: Sequence[str],
) -> Document:
    """A site's folder in ten lines.

    Parameters
    ----------
    folder : Path
    name : str
        Of the site.
    visits : sequence of FolderVisit
    left_out : sequence of (str, str)
        Files that are no visits, and why.
    plan : PlanRecord or None
        That is in the folder.
    changed : sequence of str or None
        Since the plan was made; None where that is not known.
    new_logs : sequence of str
        That no follow-up has read.
    """
    files = sum(len(visit.files) for visit in visits)
    heard = counted(len(visits), "visit")
    facts = [Fact("visits", heard if files == len(visits) else f"{heard} in {files} files", 0)]
    if left_out:
        said = [f"{name}: {why}" for name, why in left_out]
        facts.append(Fact("left out", _few(said), 1))
    if plan is None:
        facts.append(Fact("plan", "none yet", 0))
    else:
        facts.append(Fact("plan", planned_words(plan), 0))
        facts.append(Fact("changed", changed_words(plan, changed), 0))
    if new_logs:
        facts.append(Fact("logs", f"{_few(new_logs)}: not followed up", 1))
    facts.append(Fact("next", next_words(folder, bool(visits), plan, changed, new_logs), 0))
    return document(name or folder.name, "", [Section("Where it stands", tuple(facts), lead=True)])


def sites_document(folder: Path, rows: Sequence[tuple[str, ...]]) -> Document:
    """Several sites beside each other: name, visits, plan, what has changed, what to do next."""
    head = ("site", "visits", "plan", "changed", "next")
    under = counted(len(rows), "site")
    table = Table(head, tuple(rows), 0)
    return document(f"{folder.name or folder}", under, [Section("Sites", (table,), lead=True)])


def changed_words(plan: PlanRecord | None, changed: Sequence[str] | None) -> str:
    """What has changed since the plan was made."""
    if plan is None:
        return ""
    return "not known: plan again" if changed is None else _few(changed) or "nothing"


def _few(said: Sequence[str]) -> str:
    more = [f"{len(said) - _LISTED} more"] if len(said) > _LISTED else []
    return "; ".join([*said[:_LISTED], *more])


def next_words(
    folder: Path,
    visited: bool,
    plan: PlanRecord | None,
    changed: Sequence[str] | None,
    new_logs: Sequence[str],
) -> str:
    """What to do next."""
    if not visited:
        return (
            f"record ten minutes on site, three to five times on other days and hours, and put the "
            f"files into {folder / VISITS}; then: audiolevel plan {folder}"
        )
    if plan is None or changed is None or changed:
        known = plan is not None and plan.followed is not None
        return f"audiolevel plan {folder}{', without what the logs have taught' * known}"
    if plan.recommended is None:
        return f"change what {folder / 'plan' / 'plan.txt'} says, then: audiolevel plan {folder}"
    if new_logs:
        return f"audiolevel followup {folder}"
    log = (
        f"after a day or two put the camera's log into {folder / LOGS}, then: audiolevel followup "
        f"{folder}"
    )
    if (folder / "privacy" / "privacy.json").is_file():
        return f"set it; {log}"
    # a camera that has a log has its sound switched on
    if plan.followed is None:
        return f"audiolevel privacy {folder}, before sound is switched on"
    return f"set it; audiolevel privacy {folder}, as sound is switched on; {log}"
