"""Words that several commands share: two figures, 80 columns, never a count alone."""

from math import inf, nan

import pytest

from audiolevel.counting.expected import Expected
from audiolevel.intervals import Interval
from audiolevel.metering.calibration import Scale
from audiolevel.notices import notice
from audiolevel.report.text import (
    LABEL_WIDTH,
    WIDTH,
    bullets,
    count,
    entry,
    expected,
    gain,
    heading,
    setting,
    warnings,
)
from audiolevel.triggers.trigger import Trigger


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0.0, "0"),
        (0.049, "0"),
        (0.26, "0.26"),
        (4.14, "4.1"),
        (9.96, "10"),
        (38.2, "38"),
        (1640.0, "1,600"),
        (12_345.0, "12,000"),
        (nan, "?"),
        (inf, "?"),
    ],
)
def test_a_count_has_two_figures(value: float, said: str) -> None:
    assert count(value) == said


@pytest.mark.parametrize("words", [1, 5, 40, 200])
def test_lines_are_80_columns_and_no_word_is_lost(words: int) -> None:
    text = " ".join(f"word-{number}" for number in range(words))
    lines = entry("label", text)
    assert max(map(len, lines)) <= WIDTH == 80
    assert lines[0].startswith("label       word-0")
    assert all(line.startswith(" " * LABEL_WIDTH) for line in lines[1:])
    assert " ".join(lines).split()[1:] == text.split()
    listed = bullets("-", [text, text])
    assert max(map(len, listed)) <= WIDTH
    assert sum(line.startswith("  - ") for line in listed) == 2
    assert entry("label", "") == ["label"]


def test_a_heading_is_one_line_where_it_fits() -> None:
    assert heading("lane.wav: 3 min") == ["lane.wav: 3 min"]
    long = heading(", ".join(f"visit_{number}.wav" for number in range(12)))
    assert len(long) == 2
    assert max(map(len, long)) <= WIDTH
    assert long[1].startswith("  visit_6")


def test_settings_and_gains_in_words() -> None:
    level = Trigger("threshold", -38.0)
    assert setting(level, 0.0, Scale()) == "threshold at -38 dB FS"
    # at 12 dB more gain the same dB FS is 12 dB less sound pressure
    assert setting(level, 12.0, Scale(110.0)) == "threshold at 60 dB SPL"
    assert setting(Trigger("rise", 12.0), 0.0, Scale()) == "rise of 12 dB within 1 s"
    assert gain(0.0, None) == "gain as recorded"
    assert gain(-12.0, 2.0) == "gain 2 (-12 dB from the recording's)"


def test_a_count_stands_with_its_limits_or_with_its_limit_alone() -> None:
    rate, day = Interval(38.2, 20.1, 61.7), Interval(None, 15.0, 70.0)
    said = expected(Expected(rate, rate, day, "counted", 12, 1200.0, 0.9))
    assert said == (
        "38 a day; 90 % sure: 20 to 62 on average, 15 to 70 on a single day "
        "(counted, 12 seen in 20 min)"
    )
    none = Interval(None, 0.0, 123.0)
    said = expected(Expected(none, none, none, "upper limit", 0, 1200.0, 0.95))
    assert said == "fewer than 120 a day (95 %); none counted in 20 min, so no best estimate"


def test_cautions_have_a_heading_only_where_there_are_some() -> None:
    assert warnings([]) == []
    lines = warnings([notice("silent")])
    assert lines[:2] == ["", "Take care"]
    assert lines[2].startswith("  ! silent: holds only digital silence")
