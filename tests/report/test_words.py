"""Words that all commands share, by hand: no count alone, a sentence for every caution."""

import re
from dataclasses import replace
from inspect import Parameter, signature
from math import inf, nan

import numpy as np
import pytest

from audiolevel.counting.expected import Expected
from audiolevel.followup.decision import Reason
from audiolevel.ground.intervals import Interval
from audiolevel.ground.notices import notice
from audiolevel.metering.calibration import Scale, fit_display, from_sensitivity
from audiolevel.planning.choice import Choice
from audiolevel.planning.evidence import Evidence
from audiolevel.planning.option import Option
from audiolevel.planning.plan import SitePlan
from audiolevel.planning.storage import CardLife
from audiolevel.privacy.mitigation import Mitigation, MitigationKind
from audiolevel.report.words import cautions, decisions, quantities, reasons
from audiolevel.report.words import settings as words
from audiolevel.sounds.variation import Variation
from audiolevel.triggers.trigger import Trigger
from tests.made_street import plan


@pytest.mark.parametrize(
    ("value", "said"),
    [
        *((0.0, "0"), (0.049, "0"), (0.26, "0.3"), (0.953, "1"), (0.96, "1")),
        *((4.14, "4.1"), (8.0, "8")),
        *((9.96, "10"), (38.2, "38"), (1640.0, "1,600"), (12_345.0, "12,000")),
        *((nan, "?"), (inf, "?")),
    ],
)
def test_a_count_has_two_figures(value: float, said: str) -> None:
    assert quantities.count(value) == said


@pytest.mark.parametrize(
    ("per_day", "said"),
    [
        *((12.3, "12 a day"), (0.7, "0.7 a day"), (0.5, "one in 2 days"), (0.1, "one in 10 days")),
        *((0.06, "22 a year"), (0.003, "1.1 a year"), (0.0027, "less than one a year")),
        (0.0, "less than one a year"),
    ],
)
def test_what_is_rare_is_told_in_days_or_years(per_day: float, said: str) -> None:
    assert quantities.often(per_day) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [(0.0, "0 s"), (0.05, "0.05 s"), (1.4, "1 s"), (750.0, "12 min"), (12_600.0, "3.5 h")],
)
def test_lengths_of_time(value: float, said: str) -> None:
    assert quantities.span(value) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [
        *((7.5 / 24, "7.5 h"), (1.99, "48 h"), (3.1, "3.1 days"), (40.2, "40 days")),
        # a year of 365.25 days has twelve months of 30.4
        *((425.0, "14 months"), (1000.0, "2.7 years"), (3651.0, "10 years or more")),
        (inf, "10 years or more"),
    ],
)
def test_days(value: float, said: str) -> None:
    assert quantities.days(value) == said


@pytest.mark.parametrize(
    ("share", "said"),
    [
        *((0.0, "0 %"), (3e-6, "under 0.01 %"), (0.00221, "0.22 %"), (0.384, "38 %")),
        *((0.9949, "99 %"), (0.995, "100 %")),
    ],
)
def test_shares_have_two_figures(share: float, said: str) -> None:
    assert quantities.percent(share) == said


@pytest.mark.parametrize(
    ("value", "said"),
    [
        *((0.0, "0.1 m"), (0.04, "0.1 m"), (9.94, "9.9 m"), (9.96, "10 m"), (23.4, "23 m")),
        (inf, "over 300 m"),
    ],
)
def test_a_distance_is_never_none(value: float, said: str) -> None:
    assert quantities.metres(value) == said
    assert quantities.up_to(value) == (said if value == inf else f"up to {said}")


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (Interval(None, 0.0, 0.0), "none"),
        (Interval(None, 0.0, 3.0), "fewer than 3 min a day"),
        (Interval(12.0, 4.0, 30.0), "12 min a day (4 to 30)"),
    ],
)
def test_minutes_stand_with_their_interval(minutes: Interval, said: str) -> None:
    assert quantities.minutes_a_day(minutes) == said


def test_one_is_no_plural() -> None:
    counted = quantities.counted
    assert [counted(n, "recording") for n in (0, 1)] == ["0 recordings", "1 recording"]
    assert counted(1, "row follows", "rows follow") == "1 row follows"
    assert counted(3, "row follows", "rows follow") == "3 rows follow"
    assert counted(1.5, "day") == "1.5 days"
    assert [quantities.times(n) for n in (0, 1, 12)] == ["0 times", "once", "12 times"]


