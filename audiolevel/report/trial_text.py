"""A trial in lines of 80 columns."""

from collections.abc import Sequence
from itertools import groupby

from audiolevel.metering.calibration import Scale
from audiolevel.notices import Notice
from audiolevel.planning.trial import Trial
from audiolevel.report.text import entry, expected, gain, heading, setting, warnings
from audiolevel.report.wording import span, times

_TIMES_LISTED = 12


def as_text(trials: Sequence[Trial], scale: Scale, notices: Sequence[Notice]) -> str:
    """Each gain's firings by recording, and what is expected of them all together."""
    lines: list[str] = []
    for _, group in groupby(trials, key=lambda trial: trial.gain.gain_db):
        at_gain = list(group)
        for trial in at_gain:
            lines += _fired(trial, scale, named=len(at_gain) > 1)
        # the prediction is of all recordings together, so it is said once
        lines += entry("  expect", expected(at_gain[0].expected))
    return "\n".join([*lines, *warnings(notices)])


def _fired(trial: Trial, scale: Scale, *, named: bool) -> list[str]:
    gain_db, clipped_share = trial.gain.gain_db, trial.gain.clipped_share
    name = f"{trial.measurement.path.name}: " if named else ""
    lines = heading(f"{name}{setting(trial.trigger, gain_db, scale)}, {gain(gain_db, None)}")
    clipped = f"; {100 * clipped_share:.2g} % of the samples clip" if clipped_share > 0 else ""
    fired = f"{times(len(trial.firings))} in {span(trial.measurement.duration_s)}"
    lines += entry("  fired", f"{fired}{not_counted(trial)}{clipped}")
    if trial.firings:
        listed = ", ".join(_seconds(time) for time, _ in trial.firings[:_TIMES_LISTED])
        more = ", …" if len(trial.firings) > _TIMES_LISTED else ""
        lines += entry("  at (s)", listed + more)
    return lines


def not_counted(trial: Trial) -> str:
    """How many of its firings are wanted sounds, behind their number; "" where none is."""
    marked = sum(trial.marked)
    where = "a marked stretch" if marked == 1 else "marked stretches"
    return f" ({marked} in {where}, not counted)" if marked else ""


def _seconds(time: float) -> str:
    """To the hundredth; rows of a coarse log may end between two."""
    return f"{time:.2f}" if round(time, 2) == time else f"{time:.3f}"
