"""The pictures of a batch: recordings, gain settings and visits beside each other.

The levels of all recordings, L50 by gain setting with what the site file says,
L90 from visit to visit.
"""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from matplotlib.axes import Axes

from audiolevel.batch.overview import comparable
from audiolevel.report.batch.tables import Record, Records
from audiolevel.report.figures import (
    COLOURS,
    GREY,
    INK,
    Picture,
    beside,
    legend_beside,
    new_figure,
    plain,
)
from audiolevel.report.level_trace import NOTHING_DB
from audiolevel.report.words.quantities import counted, short
from audiolevel.site.sections import setting_name

# told apart without their colours
_MARKERS = ["o", "s", "^", "D", "v", "P"]


@dataclass(frozen=True, order=True)
class _Row:
    """One recording; rows sort by site and LAeq."""

    site: str
    laeq_db: float
    l90_db: float
    l10_db: float
    lafmax_db: float
    heavy: bool
    path: str
    reference: str
    silent: bool


def recordings(records: Records) -> Picture:
    """The levels of all recordings, a line each, sorted by site and LAeq.

    Levels in dB FS and in dB SPL cannot be compared, so each unit has axes of its own.
    """
    rows = sorted(_row(record) for record in records())
    units = sorted({row.reference for row in rows})
    named = len(rows) <= _NAMED
    # inches; of thousands of recordings some 270 would fill the height
    height = 1.0 + 0.9 * len(units) + 0.2 * len(rows)
    figure = new_figure(10, height if named else min(12.0, 2.5 + 0.035 * len(rows)))
    of_units = [[row for row in rows if row.reference == unit] for unit in units]
    # one row still needs the room of its axis
    shares = [max(len(some), 2) for some in of_units]
    panels = figure.subplots(len(units), 1, squeeze=False, height_ratios=shares)[:, 0]
    figure.suptitle("all recordings at a glance, by site and LAeq", x=0.01, ha="left", fontsize=12)
    for axes, unit, some in zip(panels, units, of_units, strict=True):
        _lines(axes, some, named=named)
        axes.set_xlabel(f"{unit}: {_KEY}", fontsize=9)
    return Picture(figure, _recordings_in_words(rows))


_KEY = "line L90 to L10, tick LAeq, dot LAFmax (crossed where it clips)"
# more names would stand in each other
_NAMED = 60


def _row(record: Record) -> _Row:
    # dB FS: the calibration takes digital silence out of sight
    full_scale_db = record.get("spl_at_full_scale_db") or 0.0
    return _Row(
        record["site"],
        record["laeq_db"],
        record["percentiles_db"]["L90"],
        record["percentiles_db"]["L10"],
        record["lafmax_db"],
        record["clipping"]["verdict"] == "heavy",
        record["path"],
        record["reference"],
        record["lafmax_db"] - full_scale_db <= NOTHING_DB,
    )


def _lines(axes: Axes, rows: list[_Row], *, named: bool) -> None:
    """A line a recording, from below; sites are named beside their own lines."""
    heard = [row for row in rows if not row.silent]
    for number, site in enumerate(sorted({row.site for row in rows})):
        colour = COLOURS[number % len(COLOURS)]
        own = [(i, row) for i, row in enumerate(rows) if row.site == site]
        drawn = [(i, row) for i, row in own if not row.silent]
        at = [i for i, _ in drawn]
        low = [max(row.l90_db, row.lafmax_db - _DEEPEST_DB) for _, row in drawn]
        axes.hlines(at, low, [row.l10_db for _, row in drawn], color=colour, linewidth=2.4)
        axes.plot([row.laeq_db for _, row in drawn], at, "|", color=INK, markersize=8)
        axes.plot([row.lafmax_db for _, row in drawn], at, ".", color=colour, markersize=5)
        if number:
            axes.axhline(own[0][0] - 0.5, color=GREY, linewidth=0.6)
        # a legend of many sites would hide their lines
        beside(axes, (own[0][0] + own[-1][0]) / 2, short(site, 24), fontsize=9)
    clipped = [i for i, row in enumerate(rows) if row.heavy]
    axes.plot([rows[i].lafmax_db for i in clipped], clipped, "x", color=INK, markersize=7)
    for i, row in enumerate(rows):
        if row.silent:
            # at minus infinity, which would press all others together
            within = axes.get_yaxis_transform()
            axes.text(0.01, i, "digital silence", transform=within, fontsize=8, va="center")
    names = [_last(row.path, 36) for row in rows] if named else []
    axes.set_yticks(range(len(names)), names)
    axes.set_ylim(-0.7, len(rows) - 0.3)
    plain(axes)
    axes.tick_params(axis="y", labelsize=8)
    if not heard:
        axes.set_xticks([])
    if not named:
        axes.set_ylabel(counted(len(rows), "recording"), fontsize=9.5)


# no recorder holds more; a line below it comes of stretches of digital silence
_DEEPEST_DB = 100.0


def _last(path: str, most: int) -> str:
    """The end of a path, where files of a folder differ."""
    return path if len(path) <= most else f"…{path[1 - most :]}"


