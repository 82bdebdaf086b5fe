"""The tables of a batch's page: findings that lead to their rows, and rows with small pictures.

Entry points: `findings_table`, `recordings_table`.
"""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from audiolevel.batch.faults import Fault
from audiolevel.batch.sound_check import mark_of
from audiolevel.report.html import Html, raw, table, tag
from audiolevel.report.words.faults import fault_remedy, fault_words

# of a small picture, in pixels, and the decibels that fill its height
_WIDE, _HIGH, _RANGE_DB = 120, 22, 40.0
_POINTS = 60


def findings_table(found: Sequence[Fault], rows: Mapping[str, int]) -> Html:
    """Each finding with how bad it is, why, and what to do.

    Parameters
    ----------
    found : sequence of Fault
    rows : mapping of str to int
        The number of each recording's row.
    """
    head = ("finding", "recording", "how bad", "why", "what to do")
    cells = [
        (
            one.kind,
            _linked(one.path, rows),
            tag("span", one.severity, class_=f"severity-{one.severity}"),
            fault_words(one),
            fault_remedy(one),
        )
        for one in found
    ]
    return _boxed(table(head, cells, id="findings-table", class_="sortable"), "findings-table", 420)


def _linked(path: str, rows: Mapping[str, int]) -> Html | str:
    return tag("a", path, href=f"#row-{rows[path]}") if path in rows else path


def recordings_table(
    head: Sequence[str], rows: Iterable[Sequence[str]], marks: Sequence[str]
) -> Html:
    """Rows that can be sorted, chosen and linked to, each with its level over time.

    Parameters
    ----------
    head : sequence of str
    rows : iterable of sequence of str
        The first cell names the recording.
    marks : sequence of str
        Of each recording (`sound_check.SoundFacts.mark`), "" where there is none.
    """
    cells = [
        (tag("span", first, id=f"row-{i}"), small_picture(mark), *rest)
        for i, ((first, *rest), mark) in enumerate(zip(rows, marks, strict=True))
    ]
    name, *others = head
    shown = table(
        (name, "level over time", *others), cells, id="recordings-table", class_="sortable"
    )
    return _boxed(shown, "recordings-table", 900)


def _boxed(shown: Html, name: str, high: int) -> Html:
    """A table in a box that scrolls, with a field that chooses rows."""
    field = tag(
        "p",
        tag("label", "Show rows with ", for_=f"{name}-filter"),
        tag("input", id=f"{name}-filter", type="search", data_filters=name),
        tag("span", id=f"{name}-filter-said", role="status"),
        class_="control script-only",
    )
    return tag("div", field, tag("div", shown, style=f"max-height:{high}px;overflow:auto"))


def small_picture(mark: str) -> Html | str:
    """The level over time as a line; nothing where none is known."""
    levels = mark_of(mark) if mark else np.zeros((0, 1))
    if len(levels) < 2:
        return ""
    power = (10 ** (levels / 10)).sum(axis=1)
    # the highest of each stretch, so that no event is lost
    begins = np.unique(np.linspace(0, len(power) - 1, min(_POINTS, len(power))).astype(int))
    level = 10 * np.log10(np.maximum.reduceat(power, begins) + 1e-12)
    across = np.linspace(1, _WIDE - 1, len(level))
    down = _HIGH - 1 - (_HIGH - 2) * np.clip((level - np.median(level)) / _RANGE_DB + 0.3, 0, 1)
    points = " ".join(f"{x:.0f},{y:.0f}" for x, y in zip(across, down, strict=True))
    spread = f"{np.ptp(level):.0f} dB from lowest to highest"
    return raw(
        f'<svg width="{_WIDE}" height="{_HIGH}" role="img" aria-label="{spread}">'
        f'<polyline points="{points}" fill="none" stroke="#005a8f" stroke-width="1.2"/></svg>'
    )
