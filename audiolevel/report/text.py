"""What does a person on a ladder read: lines of at most 80 columns.

The words that several commands share: counts, spans, settings, wrapped entries. Every count stands
with its interval, every level with its unit.
"""

import re
import textwrap
from collections.abc import Iterable
from math import floor, isfinite, log10
from typing import Any

from audiolevel.counting.expected import Expected
from audiolevel.metering.calibration import Scale
from audiolevel.names import plain
from audiolevel.notices import Notice
from audiolevel.report.sentences import notice_text
from audiolevel.report.wording import span
from audiolevel.site.sections import setting_name
from audiolevel.triggers.trigger import Trigger

WIDTH = 80
LABEL_WIDTH = 12
# wrapped like any other space
_SPACE = re.compile("[\t-\r]")


def count(value: float) -> str:
    """A count to two figures, more would claim too much: 0, 0.3, 4.1, 38, 1,600."""
    if not isfinite(value):
        return "?"
    if value < 0.05:
        return "0"
    # decimals that leave two figures; below zero for tens and hundreds
    digits = 1 - floor(log10(value))
    rounded = round(value, digits)
    # no decimals from ten on, also where 9.96 has become 10
    return f"{rounded:,.{max(digits, 0)}f}" if rounded < 10 else f"{rounded:,.0f}"


def together(text: str, **how: Any) -> list[str]:
    """Lines of `WIDTH` columns in which a number and its % are not parted; `how` of textwrap."""
    # textwrap breaks at no space but the plain one
    one_line = plain(_SPACE.sub(" ", text))
    lines = textwrap.wrap(one_line.replace(" %", "\N{NO-BREAK SPACE}%"), WIDTH, **how)
    return [line.replace("\N{NO-BREAK SPACE}%", " %") for line in lines]


def entry(label: str, text: str, *, break_long_words: bool = False) -> list[str]:
    """A label and its text, wrapped beside it."""
    return together(
        text,
        initial_indent=f"{label:<{LABEL_WIDTH}}",
        subsequent_indent=" " * LABEL_WIDTH,
        break_on_hyphens=False,
        break_long_words=break_long_words,
    ) or [label]


def heading(text: str) -> list[str]:
    """What stands above a text, wrapped where names make it long."""
    return together(text, subsequent_indent="  ", break_on_hyphens=False, break_long_words=False)


def bullets(sign: str, texts: Iterable[str]) -> list[str]:
    """One wrapped paragraph a text, each behind a sign."""
    lines = []
    for text in texts:
        lines += together(
            text,
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


def gain(gain_db: float, gain_setting: float | str | None) -> str:
    """A gain in words: `gain setting 2 (as recorded)`, `gain -12 dB from the recording's`."""
    relative = "as recorded" if gain_db == 0 else f"{gain_db:+g} dB from the recording's"
    return (
        f"gain {relative}"
        if gain_setting is None
        else f"gain {setting_name(gain_setting)} ({relative})"
    )


def expected(one: Expected) -> str:
    """Firings a day with their limits; never a number alone."""
    sure, heard = f"{100 * one.confidence:g} %", span(one.heard_s)
    if one.rate.best is None:
        return (
            f"fewer than {count(one.rate.high)} a day ({sure}); none counted in "
            f"{heard}, so no best estimate"
        )
    return (
        f"{count(one.rate.best)} a day; {sure} sure: {count(one.rate.low)} to "
        f"{count(one.rate.high)} on average, {count(one.count.low)} to {count(one.count.high)} "
        f"on a single day ({GROUNDS[one.method]}, {one.seen} seen in {heard})"
    )


# what a figure stands on
GROUNDS = {
    "counted": "counted",
    "extrapolated": "worked out from the loudest sounds heard",
    "upper limit": "none was heard, so only an upper limit is known",
}
