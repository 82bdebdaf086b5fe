"""The page of a batch: what stands out first, then every recording in a table that sorts.

Entry point: `batch_page`.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import islice
from typing import Any

from audiolevel.batch.overview import HourRow
from audiolevel.pages.document import document, picture, section, table
from audiolevel.pages.html import Content, Html, named, tag
from audiolevel.report.figures import Picture
from audiolevel.report.wording import percent, span
from audiolevel.site.sections import setting_name

Record = dict[str, Any]
# a table of more would be slow to sort and to scroll; the CSV has all of them
MOST_ROWS = 2000
_HEAD = (
    *("recording", "site", "began", "gain", "length, s", "LAeq, dB", "LAFmax, dB", "L90, dB"),
    *("unit", "clipped", "cautions"),
)


def batch_page(
    title: str,
    *,
    totals: str,
    findings: Sequence[str],
    moved: Sequence[str],
    failures: Sequence[tuple[str, str]],
    sites: Iterable[HourRow],
    records: Callable[[], Iterator[Record]],
    pictures: Mapping[str, tuple[Picture, str]],
) -> str:
    """A batch as one HTML file.

    Parameters
    ----------
    title : str
    totals : str
        How many were measured, in words.
    findings, moved : sequence of str
        What stands out, and what moved against an earlier batch.
    failures : sequence of (str, str)
        Path and reason.
    sites : iterable of HourRow
        Energy means by site and hour.
    records : callable
        Gives the records afresh, one at a time.
    pictures : mapping of str to (Picture, str)
        Each with the line under it, by its heading.
    """
    found = [
        section(f"picture-{i}", name, picture(drawn, f"p{i}", caption))
        for i, (name, (drawn, caption)) in enumerate(pictures.items())
    ]
    return document(
        title,
        section("findings", "What stands out", tag("p", totals), _list(findings), class_="lead"),
        section("failures", "Not measured", _failures(failures)) if failures else None,
        section("moved", "What moved", _list(moved)) if moved else None,
        section("sites", "Sites", _sites(sites)),
        section("recordings", "Recordings", *_recordings(records)),
        *found,
        command="batch",
        scripts=("common", "sortable"),
    )


def _list(lines: Sequence[str]) -> Html:
    return tag("ul", [tag("li", named(one)) for one in lines])


def _failures(failures: Sequence[tuple[str, str]]) -> Content:
    shown = table(
        ("recording", "why"), [[named(path), reason] for path, reason in failures[:MOST_ROWS]]
    )
    more = len(failures) - MOST_ROWS
    return [shown, tag("p", f"{more} more: failures.csv") if more > 0 else None]


def _sites(rows: Iterable[HourRow]) -> Html:
    shown: list[list[Content]] = [
        [
            named(row.site or "(no site)"),
            "not known" if row.hour is None else f"{row.hour:02d}",
            "" if row.gain_setting is None else named(setting_name(row.gain_setting)),
            f"{row.recordings}",
            f"{row.minutes:.1f}",
            f"{row.laeq_db:z.1f}",
            f"{row.lafmax_db:z.1f}",
            row.reference,
        ]
        for row in islice(rows, MOST_ROWS)
    ]
    head = ("site", "hour", "gain", "recordings", "minutes", "LAeq, dB", "LAFmax, dB", "unit")
    return table(head, shown, class_="sortable")


def _recordings(records: Callable[[], Iterator[Record]]) -> list[Html]:
    rows = [_row(record) for record in islice(records(), MOST_ROWS)]
    shown = table(_HEAD, rows, class_="sortable")
    hint = tag("p", "Press a heading to sort by it.", class_="script-only dim")
    # counted afresh: a year of records is never held
    left_out = sum(1 for _ in records()) - len(rows)
    if left_out <= 0:
        return [hint, shown]
    said = f"The first {len(rows)} by their paths; {left_out} more stand in results.csv."
    return [hint, shown, tag("p", said)]


def _row(record: Record) -> list[Content]:
    setting = record["gain_setting"]
    levels = (record["laeq_db"], record["lafmax_db"], record["percentiles_db"]["L90"])
    share = record["clipping"]["clipped_share"]
    return [
        named(record["path"]),
        named(record["site"]),
        record["start"] or "",
        "" if setting is None else named(setting_name(setting)),
        tag("span", f"{record['duration_s']:.0f}", title=span(record["duration_s"])),
        *("" if level is None else f"{level:z.1f}" for level in levels),
        record["reference"],
        "" if not share else percent(share),
        "; ".join(record["warnings"]),
    ]
