"""What a trial, a measurement, a follow-up, a review, a batch … say, against their own figures."""

import html
import itertools
import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from inspect import signature
from typing import Any

import numpy as np
import pytest

from audiolevel.batch.changes import ALL_LEVELS, Move
from audiolevel.batch.discovery import Item
from audiolevel.batch.faults import Fault, Heard
from audiolevel.batch.overview import Drift, GainStep
from audiolevel.batch.runner import Batch
from audiolevel.followup.plan_file import expectation_of
from audiolevel.followup.verdict import Followup, follow
from audiolevel.ground.notices import notice
from audiolevel.metering.annotations import Mark
from audiolevel.metering.calibration import Calibration, CalibrationMethod, DisplayLine, Scale
from audiolevel.metering.gain_control import Steadiness
from audiolevel.metering.instrument import Instrument
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.own_noise import OwnNoise
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.recordings import recording_of_array
from audiolevel.planning.survey import survey_of
from audiolevel.planning.trial import trials_of
from audiolevel.privacy.read_aloud import Reading
from audiolevel.privacy.review import Review, make_review
from audiolevel.report.batch import document as batch
from audiolevel.report.calibrate.document import calibrate_document, site_file_sections
from audiolevel.report.document import (
    Block,
    Document,
    Fact,
    Paragraph,
    Points,
    Section,
    Table,
    as_object,
)
from audiolevel.report.followup.document import (
    followup_document,
    p_value_text,
    set_text,
    verdict_text,
)
from audiolevel.report.followup.figure import pictures_of
from audiolevel.report.followup.page import followup_page
from audiolevel.report.measure.document import measure_document, measurements_document
from audiolevel.report.measure.json import recording_json
from audiolevel.report.privacy.assessment import assessment
from audiolevel.report.privacy.document import review_document
from audiolevel.report.privacy.figure import radii_and_index
from audiolevel.report.privacy.page import review_page
from audiolevel.report.privacy.rings import rings
from audiolevel.report.sounds.document import rendering_document, sounds_document
from audiolevel.report.text import brief, whole
from audiolevel.report.trial.document import trial_document
from audiolevel.report.words import faults
from audiolevel.report.words.decisions import decision_text
from audiolevel.report.words.quantities import metres
from audiolevel.site.sections import Place, Site
from audiolevel.sounds.catalogue import SOUNDS, find
from tests.batch.test_overview import record_with
from tests.followup.made_log import log_of, plan_of, spread_over
from tests.made_street import RATE_HZ, SITE, heard, survey, wave_of
from tests.privacy.made_review import SITE as ROAD
from tests.privacy.made_review import plan_and_analysis, review_of


def _whole(made: Document) -> str:
    said = whole(made)
    assert max(map(len, said.splitlines())) <= 80
    return " ".join(said.split())


def _brief(made: Document) -> str:
    lines = brief(made, "--full").splitlines()
    assert len(lines) <= 20
    assert max(map(len, lines)) <= 80
    return " ".join(" ".join(lines).split())