def _recordings_in_words(rows: list[_Row]) -> str:
    words = []
    for site, unit in sorted({(row.site, row.reference) for row in rows}):
        own = [row for row in rows if (row.site, row.reference) == (site, unit)]
        heard = [row.laeq_db for row in own if not row.silent]
        span = f", LAeq {min(heard):z.1f} to {max(heard):z.1f} {unit}" if heard else ""
        words.append(f"{site}: {counted(len(own), 'recording')}{span}")
    silent = sum(row.silent for row in rows)
    words.append(f"{sum(row.heavy for row in rows)} clip heavily")
    return "; ".join(words + ([f"{silent} silent"] if silent else [])) + "."


def gain_settings(records: Records, stated: dict[str, dict[float, float]]) -> Picture | None:
    """L50 in dB FS of every recording against its gain setting; None where no number is known.

    The dashed line is what the site file's steps say, laid through the lowest setting's mean.
    """
    points: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for record in records():
        if isinstance(record.get("gain_setting"), int | float) and not _row(record).silent:
            # dB FS: the calibration takes the gain out of a level again
            level = record["percentiles_db"]["L50"] - (record.get("spl_at_full_scale_db") or 0.0)
            points[record["site"]].append((record["gain_setting"], level))
    if not points:
        return None
    figure = new_figure(7, 3.8)
    axes = figure.subplots()
    styles = zip(sorted(points.items()), COLOURS * 9, _MARKERS * 9, strict=False)
    for (site, pairs), colour, marker in styles:
        settings, level = np.array(sorted(pairs)).T
        axes.plot(
            settings, level, marker, color=colour, markersize=6, alpha=0.7, label=short(site, 24)
        )
        table = stated.get(site, {})
        known = [setting for setting in np.unique(settings).tolist() if setting in table]
        if len(known) > 1:
            # the table gives steps only; the lowest setting's own mean sets their height
            base = level[settings == known[0]].mean() - table[known[0]]
            stated_db = [base + table[setting] for setting in known]
            axes.plot(known, stated_db, "--", color=colour, linewidth=1.5)
    axes.set_xlabel("gain setting (dashed: as the site file says)", fontsize=9.5)
    axes.set_ylabel("L50, dB FS", fontsize=9.5)
    axes.set_title("does the gain do what its scale says?", fontsize=12, loc="left")
    legend_beside(axes)
    plain(axes)
    words = "; ".join(
        f"{site}: settings {', '.join(f'{s:g}' for s in sorted({p[0] for p in pairs}))}"
        for site, pairs in sorted(points.items())
    )
    return Picture(figure, f"L50 of each recording by gain setting. {words}.")


def visits(records: Records, outlying: set[str]) -> Picture | None:
    """L90 and LAeq of every recording against its date; None where no start is known.

    Recordings that stand out from their site are crossed.
    """
    points: dict[tuple[str, str], list[_Visit]] = defaultdict(list)
    for record in records():
        # a silent one would press the levels of all others together
        if record.get("start") and not _row(record).silent:
            # the clock on the wall: moments with and without a zone cannot be sorted together
            start = datetime.fromisoformat(record["start"]).replace(tzinfo=None)
            odd = record["path"] in outlying
            # a line joins only what can be compared
            setting = comparable(record)
            at = "" if setting is None else f" at gain {setting_name(setting)}"
            points[record["reference"], f"{record['site']}{at}"].append(
                (start, record["percentiles_db"]["L90"], record["laeq_db"], odd)
            )
    if not points:
        return None
    units = sorted({unit for unit, _ in points})
    figure = new_figure(10, 1.2 + 2.6 * len(units))
    panels = figure.subplots(len(units), 1, sharex=True, squeeze=False)[:, 0]
    for axes, unit in zip(panels, units, strict=True):
        _over_dates(axes, {site: rows for (own, site), rows in points.items() if own == unit})
        axes.set_ylabel(unit, fontsize=9.5)
    panels[-1].tick_params(axis="x", rotation=20)
    what = "from visit to visit: line L90, dot LAeq, crossed where it stands out"
    figure.suptitle(what, x=0.01, ha="left", fontsize=12)
    words = "; ".join(
        f"{site}, {unit}: {counted(len(rows), 'visit')} from {min(rows)[0]:%Y-%m-%d} to "
        f"{max(rows)[0]:%Y-%m-%d}"
        for (unit, site), rows in sorted(points.items(), key=lambda one: one[0][::-1])
    )
    return Picture(figure, f"L90 and LAeq of each visit by date. {words}.")


# start, L90, LAeq, whether it stands out
_Visit = tuple[datetime, float, float, bool]


def _over_dates(axes: Axes, sites: dict[str, list[_Visit]]) -> None:
    """A line of L90 a site, with LAeq of each visit."""
    styles = zip(sorted(sites.items()), COLOURS * 9, _MARKERS * 9, strict=False)
    for (site, rows), colour, marker in styles:
        rows.sort()
        when = np.array([row[0] for row in rows], dtype="datetime64[s]")
        level = [row[1] for row in rows]
        axes.plot(when, level, f"-{marker}", color=colour, markersize=5, label=short(site, 30))
        axes.plot(when, [row[2] for row in rows], ".", color=GREY, markersize=5)
        apart = [row for row in rows if row[3]]
        odd_when = np.array([row[0] for row in apart], dtype="datetime64[s]")
        axes.plot(odd_when, [row[2] for row in apart], "x", color=INK, markersize=8)
    legend_beside(axes)
    plain(axes)
