"""What does a person on a ladder read: lines of at most 80 columns.

The words that several commands share: counts, spans, settings, wrapped entries. Every count stands
with its interval, every level with its unit.
"""

import textwrap
from collections.abc import Iterable
from math import floor, isfinite, log10

from audiolevel.counting.rates import Prediction
from audiolevel.metering.calibration import Scale
from audiolevel.notices import Notice
from audiolevel.report.wording import notice_text
from audiolevel.triggers.trigger import Trigger

WIDTH = 80
LABEL_WIDTH = 12


def count(value: float) -> str:
    """A count to two figures, more would claim too much: 0, 0.3, 4.1, 38, 1,600."""
    if not isfinite(value):
        return "?"
    if value < 0.05:
        return "0"
    digits = 1 - floor(log10(value))
    rounded = round(value, digits)
    return f"{rounded:,.{max(digits, 0)}f}" if rounded < 10 else f"{rounded:,.0f}"


def span(seconds: float) -> str:
    """A length of time: 45 s, 12 min, 3.5 h."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 3 * 3600 else f"{seconds / 3600:.1f} h"


def entry(label: str, text: str) -> list[str]:
    """A label and its text, wrapped beside it."""
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=f"{label:<{LABEL_WIDTH}}",
        subsequent_indent=" " * LABEL_WIDTH,
        break_on_hyphens=False,
        break_long_words=False,
    ) or [label]


def bullets(sign: str, texts: Iterable[str]) -> list[str]:
    """One wrapped paragraph a text, each behind a sign."""
    lines = []
    for text in texts:
        lines += textwrap.wrap(
            text,
            WIDTH,
            initial_indent=f"  {sign} ",
            subsequent_indent="    ",
            break_on_hyphens=False,
        )
    return lines


def warnings(cautions: Iterable[Notice]) -> list[str]:
    """The cautions, each with its code."""
    lines = bullets("!", (f"{caution.code}: {notice_text(caution)}" for caution in cautions))
    return ["", "Take care", *lines] if lines else []


def setting(trigger: Trigger, gain_db: float, scale: Scale) -> str:
    """A trigger in words: `threshold at 84.5 dB SPL`, `rise of 12 dB within 1 s`."""
    if trigger.mode == "threshold":
        return f"threshold at {scale.shown(trigger.at_db, gain_db):g} {scale.unit}"
    return f"{trigger.mode} of {trigger.at_db:g} dB within {trigger.window_s:g} s"


def gain(gain_db: float, gain_setting: float | None) -> str:
    """A gain in words: `gain setting 2 (as recorded)`, `gain -12 dB from the recording's`."""
    relative = "as recorded" if gain_db == 0 else f"{gain_db:+g} dB from the recording's"
    return f"gain {relative}" if gain_setting is None else f"gain {gain_setting:g} ({relative})"


def expected(prediction: Prediction, row: int) -> str:
    """Firings a day with their limits; never a number alone."""
    low, high = prediction.rate_low_per_day[row], prediction.rate_high_per_day[row]
    sure = f"{100 * prediction.confidence:g} %"
    if prediction.method[row] == "upper limit":
        return (
            f"fewer than {count(high)} a day ({sure}); none in {span(prediction.heard_s)}, "
            "so no best estimate"
        )
    one_low, one_high = prediction.low_per_day[row], prediction.high_per_day[row]
    return (
        f"{count(prediction.per_day[row])} a day; {sure} sure: the rate {count(low)} to "
        f"{count(high)}, a single day {count(one_low)} to {count(one_high)} "
        f"({prediction.method[row]}, {prediction.count[row]} seen in {span(prediction.heard_s)})"
    )
