"""What a plan says, on the screen, on its page and in its record, is what its figures are."""

import html
import re
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from audiolevel.counting.predicted import LevelForLimit
from audiolevel.ground.notices import notice
from audiolevel.metering.measurement import measure
from audiolevel.metering.recordings import recording_of_array
from audiolevel.planning.asked import Asked
from audiolevel.planning.choice import Choice
from audiolevel.planning.detection_range import range_curves
from audiolevel.planning.placement import DetectionCurve
from audiolevel.planning.plan import SitePlan, plan_of
from audiolevel.planning.survey import gains_to_simulate, survey_of
from audiolevel.report.document import Fact
from audiolevel.report.plan.document import plan_document, set_words
from audiolevel.report.plan.figure import pictures_of
from audiolevel.report.plan.json import as_json
from audiolevel.report.plan.page import plan_page, record_page
from audiolevel.report.text import brief, whole
from audiolevel.report.words.cautions import notice_text
from audiolevel.site.sections import Display, Microphone, Site
from tests.made_street import RATE_HZ, SITE, plan, wave_of

BLIND = replace(SITE, microphone=Microphone(), wanted=())
# wanted sounds, and no sound pressure to place them by; a limit that can be kept as recorded
UNPLACED = replace(
    SITE,
    microphone=Microphone(),
    limits=replace(SITE.limits, false_triggers_per_day=20000.0),
)
LONG = "the loudest of all the sounds that anybody at this site has ever wished to have caught"


def _brief(of: SitePlan, name: str = "lane") -> str:
    lines = brief(plan_document(of, name), "--full").splitlines()
    assert len(lines) <= 20
    assert max(map(len, lines)) <= 80
    return " ".join(" ".join(lines).split())


def _whole(of: SitePlan, name: str = "lane") -> str:
    said = whole(plan_document(of, name))
    assert max(map(len, said.splitlines())) <= 80
    return " ".join(said.split())


def _page(of: SitePlan) -> str:
    return plan_page(of, "Quarry Lane", as_json(of), pictures_of(of, "Quarry Lane"))


def _words(made: str) -> str:
    """What is read on a page on the screen."""
    text = re.sub(
        r"<(script|style)\b.*?</\1>|<div class=\"record\">.*</div>", " ", made, flags=re.S
    )
    return html.unescape(" ".join(re.sub(r"<[^>]+>", " ", text).split()))


def test_the_first_lines_say_what_to_do() -> None:
    names = [line[:12].strip() for line in brief(plan_document(plan(), "a"), "x").splitlines()]
    assert [one for one in names if one][:3] == ["Plan for a:", "SET", "because"]
    assert "Not reliable yet" in _brief(plan())  # of three minutes nothing else could be said


def test_the_recommended_setting_is_said_as_its_json_says_it() -> None:
    told = as_json(plan())["recommended"]
    for said in (_brief(plan()), _whole(plan()), _words(_page(plan())), record_page(plan(), "a")):
        assert f"threshold at {told['level_db']:g} dB SPL" in said
        assert f"gain {told['gain_setting']} " in said
        assert (
            f"on the camera {told['display_level']:.3g} ± {told['display_uncertainty']:.2g}" in said
        )
    said = _whole(plan())
    horn = next(one for one in told["detection"] if one["sound"] == "vehicle horn")
    chance = [100 * horn[name] for name in ("probability", "low", "high")]
    assert "vehicle horn at 4 m {:.0f} % ({:.0f} to {:.0f})".format(*chance) in said
    expected = told["expected"]
    assert f"95 % sure: {expected['rate_low_per_day']:.2g} to " in said
    assert "08:00-20:00: a day counts these hours" in said
    assert "08-12, 13-20 h not heard" in said


def test_a_rise_has_a_window_and_no_number_of_the_camera() -> None:
    option = next(one for one in plan().options if one.trigger.mode == "rise")
    assert set_words(option, plan()).endswith(f"rise of {option.trigger.at_db:g} dB within 1 s")
    blind = replace(plan(), survey=replace(plan().survey, site=replace(SITE, display=Display())))
    option = next(one for one in blind.options if one.trigger.mode == "threshold")
    assert "not known: audiolevel calibrate" in set_words(option, blind)


