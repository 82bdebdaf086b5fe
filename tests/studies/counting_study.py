"""Do the counts hold? Coverage, bias and widths on simulated sites, with a negative control.

    python -m tests.studies.counting_study --out docs

writes `counting_coverage.csv`, `counting_seen.csv` and the figures into the folder's `figures`, and
prints the tables of docs/counting.md. The sites and samples are those of `tests.studies.passes` and
`tests.studies.histories`; tests/studies/test_counting_study.py asserts the same with fewer sites.
"""

import argparse
import csv
import time
from pathlib import Path

import numpy as np

from audiolevel.counting.exposure import Visit
from audiolevel.counting.rates import predict
from tests.studies.histories import level_scores, plan_scores, widenings
from tests.studies.passes import diurnal_scores, event_scores, marks
from tests.studies.roadside import STRESS
from tests.studies.scoring import SEED, SEEN, TARGETS, bias, coverage, level_error, pick


def table(scores):
    """One row for each set, length and true rate."""
    rows = []
    for method, name, minutes, of_set in _sets(pick(scores)):
        for target in TARGETS:
            of = [s for s in of_set if s.target == target]
            error = level_error(of) if _asked(of) else (np.nan,) * 3
            safe = np.mean([s.safe_db >= 0 for s in of]) if _asked(of) else np.nan
            row = {
                "method": method,
                "set": name,
                "minutes": f"{minutes:g}",
                "per_day": target,
                "cases": len(of),
                "coverage": f"{coverage(of):.3f}",
                "median_low": f"{np.median([s.low for s in of]):.0f}",
                "median_high": f"{np.median([s.high for s in of]):.0f}",
                "rate_ratio": f"{np.median([_rate_ratio(s) for s in of]):.3g}",
                "bias": f"{bias(of):.2f}",
                "level_error_p50_db": f"{error[0]:.2f}",
                "level_error_p90_db": f"{error[1]:.2f}",
                "level_interval_cover": f"{error[2]:.3f}",
                "safe_achieved": f"{safe:.3f}",
            }
            rows.append({key: "-" if value == "nan" else value for key, value in row.items()})
    return rows


def seen_table(scores):
    """One row for each set, length and number of firings seen."""
    return [
        {
            "set": name,
            "minutes": f"{minutes:g}",
            "seen": seen,
            "cases": len(of),
            "true_per_day": f"{np.median([s.target for s in of]):.0f}",
            "bias": f"{bias(of):.2f}",
            "rate_coverage": f"{coverage(of):.3f}",
        }
        for _, name, minutes, of_set in _sets(pick(scores, at="count"))
        for seen in SEEN
        if (of := [s for s in of_set if s.seen == seen])
    ]


def markdown(scores):
    """The three tables of docs/counting.md, line by line."""
    rows = [row for row in table(scores) if (row["method"], row["set"]) not in LEFT_OUT]
    groups = {}
    for row in rows:
        groups.setdefault((row["method"], row["set"], row["minutes"]), []).append(row)
    head = ["set, minutes", "2 a day", *map(str, TARGETS[1:])]
    yield from _lines(
        head,
        (
            [_label(*key), *(f"{_percent(r['coverage'])}: {_ends(r)}" for r in of)]
            for key, of in groups.items()
        ),
    )
    yield from _lines(
        head,
        (
            [_label(*key), *map(_level_cell, of)]
            for key, of in groups.items()
            if of[0]["level_error_p50_db"] != "-"
        ),
    )
    seen = {}
    for row in seen_table(scores):
        if row["seen"] <= 10 and ("ours", row["set"]) not in LEFT_OUT:
            cell = f"{row['bias']}, {_percent(row['rate_coverage'])}"
            seen.setdefault(("ours", row["set"], row["minutes"]), []).append(cell)
    yield from _lines(
        ["set, minutes", "fired once", "twice", "3 times", "5 times", "10 times"],
        ([_label(*key), *cells] for key, cells in seen.items()),
    )


LEFT_OUT = (
    ("ours", "diurnal, 5 day, as heard"),
    ("ours", "diurnal, 5 day, no spread"),
    ("control", "stress"),
)


def _label(method, name, minutes):
    return f"{name}, {minutes}" if method == "ours" else f"{method}, {name}, {minutes}"


def _percent(share):
    return f"{100 * float(share):.0f}"


def _ends(row):
    return f"{row['median_low']}–{row['median_high']}"


def _level_cell(row):
    error = f"{float(row['level_error_p50_db']):.1f}/{float(row['level_error_p90_db']):.1f}"
    return f"{error}, {_percent(row['level_interval_cover'])}, {row['bias']}"


def _lines(head, rows):
    yield "| " + " | ".join(head) + " |"
    yield "|---" * len(head) + "|"
    for row in rows:
        yield "| " + " | ".join(row) + " |"
    yield ""


def _sets(scores):
    sets = sorted({(s.method, _set(s), s.minutes) for s in scores})
    for method, name, minutes in sets:
        of = pick(scores, scores[0].at, method=method, minutes=minutes)
        yield method, name, minutes, [s for s in of if _set(s) == name]


def _asked(scores):
    """Whether the level for a rate was asked for as well."""
    return any(np.isfinite(s.level_error_db) for s in scores)


def _rate_ratio(score):
    return score.rate_high / max(score.rate_low, 1e-3)


def _set(score):
    return "stress" if score.kind in STRESS else score.kind