def _words(page: str) -> str:
    body = page.partition("<main>")[2].partition("<script")[0]
    text = re.sub(r"<svg.*?</svg>", " ", body, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


# --- trial ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(("mode", "at"), [("threshold", 80.0), ("rise", 15.0)])
def test_a_trial_of_several_gains_is_a_row_a_gain(mode: str, at: float) -> None:
    trials = trials_of(survey(), SITE.trigger.trigger(mode, at))
    made = trial_document(survey(), trials, [])
    (table,) = [one for one in made.sections[0].blocks if isinstance(one, Table)]
    # a step is the same wherever nothing clips: those two gains are one row
    names = [row[0] for row in table.rows]
    assert names == (
        ["low (-12 dB), mid (as recorded)", "high (+18 dB)"]
        if mode == "rise"
        else ["low (-12 dB)", "mid (as recorded)", "high (+18 dB)"]
    )
    rows = table.rows if mode == "threshold" else (table.rows[0], *table.rows)
    for row, one in zip(rows, trials, strict=True):
        assert row[-3] == f"{len(one.firings)}, 1 marked"
        assert f"{len(one.firings)}, 1 marked 3 min" in _whole(made)
        assert f"{one.firings[0][0]:.2f}" in _whole(made)
        shown = row[1].split(" ± ")[0] if mode == "threshold" else ""
        # by hand: a level of 20 is −60 dB FS, one of 60 is −20
        at_db = at + one.gain.gain_db - 110.0
        assert shown == ("" if mode == "rise" else f"{at_db + 80:.3g}")
    assert "95 % sure" in _brief(made)
    assert "a day counts its active hours: 12 h a day" in _brief(made)


def test_one_gain_is_told_as_facts_with_its_number_on_the_camera() -> None:
    trials = trials_of(survey(), SITE.trigger.trigger("threshold", 80.0))
    (one,) = [trial for trial in trials if trial.gain.gain_db == 0]
    said = _brief(trial_document(survey(), [one], []))
    assert "tried gain mid (as recorded); threshold at 80 dB SPL, on the camera 50 ±" in said
    assert f"fired {len(one.firings)} times in 3 min (1 in a marked stretch, not counted)" in said
    listed = [f"{time:.2f}" for time, _ in one.firings[:12]]
    assert f"at (s) {', '.join(listed)}" in said
    assert f"{len(one.firings) - 12} more" in said


def test_firings_that_are_all_wanted_are_said_not_to_count() -> None:
    trigger = SITE.trigger.trigger("threshold", 80.0)
    (plain, *_) = trials_of(survey(marks=()), trigger)
    # all but the longest time without a firing
    at_s = [0.0, *(time for time, _ in plain.firings), 180.0]
    _, begin_s, end_s = max((b - a, a, b) for a, b in itertools.pairwise(at_s))
    assert end_s - begin_s > 12.0
    marks = (Mark(0.0, begin_s + 0.5, "shout"), Mark(end_s - 0.5, 180.0, "shout"))
    marked = survey(marks=marks)
    (trial, *_) = trials_of(marked, trigger)
    said, many = _brief(trial_document(marked, [trial], [])), len(trial.firings)
    assert many > 1
    assert f"fired {many} times in 3 min ({many} in marked stretches, not counted)" in said
    # less than that time: a mark takes its settling too
    found = re.search(r"none was heard in (\d+) s", said)
    assert found is not None
    assert 10 < int(found[1]) < end_s - begin_s


def test_several_recordings_are_expected_together() -> None:
    parts = [heard(wave=wave_of(60.0, seed), name=f"{seed}.wav") for seed in (1, 2)]
    both = survey_of(parts, SITE, place_wanted=False)
    trials = trials_of(both, SITE.trigger.trigger("rise", 8.0))
    made = trial_document(both, trials, [])
    assert "120 s heard" in _brief(made) or "2 min heard" in _brief(made)
    (table,) = [one for one in made.sections[0].blocks if isinstance(one, Table)]
    seen = [sum(len(one.firings) for one in trials[i : i + 2]) for i in range(0, 6, 2)]
    assert len(set(seen)) == 1
    assert {row[-3] for row in table.rows} == {str(many) for many in seen}


# --- measurement ---------------------------------------------------------------------------------


def _two_channels() -> Measurement:
    both = np.column_stack([wave_of(10.0, 1), np.clip(30 * wave_of(10.0, 1), -1, 1)])
    return measure(recording_of_array(both, RATE_HZ, "a_name_of_some_length_from_the_gate.wav"))


@pytest.mark.parametrize("scale", [Scale(), Scale(110.0)])
@pytest.mark.parametrize("one", [heard(), _two_channels()], ids=["mono", "stereo"])
def test_every_level_of_the_json_stands_in_the_text(one: Measurement, scale: Scale) -> None:
    made = measure_document(one, quality_notices(one, scale), scale)
    told = recording_json(one, [], scale)
    levels = [told[key] for key in told if key.startswith("l") and key.endswith("_db")]
    for level in [*levels, *told["percentiles_db"].values()]:
        # the JSON is rounded to hundredths before, so a tenth may differ in its last place
        assert any(f"{level + by:.1f}" in _whole(made) for by in (0.0, 0.005, -0.005))
    assert f"levels in {scale.unit}" in _brief(made)


def test_clipping_and_channels_are_said() -> None:
    said = _whole(measure_document(_two_channels(), [], Scale()))
    assert "2 channels" in said
    assert "channel 2 LAeq" in said
    assert "clipping heavy" in said
    assert "no sample at full scale" in _whole(measure_document(heard(), [], Scale()))


@pytest.mark.parametrize(
    ("peak", "said"),
    [(1.0, "0.0 dB below"), (0.5, "6.0 dB below"), (2.0, "6.0 dB above"), (1.001, "0.0 dB below")],
)
def test_the_highest_sample_is_below_full_scale_or_above(peak: float, said: str) -> None:
    wave = 0.1 * np.sin(np.arange(3 * RATE_HZ))
    wave[RATE_HZ] = -peak
    made = measure_document(measure(recording_of_array(wave, RATE_HZ)), [], Scale())
    assert f"highest sample {said}" in _whole(made)


def test_what_never_rose_has_no_largest_onset() -> None:
    steady = measure(recording_of_array(np.zeros(5 * RATE_HZ), RATE_HZ))
    assert "largest" not in _whole(measure_document(steady, [], Scale()))
    assert "largest" in _whole(measure_document(heard(), [], Scale()))


def test_several_measurements_stand_beside_each_other_first() -> None:
    judged = [(heard(name=f"{i}.wav"), quality_notices(heard(), Scale())) for i in range(30)]
    made = measurements_document(judged, Scale())
    assert made.title == "30 recordings"
    laeq = f"{heard().levels.laeq_db:.1f}"
    assert f"0.wav 3 min {laeq}" in _brief(made)
    assert f"29.wav 3 min {laeq}" in _whole(made)


def test_a_caution_of_every_recording_is_said_once_and_another_by_its_name() -> None:
    judged = [
        (heard(name="a.wav"), [notice("uncalibrated")]),
        (heard(name="b.wav"), [notice("uncalibrated"), notice("truncated")]),
    ]
    for said in (_brief(made := measurements_document(judged, Scale())), _whole(made)):
        assert said.count("see audiolevel calibrate") == 1
        assert "truncated: b.wav: " in said
        assert "uncalibrated: levels" in said


def test_no_fault_is_told_by_its_kind_alone() -> None:
    # the kind stands in front of what is wrong, and would be said twice
    for kind, (words, _) in faults._FAULTS.items():
        names = signature(words).parameters
        said = words(**{name: "b.wav" if name == "of" else 0.5 for name in names})
        assert said
        assert not said.startswith(kind), kind


# --- follow-up -----------------------------------------------------------------------------------


def _followed(count: int, **changed: Any) -> Followup:
    made = plan_of(**{"by_hour": (40 / 24,) * 24, **changed})
    return follow(expectation_of(made), [(log_of(spread_over(count)), 75.0)])


@pytest.mark.parametrize(
    ("count", "verdict"),
    [
        (70, "the limit of 40 a day is kept; fewer firings"),
        (280, "the limit of 40 a day was passed in this log, by no more than chance may bring; as"),
        (980, "the limit of 40 a day is passed; more firings"),
    ],
)
def test_what_to_set_comes_first_and_every_date_and_hour_is_there(count: int, verdict: str) -> None:
    result = _followed(count)
    page = _words(followup_page(result, "<i>lane</i>", pictures_of(result)))
    for said in (_whole(followup_document(result, "lane")), page):
        places = [said.index(one) for one in ("SET NOW", f"VERDICT {verdict}", "because")]
        assert places == sorted(places)
        assert decision_text(result.decision) in said
        for one in (*result.last.by_day, *result.last.by_hour):
            interval = f"{one.expected.low:.0f} to {one.expected.high:.0f} {one.observed}"
            assert f"{one.name} {one.covered_h:.1f} {one.expected.best:.0f} {interval}" in said
    assert f"SET NOW {set_text(result)}" in _brief(followup_document(result, "lane"))


def test_an_upper_limit_has_no_best_estimate() -> None:
    result = _followed(300, per_day=None, method="upper limit", by_hour=None)
    said = _whole(followup_document(result, "lane"))
    assert "no best estimate" in said
    assert verdict_text(result).endswith("; the plan gave only an upper limit")


@pytest.mark.parametrize(
    ("p_value", "cases"),
    [
        *((1.0, "nearly every case"), (0.89, "9 of 10 cases"), (0.11, "1 of 10 cases")),
        *((0.05, "5 of 100 cases"), (0.0123, "1 of 100 cases"), (0.004, "4 of 1000 cases")),
        *((0.001, "1 of 1000 cases"), (0.0009, "less than one of 1000 cases")),
        (0.0, "less than one of 1000 cases"),
    ],
)
def test_a_p_value_is_said_as_cases(p_value: float, cases: str) -> None:
    assert p_value_text(p_value) == f"such a difference comes about by chance alone in {cases}"


# --- review --------------------------------------------------------------------------------------


def _sheet(review: Review) -> dict[str, Section]:
    made = review_document(review, "school road", "2026-03-02")
    _brief(made)
    return {one.title: one for one in made.sections}


def _facts(section: Section) -> dict[str, str]:
    return dict(as_object(Document("", "", (section,)))["sections"][0]["facts"])


def test_the_sheet_has_its_sections_in_order() -> None:
    titles = list(_sheet(review_of()))
    assert titles[:3] == ["In short", "Purpose and what is captured", "Who could be overheard"]
    # what is needed to decide stands before what it was worked out from
    assert titles.index("What would capture less") < titles.index("Annex: Made")
    assert titles[-1] == "Annex: Check on site"
    # no start was given, so no hour of the day is known
    assert "Annex: By hour of the day" not in titles


def test_the_first_screen_decides_in_120_words_and_10_numbers() -> None:
    """Five sentences and a table; a reader of two minutes has read them twice."""
    for site in (ROAD, Site(place=(Place("bench", 3.0),)), replace(ROAD, wanted=())):
        review = review_of(site)
        (lead, *_) = _sheet(review).values()
        assert lead.lead
        facts = [one for one in lead.blocks if isinstance(one, Fact)]
        tables = [one for one in lead.blocks if isinstance(one, Table)]
        assert [one.name for one in facts][-2:] == ["not known", "ask"]
        assert len(facts) <= 5
        assert len(tables) == bool(review.curves)
        cells = [cell for one in tables for row in (one.head, *one.rows) for cell in row]
        said = " ".join([*(f"{one.name} {one.said}" for one in facts), *cells])
        assert len(said.split()) <= 120, said
        assert len(re.findall(r"\d[\d.,:]*", said)) <= 10, said


def test_the_first_screen_says_who_is_heard_what_to_do_and_whom_to_ask() -> None:
    review = review_of()
    lead = _sheet(review)["In short"]
    (table,) = [one for one in lead.blocks if isinstance(one, Table)]
    normal = review.at_gain(review.gain_db)[0]
    assert table.rows[0] == (
        "normal",
        metres(normal.farthest.words_m),
        metres(normal.active.words_m),
    )
    facts = _facts(lead)
    assert facts["do"].startswith("fire on the level, store no sound (cost: ")
    assert facts["do"].count("(cost: ") == 2
    assert "that nobody heard" in facts["not known"]
    assert "bench included" in facts["ask"]
    assert "none" not in str(_sheet(review)["Who could be overheard"])


def test_where_no_distance_is_known_the_sheet_says_so() -> None:
    sheet = _sheet(review_of(Site(place=(Place("bench", 3.0),))))
    assert "take it that everybody is heard" in _facts(sheet["In short"])["heard"]
    assert "everybody is heard (bench)" in str(sheet["Who could be overheard"].blocks[0])
    assert "no distance can be given" in str(sheet["Annex: Made"])
    radius = sheet["Annex: From how far talk is caught while the camera is on"].blocks
    assert "Not known: without a calibration" in str(radius[0])
    # that a low index is no proof is said all the same
    assert "A low index is no proof of privacy" in str(radius[1])
    assert "Annex: By gain" not in sheet


def test_minutes_lead_with_what_needs_no_assumption() -> None:
    said = [one.said for one in _sheet(review_of())["Minutes a day"].blocks[:2]]
    assert str(said[0]).startswith("Recorded, whoever is heard in it")
    assert str(said[1]).startswith("With audible speech in them: not known")


def test_every_mitigation_is_a_point_and_every_question_leaves_room_to_write() -> None:
    review = review_of()
    sheet = _sheet(review)
    less = [one for one in sheet["What would capture less"].blocks if isinstance(one, Points)]
    listed = [said for one in less for said in one.said]
    assert len(listed) == len(review.mitigations)
    assert listed[0].startswith("as recommended: ")
    made = assessment(review, "road", "2026-03-02")
    asked = [said for one in made.sections[2:] for block in one.blocks for said in _points(block)]
    for about in ("listen live", "back-ups", "recognised", "written down by a program", "children"):
        assert about in " ".join(asked)
    assert all(one.endswith("______") for one in asked)


def _points(block: Block) -> tuple[str, ...]:
    return block.said if isinstance(block, Points) else ()


def test_an_assessment_has_the_parts_that_guidance_asks_for() -> None:
    """Article 35(7) of Regulation (EU) 2016/679: description, necessity, risks, measures."""
    made = assessment(review_of(), "road", "2026-03-02")
    titles = [one.title for one in made.sections]
    for part in ("Purpose and necessity", "Alternatives", "The law, as questions", "Retention"):
        assert part in titles
    (risks,) = next(one for one in made.sections if one.title == "Risks").blocks
    assert isinstance(risks, Table)
    assert risks.head[1:] == (
        "likelihood, 1 to 5",
        "severity, 1 to 5",
        "measures",
        "what is left",
    )
    assert "To be reviewed on" in str(made.sections[-1])
    assert "no legal advice" in str(made.sections[0])


def test_a_failed_walk_test_is_the_first_line() -> None:
    made, analysis = plan_and_analysis()
    walked = make_review(made, [analysis], walk_test=(Reading(150.0, "normal", 20, 18),))
    sheet = _sheet(walked)
    assert next(iter(_facts(sheet["In short"]).items())) == (
        "WALK TEST",
        "more was understood than computed; all distances are scaled by it",
    )
    # 18 of 20 words at 150 m: what explains them carries a word at least that far
    assert walked.at_gain(0.0)[0].active.words_m > 150.0
    (table,) = [one for one in sheet["Annex: Check on site"].blocks if isinstance(one, Table)]
    assert table.rows[0][:3] == ("150 m", "normal", "18 of 20")
    assert table.rows[0][-1] == "farther"
    assert "WALK TEST" not in _facts(_sheet(review_of())["In short"])


def test_pictures_of_the_sheet_stand_where_they_are_spoken_of() -> None:
    review = review_of()
    sheet = review_document(review, "<b>school</b> road", "2026-03-02")
    drawn = {"rings": rings(review, "road"), "privacy": radii_and_index(review, "road")}
    page = review_page(review, sheet, drawn, assessment(review, "road", "2026-03-02"))
    shown = {
        part.partition('aria-labelledby="')[2].partition("-heading")[0]: part.count("<figure")
        for part in page.split("<section")[1:]
    }
    assert {name for name, many in shown.items() if many} == {
        "who-could-be-overheard",
        "annex-from-how-far-talk-is-caught-while-the-camera-is-on",
    }
    assert "<b>school" not in page
    for section in sheet.sections:
        for one in section.blocks:
            if isinstance(one, Paragraph):
                assert " ".join(one.said.split()) in _words(page)


# --- batch ---------------------------------------------------------------------------------------


def test_totals_count_what_failed_as_not_measured() -> None:
    assert batch.totals(Batch((), (), 0, 0)) == "0 recordings: 0 measured (0 now), 0 failed"
    one, shut = Item("a.wav", "s"), Item("shut", "s", closed="Permission denied")
    assert batch.totals(Batch((one,), ("a",), 1, 0)) == "1 recording: 0 measured (0 now), 1 failed"
    # a folder is no recording, and nobody knows how many lie in it
    assert batch.totals(Batch((one, one, shut), ("a", "b", "c"), 2, 1)) == (
        "2 recordings: 1 measured (1 now), 1 failed; 1 folder not read"
    )


def test_a_gain_step_stands_with_twice_its_standard_error() -> None:
    step = GainStep("wall", 1.0, 2.0, 10.04, 0.8, 12.0)
    assert batch.findings([step], [], []) == [
        "wall: from gain 1 to 2 L50 moved by +10.0 dB (± 1.6 dB); the site file says +12.0 dB"
    ]
    alone = GainStep("wall", 1.0, 2.0, 10.0, None, None)
    assert "(one recording at a setting: not sure)" in batch.findings([alone], [], [])[0]


def test_what_stands_out_is_a_line_each() -> None:
    known, unknown = Drift("wall", 2.0, 3, -3.0, 0.5), Drift("wall", None, 3, -3.0, 0.5)
    found = [
        Fault("a.wav", "level", "look", {"by_db": -6.04, "recordings": 40, "usual_db": 2.0}),
        Fault("c.wav", "clipped", "bad"),
    ]
    assert batch.findings([], [known, unknown], found, [("gate", 1), ("wall", 2)]) == [
        "a.wav: level: quiet moments 6.0 dB below the 40 recordings of its site, which differ by "
        "2.0 dB (twice the standard deviation)",
        "c.wav: clipped: samples at full scale",
        "gate: 1 recording of digital silence left out of means, gain steps and drift",
        "wall: 2 recordings of digital silence left out of means, gain steps and drift",
        "wall at gain 2: L90 drifts by -3.0 dB in 30 days (± 0.5, 95 %), 3 visits",
        "wall: L90 drifts by -3.0 dB in 30 days (± 0.5, 95 %), 3 visits",
    ]
    assert batch.findings([], [], []) == ["nothing stands out"]


def test_moves_say_what_was_and_is_in_a_line_a_recording() -> None:
    found = [
        Move("a.wav", "laeq_db", -40.0, -39.8),
        Move("a.wav", "L50", -42.0, -41.5),
        Move("a.wav", "warnings", "", "short"),
        Move("a.wav", "lae_db", None, 1.0),
        Move("b.wav", ALL_LEVELS, -40.0, -34.0),
        Move("gone.wav", "recording", "measured", "gone"),
    ]
    assert batch.moves(found, 0.1) == [
        "differences of more than 0.1 dB: 3 recordings",
        "a.wav: LAeq +0.2 dB; L50 +0.5 dB; warnings was none, is short; lae_db was none, is 1",
        "b.wav: all levels +6.0 dB",
        "gone.wav: was measured, is gone",
    ]
    assert batch.moves([], 0.1) == ["nothing moved by more than 0.1 dB"]
    assert batch.stopped(4, 20, "out").startswith("stopped: 4 of 20 recordings done and kept in")


def _batch_page(many: int) -> str:
    def records() -> Iterator[dict[str, Any]]:
        clipping = {"verdict": "none", "clipped_share": 0.0}
        return (
            record_with(f"{k:04d} <i>.wav", -30.0 - k, site="lane", clipping=clipping)
            for k in range(many)
        )

    return batch.batch_page(
        "Recordings in <b>march</b>",
        batch.Told(
            lambda: (Heard(one, {}) for one in records()), [("broken.wav", "breaks off")], {}
        ),
        totals=f"{many} recordings",
        findings=["lane: L90 drifts by +4.0 dB"],
        found=[Fault("0002 <i>.wav", "hum", "look", {"hz": 50, "above_db": 20.0})],
        moved=["a.wav: LAeq +6.0 dB"],
        pictures={},
    )


def test_findings_of_a_batch_come_first_then_failures_then_the_table() -> None:
    page = _batch_page(3)
    said = _words(page).partition("What stands out")[2]
    order = ["50 Hz stand 20 dB out", "drifts by", "Not measured", "breaks off", "LAeq +6.0 dB"]
    order += ["0001 <i>.wav", "Sites"]
    places = [said.index(one) for one in order]
    assert places == sorted(places)
    assert "-31.0" in said
    # a finding leads to the row of its recording
    assert '<a href="#row-2">' in page
    assert 'id="row-2"' in page
    assert "<i>" not in page
    assert "<b>march" not in page


def test_a_long_table_says_what_it_leaves_out() -> None:
    said = _words(_batch_page(batch.MOST_ROWS + 7))
    assert "7 more stand in results.csv" in said
    assert f"{batch.MOST_ROWS:04d} <i>.wav" not in said
    assert "more stand in" not in _words(_batch_page(3))


# --- calibration, sounds -------------------------------------------------------------------------

TONE = Calibration(117.256, 0.43, CalibrationMethod.TONE, tone_level_db=94.0, tone_s=8)
READINGS = ((42.0, -51.5), (68.0, -25.5))
FOUND = Instrument(TONE, DisplayLine(1.0, 93.5, 0.25), READINGS, ())


def test_the_lines_for_the_site_file_are_toml() -> None:
    found = replace(
        FOUND,
        noise=OwnNoise(-86.0, -91.24, stated=True),
        spl_at_full_scale_db=117.256,
        steadiness=Steadiness(-4.4, 9, 21.0),
    )
    told = whole(calibrate_document(found)).split("For the site file\n")[1]
    assert tomllib.loads(told) == {
        "microphone": {
            "spl_at_full_scale_db": 117.26,
            "calibration_within_db": 0.43,
            "self_noise_dba": 31.3,
            "converter_noise_dbfs": -91.2,
            "gain_control": "found",
        },
        "display": {"readings": [[42, -51.5], [68, -25.5]]},
    }
    assert set(site_file_sections(found)) == {"microphone", "display"}


def test_what_is_not_known_has_no_section() -> None:
    assert site_file_sections(replace(FOUND, calibration=None, readings=())) == {}
    assert list(site_file_sections(replace(FOUND, readings=()))) == ["microphone"]
    # a noise whose sound pressure nobody can tell is the converter's only
    noise = replace(FOUND, calibration=None, readings=(), noise=OwnNoise(-86.0, -91.0, stated=True))
    assert site_file_sections(noise) == {"microphone": ["converter_noise_dbfs = -91.0"]}


def test_a_calibration_names_its_method_and_its_uncertainty() -> None:
    found = replace(FOUND, tones_apart_db=19.98, steadiness=Steadiness(0.02, 9, 21.4))
    said = _brief(calibrate_document(found))
    assert "117.3 dB SPL, within 0.4 dB (95 %), from calibrator tone, 94 dB, 8 s" in said
    assert "it holds for the gain of this recording" in said
    # no recording was given with a data sheet
    sheet = Calibration(110.0, 3.0, CalibrationMethod.DATA_SHEET)
    assert "recording (" not in _whole(calibrate_document(replace(FOUND, calibration=sheet)))
    assert "at the gain it was" not in _whole(calibrate_document(replace(FOUND, calibration=sheet)))
    assert "the two tones are 19.98 dB apart" in said
    assert "no gain control found: after 9 claps the tone, 21 dB above the site" in said
    assert "shown = 1.000 × level + 93.5" in said


def test_each_sound_stands_with_its_level_and_in_the_whole_with_its_source() -> None:
    made = sounds_document(SOUNDS)
    for sound in SOUNDS:
        assert f"{sound.name} {sound.measure} {sound.level_db:.0f}" in _brief(made)
        assert " ".join(sound.source.split()) in _whole(made)
    assert "warn those nearby, and wear protection." in _brief(made)


def test_a_rendering_whose_peaks_are_cut_says_so() -> None:
    horn = find("vehicle horn")
    # twice full scale is 6.0 dB over it, half is 6.0 dB under
    cut = rendering_document(horn, "horn.wav", 2.0, 130.0, np.array([2.0, -0.5]))
    whole_one = rendering_document(horn, "horn.wav", 2.0, 130.0, np.array([0.5, -0.25]))
    assert "highest sample 6.0 dB FS; its peaks are cut" in _whole(cut)
    assert "highest sample -6.0 dB FS." in _whole(whole_one)