# --- settings ------------------------------------------------------------------------------------


def test_what_to_set_is_one_phrase_with_the_cameras_own_number() -> None:
    level = Trigger("threshold", -38.0)
    # a scale that shows 80 at −20 dB FS and 40 at −60: 62 at −38
    display = fit_display([(40.0, -60.0), (80.0, -20.0)])
    said = words.to_set(level, -12.0, 2.0, Scale(110.0), display)
    # 12 dB less gain: 110 + 12 − 38 = 84 dB SPL
    assert said.startswith(
        "gain 2 (-12 dB from the recording's); threshold at 84 dB SPL, on the camera 62 ± "
    )
    blind = words.to_set(level, 0.0, None, Scale(), None)
    assert blind == (
        "gain as recorded; threshold at -38 dB FS (its number on the camera is not known: "
        "audiolevel calibrate)"
    )
    rise = words.to_set(Trigger("rise", 12.0), 0.0, None, Scale(), display)
    assert rise == "gain as recorded; rise of 12 dB within 1 s"


def test_a_count_stands_with_its_limits_or_with_its_limit_alone() -> None:
    rate, day = Interval(38.2, 20.1, 61.7), Interval(None, 15.0, 70.0)
    one = Expected(rate, rate, day, "counted", 12, 1200.0, 0.9)
    assert words.expected(one) == (
        "38 a day; 90 % sure: 20 to 62 a day on average, 15 to 70 on a single day "
        "(counted, 12 seen in 20 min)"
    )
    assert words.rate(one) == "38 a day (20 to 62)"
    # one in 2 days is 0.5 a day, and the interval stays one of a day
    seldom = replace(one, rate=Interval(0.5, 0.0, 4.7))
    assert words.rate(seldom) == "one in 2 days (0 to 4.7 a day)"
    assert words.rate(replace(one, rate=Interval(8 / 365.25, 0.0, 0.3))) == (
        "8 a year (0 to 0.3 a day)"
    )
    none = Interval(None, 0.0, 123.0)
    one = Expected(none, none, none, "upper limit", 0, 1200.0, 0.95)
    assert words.expected(one).startswith("fewer than 120 a day (95 % sure); none was heard in 20")


def test_a_card_is_said_with_its_interval_or_its_limit() -> None:
    life = CardLife(5.0, 3.0, 9.0, 0.05, inf, dominated_by_other=False)
    assert words.card_text(life) == "5 days (3 days to 9 days), with 5 % of the time recorded"
    never = CardLife(inf, inf, inf, 0.0, inf, dominated_by_other=False)
    assert words.card_text(never) == "nothing fills it"
    limited = CardLife(nan, 3.0, inf, 0.05, inf, dominated_by_other=False)
    assert words.card_text(limited) == "at least 3 days, by the upper limit of the count"


# --- cautions, decisions -------------------------------------------------------------------------


def test_a_sentence_is_named_by_its_source() -> None:
    silent = notice("silent")
    assert cautions.notice_text(silent.of("a.wav")) == f"a.wav: {cautions.notice_text(silent)}"


@pytest.mark.parametrize("known", sorted(cautions.known_notices()))
def test_one_of_something_is_said_in_the_singular(known: tuple[str, str]) -> None:
    said_by = cautions._SENTENCES[known]
    facts: dict[str, float] = {}
    for name, one in signature(said_by).parameters.items():
        if one.kind is Parameter.VAR_KEYWORD:
            facts |= {"days_kept": 1, "low_days": 1, "high_days": 1, "recorded_share": 1}
        else:
            facts[name] = 1
    # "1 of 1 rows" is right
    many = r"(?<!of )\b1 (?:more )?(?:times|gaps|rows|firings|minutes|days|stretches|marks)\b"
    assert not re.findall(many, said_by(**facts))


def test_advice_names_the_hours_and_the_distance() -> None:
    told = cautions.advice_text(notice("hours not heard", blocks="evening 19 23;night 23 7"))
    assert told.endswith("the evening (19 to 23 h), the night (23 to 7 h)")
    nearer = notice("nearer", "marked", sound="shout", lacking_db=6.02)
    assert "shout would have to arrive 6.0 dB louder" in cautions.advice_text(nearer)


def test_every_danger_of_the_work_is_named_and_the_law_goes_first() -> None:
    said = " ".join(cautions.ON_SITE).lower()
    for danger in ("ladder", "traffic", "mains", "hearing", "consent", "law"):
        assert danger in said