def test_of_many_sounds_those_caught_least_are_named_and_the_rest_is_counted() -> None:
    option = plan().recommended
    assert option is not None
    rows, curves = len(option.curve.prediction.settings_db), []
    for i in range(20):
        share = np.full(rows, 1 - (i + 1) / 21)
        curves.append(DetectionCurve(f"{i} {LONG}", 2.0, share, 0.9 * share, 0.5 + 0.5 * share))
    option = replace(option, curve=replace(option.curve, detections=tuple(curves)))
    crowded = replace(plan(), choice=replace(plan().choice, recommended=option))
    # of 20 evenly spread chances the last is 1 of 21
    assert re.search(r"19 the loudest \S.*? at 2 m 5 % \(4 to 52\)", _brief(crowded, LONG * 4))
    assert "17 more, each at least as often" in _brief(crowded, LONG * 4)


def test_with_nothing_to_set_no_figure_stands_apart_from_its_setting() -> None:
    made = plan(replace(SITE, limits=replace(SITE.limits, false_triggers_per_day=0.01)))
    assert made.recommended is None
    names = [line[:12].strip() for line in brief(plan_document(made, "a"), "x").splitlines()]
    assert "OR" in names
    assert not {"expect", "catches", "marked", "card"} & set(names)
    # with its heading it does
    assert "What would be, with gain" in _whole(made)
    assert " expect " in _whole(made)


def test_the_short_form_says_what_weakens_the_answer_most() -> None:
    said = _brief(plan(UNPLACED))
    # the street is three minutes long
    assert "Not reliable yet: only 3 min heard;" in said
    assert "catches not known: no calibration to place the wanted sounds by" in said
    for calibrated in (plan(), plan(BLIND)):
        assert "no calibration" not in _brief(calibrated)


@pytest.mark.parametrize(
    ("limit", "said"),
    [
        (
            LevelForLimit(24.2, None, 19.8, None),
            "kept from 24.2 by the best estimate, by no known setting with 90 % certainty; 95 % "
            "interval from 19.8 dB of change on",
        ),
        (
            LevelForLimit(24.2, 27.0, 19.8, 31.0),
            "kept from 24.2 by the best estimate, from 27.0 with 90 % certainty; 95 % interval "
            "19.8 to 31.0 dB of change",
        ),
    ],
)
def test_a_limit_whose_end_is_not_known_is_a_sentence_too(limit: LevelForLimit, said: str) -> None:
    option = next(one for one in plan().options if one.trigger.mode == "rise")
    known = replace(option, curve=replace(option.curve, limit=limit))
    made = replace(plan(), choice=replace(plan().choice, recommended=known))
    assert f"limit at most 300 a day: {said}" in _whole(made)


def test_no_distance_is_denied_that_was_not_tried() -> None:
    glass = "breaking glass"
    far = notice("out of reach", sound=glass, distance_m=5.0, within_m=None, share=0.9)
    said = _brief(replace(plan(), warnings=(far,)))
    # the nearest of the distances that a plan tries
    assert min(range_curves(plan().survey, plan().options[:1])[0][0][0].distance_m) == 1.0
    assert "what keeps the limit does so not even at 1 m of breaking glass" in said


def test_what_keeps_the_limit_at_another_gain_is_named_with_it() -> None:
    made = plan(replace(UNPLACED, limits=SITE.limits))
    first = made.choice.by_mode[0]
    assert made.recommended is None
    assert first.gain_db == -12.0
    # uncalibrated, a level at one gain is another level at the next
    setting = f"gain low (-12 dB from the recording's); threshold at {first.trigger.at_db:g} dB FS"
    assert f"what keeps 300 a day catches next to nothing: {setting}." in _brief(made)


def test_another_recording_comes_before_the_setting() -> None:
    other = notice("other recording", other_share=1.0, card_gb=64.0, other_days=1.5)
    said = brief(plan_document(replace(plan(), warnings=(other,)), "a"), "x").splitlines()
    assert said[2].startswith("FIRST       something else keeps recording 100 % of the time")