def study(ordinary=100, stress=50, jobs=2):
    """All scores of the full study."""
    scores = event_scores() + event_scores(minutes=10.0)
    scores += diurnal_scores() + diurnal_scores(minutes=50.0, days=5)
    scores += plan_scores(ordinary // 5)
    scores += level_scores(["ordinary"] * ordinary, jobs=jobs)
    scores += level_scores([STRESS[i % len(STRESS)] for i in range(stress)], jobs=jobs)
    return scores


def write(scores, folder):
    """Tables and figures of the study."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, rows in (("coverage", table(scores)), ("seen", seen_table(scores))):
        with open(folder / f"counting_{name}.csv", "w", newline="") as file:
            out = csv.DictWriter(file, rows[0].keys(), lineterminator="\n")
            out.writeheader()
            out.writerows(rows)
    figure(scores, folder / "counting_coverage.png")
    example_figure(folder / "counting_curve.png")


# Okabe and Ito's colours, which stay apart with any colour vision; the marker tells as well.
LOOK = {
    ("ours", "ordinary", 10): ("#0072B2", "o", "roadside, 10 min"),
    ("ours", "ordinary", 60): ("#56B4E9", "s", "roadside, 60 min"),
    ("ours", "stress", 10): ("#D55E00", "^", "stress, 10 min"),
    ("ours", "stress", 60): ("#E69F00", "v", "stress, 60 min"),
    ("ours", "diurnal, 1 day", 60): ("#009E73", "D", "one visit of 60 min, whole day"),
    ("control", "ordinary", 10): ("#000000", "x", "control: exponential, 10 min"),
}


def figure(scores, path):
    """Coverage of one day's count, and error of the level asked for, against the true rate."""
    from matplotlib.figure import Figure

    page = Figure(figsize=(9, 4), layout="constrained")
    left, right = page.subplots(1, 2)
    for (method, name, minutes), (colour, marker, label) in LOOK.items():
        groups = [
            [s for s in pick(scores, method=method, minutes=minutes, target=r) if _set(s) == name]
            for r in TARGETS
        ]
        style = {"color": colour, "marker": marker, "label": label, "lw": 1}
        left.plot(TARGETS, [coverage(g) for g in groups], **style)
        if method == "ours":
            right.plot(TARGETS, [level_error(g)[0] for g in groups], **style)
    left.axhline(0.95, color="0.5", lw=0.8, ls="--")
    left.set(ylabel="days inside their 95 % interval", ylim=(0, 1.03))
    right.set(ylabel="median error of the level for that rate, dB", ylim=(0, None))
    for axes in (left, right):
        axes.set(xscale="log", xlabel="true firings per day", xticks=TARGETS)
        axes.set_xticklabels([str(r) for r in TARGETS])
        axes.minorticks_off()
        axes.spines[["top", "right"]].set_visible(False)
    handles = left.get_legend_handles_labels()
    right.legend(*handles, fontsize=8, frameon=False, loc="upper right")
    page.savefig(path, dpi=120, metadata={"Software": None})


def example_figure(path):
    """What a prediction looks like: firings a day against the level, with the truth beside it."""
    from matplotlib.figure import Figure

    rng = np.random.default_rng([SEED, 4])
    site = marks(rng)
    page = Figure(figsize=(9, 4), layout="constrained")
    for axes, minutes in zip(page.subplots(1, 2, sharey=True), (10.0, 60.0), strict=True):
        total = rng.poisson(site.rate * minutes / 1440)
        peaks = np.sort(rng.normal(np.repeat(site.mean, total), np.repeat(site.sd, total)))[::-1]
        levels = np.arange(66.0, 100.5, 0.5)
        visit = Visit((peaks >= levels[:, None]).sum(axis=1), 60 * minutes, peaks)
        p = predict(levels, [visit], extrapolate=True, spread=0.0)
        shown = np.maximum(p.rate_low_per_day, 0.3)
        axes.fill_between(levels, shown, p.rate_high_per_day, color="#56B4E9", alpha=0.35, lw=0)
        axes.plot(levels, p.per_day, color="#0072B2", label="best estimate and 95 % of the rate")
        truth = [site.per_day(x) for x in levels]
        axes.plot(levels, truth, color="#000000", ls="--", lw=1, label="truth")
        axes.axvline(peaks[0], color="#D55E00", lw=1, ls=":", label="loudest heard")
        axes.axvline(p.reach_db, color="#D55E00", lw=1, ls="-.", label="only a limit beyond")
        axes.set(yscale="log", ylim=(0.3, 5000), xlabel="level of the threshold, dB")
        axes.set_title(f"from {minutes:.0f} minutes", fontsize=10)
        axes.spines[["top", "right"]].set_visible(False)
    page.axes[0].set_ylabel("firings per day")
    page.axes[0].legend(fontsize=8, frameon=False, loc="upper right")
    page.savefig(path, dpi=120, metadata={"Software": None})


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", type=Path, required=True, help="folder of docs")
    parser.add_argument("--ordinary", type=int, default=100)
    parser.add_argument("--stress", type=int, default=50)
    parser.add_argument("--jobs", type=int, default=2)
    options = parser.parse_args()
    began = time.perf_counter()
    found = study(options.ordinary, options.stress, options.jobs)
    write(found, options.out / "figures")
    for line in markdown(found):
        print(line)
    for minutes in (10, 60):
        wider = widenings(["ordinary"] * 50 + list(STRESS) * 10, minutes)
        print(f"the same {minutes} min twice: width at most x {wider.max(axis=0).round(3)}")
    print(f"{time.perf_counter() - began:.0f} s")