def test_every_reason_and_mitigation_has_its_words() -> None:
    assert set(decisions._DECISIONS) == set(Reason)
    assert set(decisions._MITIGATIONS) == set(MitigationKind)
    assert "data-sheet" in decisions.calibration_method(from_sensitivity(-26.0))


@pytest.mark.parametrize(
    ("kind", "facts", "said"),
    [
        (MitigationKind.HIGHER_SETTING, {"mode": "rise", "by_db": 6.0}, "a step 6 dB higher"),
        (MitigationKind.FEWER_HOURS, {"from_hour": 23, "to_hour": 7}, "active from 23:00 to 07:00"),
        (MitigationKind.DELETION, {"days": 3.0, "card_days": 50.4}, "would keep 50 days"),
        (MitigationKind.LOW_PASS, {"hz": 4000.0, "db_per_octave": 24.0}, "4 kHz, 24 dB"),
    ],
)
def test_a_way_to_capture_less_says_what_is_done(
    kind: MitigationKind, facts: dict[str, float | str], said: str
) -> None:
    one = Mitigation(kind, None, None, None, facts=facts)
    assert said in decisions.mitigation_text(one)
    weaker = replace(one, weaker_db={"horn": 3.4, "shout": 12.0})
    assert decisions.mitigation_cost(weaker) == "weaker by horn 3 dB, shout 12 dB"


# --- reasons of a plan ---------------------------------------------------------------------------


def _with(**changes: object) -> SitePlan:
    made = plan()
    option = made.recommended
    assert option is not None
    changed: Option = replace(option, **changes)  # type: ignore[arg-type]  # fields by name
    return replace(made, choice=replace(made.choice, recommended=changed))


def test_hours_are_told_as_runs() -> None:
    said = reasons.hours_not_heard
    assert said([0]).startswith("00-01 h not heard")
    assert said([0, 1, 2, 5, 22, 23]).startswith("00-03, 05-06, 22-24 h not heard")
    assert said(range(24)).startswith("00-24 h not heard")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {"basis": "safe", "margin_db": 4.25, "highest_catching_db": -20.0, "caught": "surely"},
            "even at worst, with 4.2 dB to spare",
        ),
        (
            {"basis": "safe", "highest_catching_db": -20.0, "caught": "best"},
            "80 % of the time by the best estimate, though less is possible",
        ),
        ({"basis": "safe", "margin_db": 4.0, "highest_catching_db": None}, "the lowest that does"),
        ({"basis": "best", "margin_db": 1.0}, "by the best estimate, not yet with 90 % certainty"),
        (
            {"basis": "safe", "margin_db": -3.0, "highest_catching_db": -np.inf, "caught": "none"},
            "and catches the wanted sounds less than 80 % of the time",
        ),
    ],
)
def test_the_reason_follows_the_margin(changes: dict[str, object], said: str) -> None:
    assert said in reasons.reason(_with(**changes))
    assert reasons.reason(_with(**changes)).startswith("It keeps 300 a day")


def test_what_is_caught_least_is_named() -> None:
    option = plan().recommended
    assert option is not None
    horn = option.curve.detections[0]
    half = replace(horn, probability=np.full(len(horn.probability), 0.5))
    told = reasons.reason(_with(curve=replace(option.curve, detections=(half,))))
    assert "Caught least: vehicle horn at 4 m 50 %" in told
    none = replace(option.curve, detections=())
    assert "What it misses is not known" in reasons.reason(_with(curve=none))
    nothing = replace(plan(), choice=Choice("silent", None, (), ()))
    assert reasons.reason(nothing) == "No setting can be defended from this recording"


def test_what_marked_sounds_taught_is_one_line() -> None:
    before = Variation(0.0, 4.7, 3.0)
    offsets = (-6.0, -5.0, -4.02)
    told = reasons.evidence_line(Evidence("horn", offsets, before, before.taught(offsets), False))
    # precisions 1/9 and 3/22.09: the mean moves by 0.55 of −5.01, known to ±2 · 2.01
    assert told == (
        "horn, 3 marked: -5.0 dB from the level worked out; its mean level is moved by -2.8 dB "
        "and known to ±4.0 dB (without the marks to ±6.0)"
    )
    leaning = before.taught(offsets, lean=True)
    told = reasons.evidence_line(Evidence("horn", offsets, before, leaning, True))
    assert "moved by -5.0 dB, by the marks alone, and known to ±5.4 dB" in told
