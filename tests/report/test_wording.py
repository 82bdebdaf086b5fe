"""Lengths of time, shares and sentences by hand, and no caution without its words."""

from math import inf

import pytest

from audiolevel.followup.decision import Reason
from audiolevel.metering.calibration import from_sensitivity
from audiolevel.planning.storage import CardLife
from audiolevel.privacy.mitigation import MitigationKind
from audiolevel.report import wording


@pytest.mark.parametrize(
    ("value", "short", "rounded"),
    [
        (0.0, "0 s", "0 s"),
        (0.05, "0.05 s", "0.05 s"),
        (1.4, "1 s", "1 s"),
        (45.0, "45 s", "45 s"),
        (750.0, "12.5 min", "12 min"),
        (7200.0, "120.0 min", "120 min"),
        (12_600.0, "210.0 min", "3.5 h"),
    ],
)
def test_lengths_of_time(value: float, short: str, rounded: str) -> None:
    assert wording.seconds(value) == short
    assert wording.span(value) == rounded


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (7.5 / 24, "7.5 h"),
        (1.99, "47.8 h"),
        (3.1, "3.1 days"),
        (40.2, "40 days"),
        (3651.0, "10 years or more"),
        (inf, "10 years or more"),
    ],
)
def test_days(value: float, said: str) -> None:
    assert wording.days(value) == said


@pytest.mark.parametrize(
    ("share", "said"), [(0.00221, "0.22 %"), (0.384, "38 %"), (0.9949, "99 %"), (0.995, "all")]
)
def test_shares_have_two_figures(share: float, said: str) -> None:
    assert wording.percent(share) == said


def test_one_is_no_plural() -> None:
    assert [wording.counted(n, "recording") for n in (0, 1, 2)] == [
        "0 recordings",
        "1 recording",
        "2 recordings",
    ]
    assert wording.counted(1, "row follows", "rows follow") == "1 row follows"
    assert wording.counted(3, "row follows", "rows follow") == "3 rows follow"
    assert wording.counted(12, "date") == "12 dates"
    assert wording.counted(1.5, "day") == "1.5 days"
    assert [wording.times(n) for n in (0, 1, 12)] == ["0 times", "once", "12 times"]


def test_every_reason_and_mitigation_has_its_words() -> None:
    assert set(wording._DECISIONS) == set(Reason)
    assert set(wording._MITIGATIONS) == set(MitigationKind)


def test_a_card_is_said_with_its_interval_or_its_limit() -> None:
    life = CardLife(5.0, 3.0, 9.0, 0.05, inf, dominated_by_other=False)
    said = "5.0 days (3.0 days to 9.0 days), with 5 % of the time recorded"
    assert wording.card_text(life) == said
    never = CardLife(inf, inf, inf, 0.0, inf, dominated_by_other=False)
    assert wording.card_text(never) == "nothing fills it"
    limited = CardLife(float("nan"), 3.0, inf, 0.05, inf, dominated_by_other=False)
    assert wording.card_text(limited) == "at least 3.0 days, by the upper limit of the count"


def test_a_calibration_says_what_it_rests_on() -> None:
    assert "data-sheet" in wording.calibration_method(from_sensitivity(-26.0))