def test_what_was_asked_for_and_the_other_prong_stand_behind_what_is_recommended() -> None:
    made = plan(asked=Asked("mid", level_db=76.5))
    prong = made.options[-1]
    made = replace(made, choice=replace(made.choice, alternatives=(prong,)))
    for said in (_brief(made), _whole(made), _words(_page(made))):
        places = [said.index(word) for word in ("SET ", "OR ", "ASKED FOR")]
        assert places == sorted(places)
        assert f"OR {set_words(prong, made)}" in said
        assert "threshold at 76.5 dB SPL" in said.split("ASKED FOR")[1]
    assert " OR " not in _words(_page(plan()))


def test_without_a_site_file_levels_are_of_the_scale_and_nothing_is_caught() -> None:
    site = Site()
    sound = recording_of_array(wave_of(), RATE_HZ, "a.wav")
    bare = plan_of(survey_of([measure(sound, gains=gains_to_simulate(site))], site))
    for said in (_whole(bare), _words(_page(bare))):
        assert "levels in dB FS" in said
        assert "no wanted sound is named" in said
        assert "dB SPL" not in said


def test_silence_sets_nothing_and_says_what_would_help() -> None:
    site = Site()
    sound = recording_of_array(np.zeros(60 * RATE_HZ), RATE_HZ, "a.wav")
    silent = plan_of(survey_of([measure(sound, gains=gains_to_simulate(site))], site))
    said = _brief(silent)
    assert "SET nothing yet: no setting can be defended" in said
    assert "take care silent: holds only digital silence" in said
    assert "next record again, louder or longer" in said
    page = _words(_page(silent))
    assert "Set nothing yet" in page
    assert "What it will do" not in page
    assert "nothing is recorded as set" in record_page(silent, "Q")


def test_the_page_is_the_same_each_time_and_has_every_caution() -> None:
    assert _page(plan()) == _page(plan())
    said = _words(_page(plan()))
    assert plan().warnings
    for one in plan().warnings:
        assert " ".join(notice_text(one).split()) in said
    assert "What would help" in said


def test_what_is_recommended_stands_once_on_the_page() -> None:
    said, option = _words(_page(plan())), plan().recommended
    assert option is not None
    assert said.count(set_words(option, plan())) == 1


def test_every_gain_and_mode_of_the_options_can_be_chosen() -> None:
    made = _page(plan())
    for option in plan().options:
        assert f'name="gain" value="{option.gain_db:g}"' in made
        assert f'name="mode" value="{option.trigger.mode}"' in made
    assert 'id="explore-display"' in made


@pytest.mark.parametrize(
    ("found", "said"),
    [("not tested", "not tested (audiolevel calibrate --steady)"), ("none found", "none found")],
)
def test_the_gain_test_is_told_whatever_it_found(found: str, said: str) -> None:
    site = replace(SITE, microphone=replace(SITE.microphone, gain_control=found))
    of = replace(plan(), survey=replace(plan().survey, site=site))
    assert f"Gain control: {said}" in _whole(of)


# --- the record ----------------------------------------------------------------------------------


def _record(of: SitePlan) -> str:
    return _words(record_page(of, "Quarry Lane"))


def test_the_record_says_what_was_set_what_is_expected_and_what_is_missed() -> None:
    said, option = _record(plan()), plan().recommended
    for part in ("Set ", "Expected", "Missed", "People's speech", "Next visit", "signature"):
        assert part in said
    assert option is not None
    (horn,) = [one for one in option.curve.detections if one.distance_m is not None]
    # what is not caught of a hundred, by hand
    missed = f"{100 - 100 * horn.probability[option.row]:.0f} %"
    assert f"vehicle horn at 4 m {missed}" in said


@pytest.mark.parametrize(
    ("on", "said"),
    [
        # the street was recorded on 3 March 2026
        (date(2026, 2, 20), "11 days old when"),
        (date(2026, 3, 4), "1 day after the recording"),
        (None, "not known (microphone.calibrated_on)"),
    ],
)
def test_the_age_of_the_calibration_is_that_at_the_recording(on: date | None, said: str) -> None:
    site = replace(SITE, microphone=replace(SITE.microphone, calibrated_on=on))
    assert said in _record(replace(plan(), survey=replace(plan().survey, site=site)))


def test_a_plan_that_has_nothing_to_set_has_no_second_fact() -> None:
    nothing = replace(plan(), choice=Choice("silent", None, (), ()))
    (lead, *_) = plan_document(nothing, "lane").sections
    assert [one.name for one in lead.blocks if isinstance(one, Fact)] == ["SET"]
