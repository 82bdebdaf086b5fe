"""The pictures of a batch: recordings, gain settings and visits beside each other.

The levels of all recordings, L50 by gain setting with what the site file says,
L90 from visit to visit.
"""

from collections import defaultdict
from datetime import datetime

import numpy as np

from audiolevel.batch.overview import comparable
from audiolevel.report.batch_tables import Records
from audiolevel.report.figures import COLOURS, GREY, INK, Picture, new_figure, plain
from audiolevel.site import setting_name


def recordings(records: Records) -> Picture:
    """The levels of all recordings, a line each, sorted by site and LAeq."""
    rows = [
        (
            r["site"],
            r["laeq_db"],
            r["percentiles_db"]["L90"],
            r["percentiles_db"]["L10"],
            r["lafmax_db"],
            r["clipping"]["verdict"],
        )
        for r in records()
    ]
    # by site, then by LAeq: the order of the lines from below
    rows.sort()
    # inches; thousands of recordings share the height of some 270
    figure = new_figure(10, min(12.0, 2.5 + 0.035 * len(rows)))
    axes = figure.subplots()
    sites = sorted({row[0] for row in rows})
    for number, site in enumerate(sites):
        own = [(i, row) for i, row in enumerate(rows) if row[0] == site]
        places = [i for i, _ in own]
        colour = COLOURS[number % len(COLOURS)]
        axes.hlines(
            places,
            [row[2] for _, row in own],
            [row[3] for _, row in own],
            color=colour,
            linewidth=2.2,
            alpha=0.6,
        )
        axes.plot([row[1] for _, row in own], places, "|", color=colour, markersize=7)
        axes.plot([row[4] for _, row in own], places, ".", color=colour, markersize=4)
        # named beside its own lines, as a legend of many sites would hide them
        axes.annotate(
            site,
            (1.0, (places[0] + places[-1]) / 2),
            xycoords=("axes fraction", "data"),
            xytext=(6, 0),
            textcoords="offset points",
            fontsize=9,
            color=colour,
            va="center",
        )
    clipped = [i for i, row in enumerate(rows) if row[5] == "heavy"]
    axes.plot([rows[i][4] for i in clipped], clipped, "x", color=INK, markersize=7)
    axes.set_yticks([])
    axes.set_ylabel(f"{len(rows)} recordings, by site and LAeq", fontsize=9.5)
    axes.set_xlabel(
        "dB: line L90 to L10, tick LAeq, dot LAFmax (crossed where it clips)", fontsize=9
    )
    axes.set_title("all recordings at a glance", fontsize=12, loc="left")
    plain(axes)
    words = [
        f"{site}: {sum(row[0] == site for row in rows)} recordings, LAeq "
        f"{min(row[1] for row in rows if row[0] == site):.1f} to "
        f"{max(row[1] for row in rows if row[0] == site):.1f} dB"
        for site in sites
    ]
    return Picture(figure, "; ".join(words) + f"; {len(clipped)} clip heavily.")


def gain_settings(records: Records, stated: dict[str, dict[float, float]]) -> Picture | None:
    """L50 in dB FS of every recording against its gain setting; None where no number is known.

    The dashed line is what the site file's steps say, laid through the lowest setting's mean.
    """
    points: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for record in records():
        if isinstance(record.get("gain_setting"), int | float):
            # dB FS: the calibration takes the gain out of a level again
            level = record["percentiles_db"]["L50"] - (record.get("spl_at_full_scale_db") or 0.0)
            points[record["site"]].append((record["gain_setting"], level))
    if not points:
        return None
    figure = new_figure(7, 3.8)
    axes = figure.subplots()
    for (site, pairs), colour in zip(sorted(points.items()), COLOURS * 9, strict=False):
        settings, level = np.array(sorted(pairs)).T
        axes.plot(settings, level, "o", color=colour, markersize=5, alpha=0.7, label=site)
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
    axes.legend(fontsize=8.5, frameon=False)
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
    points: dict[str, list[tuple[datetime, float, float, bool]]] = defaultdict(list)
    for record in records():
        if record.get("start"):
            # the clock on the wall: moments with and without a zone cannot be sorted together
            start = datetime.fromisoformat(record["start"]).replace(tzinfo=None)
            odd = record["path"] in outlying
            # a line joins only what can be compared
            setting = comparable(record)
            at = "" if setting is None else f" at gain {setting_name(setting)}"
            points[f"{record['site']}{at}, {record['reference']}"].append(
                (start, record["percentiles_db"]["L90"], record["laeq_db"], odd)
            )
    if not points:
        return None
    figure = new_figure(10, 3.8)
    axes = figure.subplots()
    for (site, rows), colour in zip(sorted(points.items()), COLOURS * 9, strict=False):
        rows.sort()
        when = np.array([row[0] for row in rows], dtype="datetime64[s]")
        axes.plot(when, [row[1] for row in rows], "-o", color=colour, markersize=4, label=site)
        axes.plot(when, [row[2] for row in rows], ".", color=GREY, markersize=5)
        apart = [row for row in rows if row[3]]
        odd_when = np.array([row[0] for row in apart], dtype="datetime64[s]")
        axes.plot(odd_when, [row[2] for row in apart], "x", color=INK, markersize=8)
    axes.set_ylabel("dB: line L90, dot LAeq, crossed: stands out", fontsize=9.5)
    axes.set_title("from visit to visit", fontsize=12, loc="left")
    axes.tick_params(axis="x", rotation=20)
    axes.legend(fontsize=8.5, frameon=False)
    plain(axes)
    words = "; ".join(
        f"{site}: {len(rows)} visits from {min(rows)[0]:%Y-%m-%d} to {max(rows)[0]:%Y-%m-%d}"
        for site, rows in sorted(points.items())
    )
    return Picture(figure, f"L90 and LAeq of each visit by date. {words}.")
