"""The words of a batch: totals, what stands out, what moved against an earlier one."""

from collections.abc import Sequence

from audiolevel.batch.overview import Drift, GainStep, Move, Outlier
from audiolevel.batch.runner import Batch


def totals(batch: Batch) -> str:
    """How many recordings were measured, now and before, and how many failed."""
    return (
        f"{len(batch.items)} recordings: {len(batch.items) - batch.failed} measured "
        f"({batch.measured} now), {batch.failed} failed"
    )


def findings(
    steps: Sequence[GainStep], drifts: Sequence[Drift], outliers: Sequence[Outlier]
) -> list[str]:
    """Gain steps, drift and outliers in words."""
    lines = [_step(step) for step in steps]
    lines += [_drift(drift) for drift in drifts]
    lines += [f"{one.path}: {_outlier(one)}" for one in outliers]
    return lines or ["nothing stands out"]


def _step(step: GainStep) -> str:
    error = step.standard_error_db
    sure = "one recording at a setting: not sure" if error is None else f"± {2 * error:.1f} dB"
    stated = "" if step.stated_db is None else f"; the site file says {step.stated_db:+.1f} dB"
    return (
        f"{step.site}: from gain {step.from_setting:g} to {step.to_setting:g} L50 moved by "
        f"{step.measured_db:+.1f} dB ({sure}){stated}"
    )


def _drift(drift: Drift) -> str:
    setting = "" if drift.gain_setting is None else f" at gain {drift.gain_setting:g}"
    return (
        f"{drift.site}{setting}: L90 drifts by {drift.db_per_30_days:+.1f} dB in 30 days "
        f"(± {2 * drift.standard_error_db:.1f}), {drift.visits} visits"
    )


def _outlier(one: Outlier) -> str:
    if one.from_median_db is None:
        return ", ".join(one.spoilt_by)
    way = "above" if one.from_median_db > 0 else "below"
    return f"LAeq {abs(one.from_median_db):.1f} dB {way} the median of its site"


def _move(one: Move) -> str:
    if one.key is None:
        before, now = ("not there", "there") if one.before is None else ("there", "not there")
        return f"{one.path}: recording was {before}, is {now}"
    return f"{one.path}: {one.key} was {_value(one.before)}, is {_value(one.now)}"


def _value(value: float | str | None) -> str:
    return f"{value:g}" if isinstance(value, int | float) else str(value)


def moves(moved: Sequence[Move], tolerance_db: float) -> list[str]:
    """What is not as it was."""
    if not moved:
        return [f"nothing moved by more than {tolerance_db:g} dB"]
    lines = [_move(one) for one in moved]
    return [f"moved by more than {tolerance_db:g} dB: {len(lines)} values", *lines]
