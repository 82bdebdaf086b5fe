"""The plan's page as people use it: opened from the disk, tried, listened to, labelled, printed."""

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.metering.annotations import Mark, read_marks
from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import survey_of
from audiolevel.report.plan.figure import pictures_of
from audiolevel.report.plan.json import as_json
from audiolevel.report.plan.page import plan_page
from audiolevel.report.words.quantities import count, days, often
from audiolevel.site.sections import GainSteps
from tests.made_street import RATE_HZ, SITE, heard, plan, wave_of
from tests.metering.made_video import write_video
from tests.report.conftest import HOSTILE, Open, Watched, next_frame, serious_faults

WIDTHS = (360, 768, 1440)


def _json(page: Any) -> Any:
    return json.loads(page.locator("#plan").text_content())


def _answers(page: Any) -> dict[str, str]:
    rows = page.locator("#explore-facts dl > div").all()
    return {row.locator("dt").inner_text(): row.locator("dd").inner_text() for row in rows}


@pytest.mark.parametrize("width", WIDTHS)
def test_it_opens_without_complaint_or_request_and_fits(
    street_page: Path, open_page: Open, watched: Watched, width: int
) -> None:
    page = open_page(street_page, width)
    assert page.locator("h1").inner_text() == "Plan for Quarry Lane"
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert watched.complaints == []
    # the page itself and the empty icon within it
    outside = [url for url in watched.asked_for if not url.startswith(("data:", "blob:"))]
    assert outside == [street_page.as_uri()]


def test_its_parts_come_in_the_order_of_the_questions(street_page: Path, open_page: Open) -> None:
    page = open_page(street_page)
    order = [one.get_attribute("id") for one in page.locator("main > section").all()]
    asked = ["set", "explore", "catches", "listen", "narrow", "computed", "cautions", "record"]
    assert [one for one in order if one in asked] == asked
    # every link of the page leads to a part of it, and every part has one or is folded to a line
    folded = page.locator("main > section:has(> details)").all()
    order = [one for one in order if one not in [part.get_attribute("id") for part in folded]]
    targets = [one.get_attribute("href") for one in page.locator("nav a").all()]
    assert [target.removeprefix("#") for target in targets] == order


def _reach_at_the_recommended_gain(page: Any, mode: str, at_db: float) -> str:
    """How far off the horn, the only sound placed, is caught by the same sound pressure."""
    curves = [one for one in _json(page)["curves"] if one["mode"] == mode]
    (curve,) = [one for one in curves if "caught_within_m" in one["detection"][0]]
    settings = np.array(curve["settings_db"])
    metres = curve["detection"][0]["caught_within_m"][np.argmin(np.abs(settings - at_db))]
    share = f"{100 * _json(page)['detection_asked']:.0f} %"
    if metres is None:
        return f"{share} not even at 1 m"
    return f"{share} up to {metres:g} m" if metres < 10 else f"{share} up to {metres:.0f} m"


def _agrees(page: Any, gain_db: float, mode: str, at_db: float) -> None:
    """What the page says of a setting is what the JSON says of it."""
    curve = next(
        one for one in _json(page)["curves"] if (one["gain_db"], one["mode"]) == (gain_db, mode)
    )
    row = curve["settings_db"].index(at_db)
    said = _answers(page)
    low, high = (count(curve[f"rate_{end}_per_day"][row]) for end in ("low", "high"))
    best = curve["per_day"][row]
    option = next(
        one for one in _json(page)["options"] if (one["gain_db"], one["mode"]) == (gain_db, mode)
    )
    if best is not None and option["expected"]["by_hour"]:
        # the JSON has the hours of the option's own setting; they fall alike at every other
        share = max(option["expected"]["by_hour"]) / sum(option["expected"]["by_hour"])
        hours = page.locator("#explore-hours").inner_text()
        assert hours.endswith(f"{count(share * best)} an hour")
    if best is None:
        assert said["expect"].startswith(f"fewer than {high}")
    else:
        assert said["expect"].startswith(f"{often(best)}; 95 % sure: {low} to {high} on average")
        one_day = [count(curve[f"{end}_per_day"][row]) for end in ("low", "high")]
        assert said["expect"].endswith(f"{one_day[0]} to {one_day[1]} on a single day")
    for one in curve["detection"]:
        chances = [round(100 * one[name][row]) for name in ("probability", "low", "high")]
        expected = f"{chances[0]} % ({chances[1]} to {chances[2]} %)"
        if one["in_recording"]:
            assert f"{one['sound']} {expected}" in said["caught of the marked"]
        else:
            answer, reach = said[f"{one['sound']}, at {one['distance_m']:g} m"].split("; ")
            assert answer == f"caught {expected}"
            assert reach == _reach_at_the_recommended_gain(page, mode, at_db)
    kept = curve["storage"]["days_kept"][row]
    if kept is not None:
        assert said["Card"].startswith(days(kept))
    if mode == "threshold":
        shown = curve["display_levels"][row]
        assert said["On the camera"].startswith(f"{shown:.1f} ±")


@pytest.mark.always
def test_three_options_by_keyboard_and_by_pointer_say_what_the_json_says(
    street_page: Path, open_page: Open, watched: Watched
) -> None:
    page = open_page(street_page)
    plan = _json(page)
    first = plan["recommended"]
    _agrees(page, first["gain_db"], first["mode"], first.get("level_db") or first.get("change_db"))
    # by keyboard: another mode, another gain, five steps up
    curves = {(one["gain_db"], one["mode"]): one for one in plan["curves"]}
    page.locator("input[name=mode][value=threshold]").focus()
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowLeft")
    page.locator("input[name=gain]:checked").focus()
    page.keyboard.press("ArrowUp")
    page.locator("#explore-at").focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    gain = float(page.locator("input[name=gain]:checked").get_attribute("value"))
    row = int(page.locator("#explore-at").input_value())
    _agrees(page, gain, "threshold", curves[gain, "threshold"]["settings_db"][row])
    # by pointer: a rise
    page.locator("input[name=mode][value=rise]").check()
    row = int(page.locator("#explore-at").input_value())
    _agrees(page, gain, "rise", curves[gain, "rise"]["settings_db"][row])
    # by the camera's own number
    page.locator("input[name=mode][value=threshold]").check()
    level = curves[gain, "threshold"]["settings_db"][3]
    page.locator("#explore-display").fill(f"{curves[gain, 'threshold']['display_levels'][3]:.1f}")
    _agrees(page, gain, "threshold", level)
    assert watched.complaints == []


def test_another_limit_is_answered_and_the_address_keeps_the_choice(
    street_page: Path, open_page: Open
) -> None:
    page = open_page(street_page)
    page.locator("#explore-limit").fill("8640")
    assert _answers(page)["Limit of 8640 a day"].startswith("kept with 90 % certainty")
    page.locator("#explore-limit").fill("0.01")
    assert _answers(page)["Limit of 0.01 a day"].startswith("not kept")
    # what cannot be is refused beside its box, and changes nothing
    for typed in ("0", "-3", "9000", ""):
        page.locator("#explore-limit").fill(typed)
        assert page.locator("#explore-limit-said").inner_text() == "from 0.01 to 8640"
        assert "Limit of 0.01 a day" in _answers(page)
    page.locator("#explore-limit").fill("0.01")
    assert page.locator("#explore-limit-said").inner_text() == ""
    page.locator("#explore-at").fill("2")
    said, address = _answers(page), page.evaluate("location.hash")
    # a link within the page leaves it there
    page.locator("nav a", has_text="Before you climb").click()
    assert page.evaluate("location.hash") == address
    assert page.evaluate("document.activeElement.id") == "cautions"
    again = open_page(street_page, after=address)
    assert _answers(again) == said
    again.locator("#explore-back").click()
    assert _answers(again) != said


def test_four_questions_take_one_touch_at_most(street_page: Path, open_page: Open) -> None:
    """What to set, how often, will it catch the horn: none; what if 300 a day: one."""
    page = open_page(street_page)
    held = _json(page)
    option = held["recommended"]
    at = option.get("level_db") or option["change_db"]
    assert f"{at:g} d" in page.locator("button.choice[aria-pressed=true]").inner_text()
    said = _answers(page)
    assert said["expect"].startswith(often(option["expected"]["per_day"]))
    (horn,) = [one for one in option["detection"] if not one["in_recording"]]
    assert said[f"vehicle horn, at {horn['distance_m']:g} m"].startswith(
        f"caught {round(100 * horn['probability'])} %"
    )
    page.locator("#explore-limit").fill("300")
    (curve,) = [
        one
        for one in held["curves"]
        if (one["gain_db"], one["mode"]) == (option["gain_db"], option["mode"])
    ]
    kept = [
        setting
        for i, setting in enumerate(curve["settings_db"])
        if all(rate <= 300 for rate in curve["day_rate_90_per_day"][i:])
    ]
    assert f"with 90 % certainty from {kept[0]:g} " in _answers(page)["Limit of 300 a day"]
    # another setting by a touch, and back
    others = page.locator("button.choice[aria-pressed=false]")
    if others.count():
        others.first.click()
        assert _answers(page) != said
        page.locator("#explore-back").click()
        assert page.locator("button.choice").first.get_attribute("aria-pressed") == "true"


def test_the_handle_is_drawn_to_a_level_and_every_number_follows(
    street_page: Path, open_page: Open, watched: Watched
) -> None:
    page = open_page(street_page, 1440)
    page.locator("input[name=mode][value=threshold]").check()
    chart = page.locator("#explore-curve > svg")
    box = chart.bounding_box()
    gain = float(page.locator("input[name=gain]:checked").get_attribute("value"))
    (curve,) = [
        one for one in _json(page)["curves"] if (one["gain_db"], one["mode"]) == (gain, "threshold")
    ]
    levels = curve["settings_db"]
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.3 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.7 * box["width"], box["y"] + 0.3 * box["height"], steps=4)
    page.mouse.up()
    # the axis begins 46 from the left and ends 10 from the right
    across = box["width"]
    wanted = levels[0] + (0.7 * across - 46) / (across - 56) * (levels[-1] - levels[0])
    row = int(page.locator("#explore-at").input_value())
    assert abs(levels[row] - wanted) <= 0.5
    _agrees(page, gain, "threshold", levels[row])
    # the axis has round numbers, and every sound its line and its name
    ticks = [
        text
        for text in chart.locator("text[text-anchor=middle]").all_text_contents()
        if text.isdecimal()
    ]
    assert {int(tick) % 5 for tick in ticks} == {0}
    assert "vehicle horn at 4 m" in page.locator("#explore-curve .key").inner_text()
    assert watched.complaints == []


@pytest.mark.parametrize("limit", [30.0, 300.0, 2000.0])
def test_a_limit_is_kept_where_the_plan_itself_says_that_it_is(
    street_page: Path, open_page: Open, limit: float
) -> None:
    """Against `Prediction.level_for_limit`, which interpolates between the settings."""
    page = open_page(street_page)
    page.locator("input[name=mode][value=threshold]").check()
    gain = float(page.locator("input[name=gain]:checked").get_attribute("value"))
    option = next(
        one for one in plan().options if (one.gain_db, one.trigger.mode) == (gain, "threshold")
    )
    prediction = option.curve.prediction
    level = prediction.level_for_limit(limit)
    page.locator("#explore-limit").fill(f"{limit:g}")
    for row in range(0, len(prediction.settings_db), 9):
        page.locator("#explore-at").fill(str(row))
        said = _answers(page)[f"Limit of {limit:g} a day"]
        at_db = prediction.settings_db[row]
        if level is None or at_db < level.best_db:
            assert said.startswith(("not kept", "not known"))
        elif level.safe_db is not None and at_db >= level.safe_db:
            assert said.startswith("kept with 90 % certainty")
        else:
            assert said.startswith(("kept by the best estimate", "not known"))


def test_without_a_script_the_recommendation_and_all_pictures_are_there(
    street_page: Path, open_page: Open
) -> None:
    page = open_page(street_page, java_script_enabled=False)
    option = json.loads(page.locator("#plan").text_content())["recommended"]
    assert f"{option.get('level_db') or option['change_db']:g}" in page.locator("#set").inner_text()
    assert page.locator("figure svg:visible").count() == 2
    assert page.locator(".script-only:visible").count() == 0
    assert page.locator(".without-script:visible").count() == 1


# --- listening -----------------------------------------------------------------------------------


def _busy_setting(page: Any) -> None:
    """A setting at which a dozen passages fire."""
    plan = _json(page)
    curve = next(one for one in plan["curves"] if one["mode"] == "threshold")
    page.locator("input[name=mode][value=threshold]").check()
    row = next(i for i, seen in enumerate(curve["seen"]) if 8 <= seen <= 20)
    page.locator("#explore-at").fill(str(row))
    next_frame(page)


def _until(page: Any, true: str) -> None:
    """Wait until a condition holds; asked again and again, as the page lets no text be run."""
    for _ in range(100):
        if page.evaluate(true):
            return
        page.wait_for_timeout(50)
    raise AssertionError(f"never true: {true}")


def _time(page: Any) -> float:
    return float(page.evaluate("document.getElementById('listen-audio').currentTime"))


@pytest.mark.parametrize(
    "ending",
    [
        "wav",
        "mp4",
        *(pytest.param(one, marks=pytest.mark.slow) for one in ("ogg", "mp3", "rf64", "cut")),
    ],
)
def test_a_firing_is_heard_from_the_readers_own_file(
    street_page: Path, open_page: Open, watched: Watched, tmp_path: Path, ending: str
) -> None:
    page = open_page(street_page)
    _busy_setting(page)
    file = street_page.parent / "lane.wav"
    if ending != "wav":
        file = tmp_path / f"lane.{'wav' if ending in ('cut', 'rf64') else ending}"
        if ending == "mp4":
            write_video(file, wave_of(), RATE_HZ, "aac", container="mp4")
        elif ending == "cut":
            # of a recorder that lost its power: the length in its head was never written
            whole = bytearray((street_page.parent / "lane.wav").read_bytes())
            length = whole.index(b"data") + 4
            whole[length : length + 4] = bytes(4)
            file.write_bytes(whole)
        else:
            subtype = {"ogg": "VORBIS", "mp3": "MPEG_LAYER_III", "rf64": "PCM_16"}[ending]
            sf.write(file, wave_of(), RATE_HZ, format=ending.upper(), subtype=subtype)
    page.locator("#listen-file").set_input_files(str(file))
    _until(page, "document.getElementById('listen-opened').textContent.includes('open')")
    for firing in range(3):
        page.keyboard.press("n")
        at_s = page.evaluate(
            "document.querySelector('#listen-list tr[aria-current] td').dataset.value"
        )
        begun = max(0.0, float(at_s) - 2)
        _until(page, f"document.getElementById('listen-audio').currentTime > {begun + 0.2}")
        assert _time(page) < begun + 5.5, firing
    assert watched.complaints == []
    assert [url for url in watched.asked_for if url.startswith("http")] == []


def test_labels_survive_a_reload_and_the_saved_file_is_what_plan_reads(
    street_page: Path, open_page: Open, tmp_path: Path
) -> None:
    page = open_page(street_page)
    _busy_setting(page)
    page.keyboard.press("n")
    page.locator("#listen-distance").fill("7.5")
    page.locator("#listen-sound").fill('a "dropped" crate, heavy')
    # as after typing anywhere else: done, and the keys are keys again
    page.keyboard.press("Enter")
    page.keyboard.press("f")
    # by key: the page scrolls with every firing, and a pointer may come a moment late
    page.locator("#listen-unsure").press("Enter")
    labelled = page.locator("#listen-list tbody tr").all_inner_texts()
    assert sum("wanted" in row for row in labelled) >= 1
    progress = page.locator("#listen-progress").inner_text()
    page.reload()
    assert page.locator("#listen-progress").inner_text() == progress
    with page.expect_download() as download:
        page.locator("#listen-save").click()
    assert download.value.suggested_filename == "lane.wav.marks.csv"
    marks = tmp_path / "saved.csv"
    download.value.save_as(marks)
    read = read_marks(marks)
    # the one that the plan was made with, and three more
    assert sorted(mark.label for mark in read) == ["false", "unsure", "wanted", "wanted"]
    crate = next(mark for mark in read if "crate" in mark.sound)
    assert (crate.sound, crate.distance_m) == ('a "dropped" crate, heavy', 7.5)
    replanned = al.plan(al.Visit(street_page.parent / "lane.wav", marks=marks), site=SITE)
    assert list(replanned.base.survey.labels[0]) == list(read)
    assert [mark.sound for mark in replanned.base.survey.marks[0]] == [
        mark.sound for mark in read if mark.label == "wanted"
    ]


def test_the_trace_shows_the_level_of_the_trigger(street_page: Path, open_page: Open) -> None:
    page = open_page(street_page)
    _busy_setting(page)
    curve = next(one for one in _json(page)["curves"] if one["mode"] == "threshold")
    row = int(page.locator("#explore-at").input_value())
    trace = page.locator(".trace canvas")
    assert f"the trigger at {curve['settings_db'][row]:.1f};" in trace.get_attribute("aria-label")
    page.locator("input[name=mode][value=rise]").check()
    next_frame(page)
    assert "the trigger at" not in trace.get_attribute("aria-label")


def test_no_firing_gets_a_name_that_nobody_chose(street_page: Path, open_page: Open) -> None:
    page = open_page(street_page)
    _busy_setting(page)
    page.keyboard.press("n")
    page.locator("#listen-sound").fill("crate")
    page.keyboard.press("Enter")
    page.reload()
    _busy_setting(page)
    page.keyboard.press("n")
    assert page.locator("#listen-sound").input_value() == "crate"
    page.keyboard.press("n")
    assert page.locator("#listen-sound").input_value() == ""


def test_keys_can_be_switched_off_and_are_letters_in_a_field(
    street_page: Path, open_page: Open
) -> None:
    """As WCAG 2.2, success criterion 2.1.4, asks of shortcuts of one character."""
    page = open_page(street_page)
    _busy_setting(page)
    page.keyboard.press("n")
    before = page.locator("#listen-progress").inner_text()
    page.locator("#listen-sound").fill("")
    page.keyboard.type("fun")
    assert page.locator("#listen-sound").input_value() == "fun"
    assert page.locator("#listen-progress").inner_text() == before
    page.locator("#listen-keys").uncheck()
    page.keyboard.press("f")
    assert page.locator("#listen-progress").inner_text() == before
    page.locator("#listen-keys").check()
    page.keyboard.press("f")
    assert page.locator("#listen-progress").inner_text() != before


def test_the_list_is_sorted_by_level_and_exported_in_that_order(
    street_page: Path, open_page: Open, tmp_path: Path
) -> None:
    page = open_page(street_page)
    _busy_setting(page)
    by_level = page.locator("#listen-list thead button", has_text="loudest")
    by_level.click()
    by_level.click()
    with page.expect_download() as download:
        page.locator("#listen-export").click()
    rows = Path(download.value.path()).read_bytes().decode("utf-8").split("\r\n")
    assert rows[0] == "recording,time_s,clock,loudest_db,label,sound"
    levels = [float(row.split(",")[3]) for row in rows[1:] if row]
    assert len(levels) >= 8
    assert levels == sorted(levels, reverse=True)
    # the clock is the recording's, whatever the reader's time zone
    assert all("2026-03-03 12:0" in row for row in rows[1:] if row)


def test_a_part_of_a_sequence_is_heard_from_the_file_it_is_in_and_labelled_in_the_whole(
    tmp_path: Path, open_page: Open, watched: Watched
) -> None:
    """Two files of one minute and two, planned from half a minute on."""
    files = [tmp_path / f"rec_20260303_12{minute:02d}00.wav" for minute in (0, 1)]
    sf.write(files[0], wave_of()[: 60 * RATE_HZ], RATE_HZ, subtype="PCM_16")
    sf.write(files[1], wave_of()[60 * RATE_HZ :], RATE_HZ, subtype="PCM_16")
    site = replace(SITE, wanted=(), trigger=replace(SITE.trigger, modes=("threshold",)))
    al.plan(al.Visit(files, from_s=30.0), site=site).save(tmp_path / "out")
    page = open_page(tmp_path / "out" / "plan.html")
    _busy_setting(page)
    page.locator("#listen-file").set_input_files(str(files[1]))
    _until(page, "document.getElementById('listen-opened').textContent.includes('open')")
    audio = page.locator("#listen-audio")
    heard = {}
    for row in page.locator("#listen-list tbody tr").all():
        at_s = float(row.locator("td").first.get_attribute("data-value")) + 30.0
        page.evaluate("document.getElementById('listen-audio').removeAttribute('src')")
        row.locator("button").click()
        heard[at_s] = audio.get_attribute("src") is not None
    assert set(heard.values()) == {True, False}
    # the first file is not open
    assert all(played == (at_s >= 60) for at_s, played in heard.items())
    last = max(heard)
    page.keyboard.press("f")
    with page.expect_download() as download:
        page.locator("#listen-save").click()
    download.value.save_as(tmp_path / "saved.csv")
    (mark,) = read_marks(tmp_path / "saved.csv")
    assert mark.start_s <= last <= mark.end_s
    assert watched.complaints == []


def test_too_many_firings_and_none_are_said(street_page: Path, open_page: Open) -> None:
    page = open_page(street_page)
    page.locator("input[name=mode][value=threshold]").check()
    last = page.locator("#explore-at").get_attribute("max")
    page.locator("#explore-at").fill(last)
    next_frame(page)
    assert "Nothing fires" in page.locator("#listen-current").inner_text()
    # keys do nothing where there is nothing to label
    for key in ("w", "n", "x", " "):
        page.keyboard.press(key)
    assert page.locator("#listen-progress").inner_text() == ""


def test_a_file_of_another_name_is_taken_for_the_one_recording_with_the_doubt_said(
    street_page: Path, open_page: Open, tmp_path: Path
) -> None:
    page = open_page(street_page)
    other = tmp_path / "other.wav"
    sf.write(other, wave_of()[: 20 * RATE_HZ], RATE_HZ)
    page.locator("#listen-file").set_input_files(str(other))
    _until(page, "document.getElementById('listen-opened').textContent")
    # one recording: taken, with the doubt said
    assert "is it the right file?" in page.locator("#listen-opened").inner_text()


# --- print, and whoever cannot see ---------------------------------------------------------------


def test_the_record_prints_on_one_page_and_the_plan_on_few(
    street_page: Path, open_page: Open
) -> None:
    page = open_page(street_page)
    page.evaluate("window.print = () => {}")
    whole = page.pdf(prefer_css_page_size=True)
    page.locator("#record-print").click()
    record = page.pdf(prefer_css_page_size=True)
    assert _pages(record) == 1
    assert 2 <= _pages(whole) <= 8


def _pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def test_axe_finds_nothing_serious(street_page: Path, open_page: Open, node_modules: Path) -> None:
    page = open_page(street_page, 360)
    _busy_setting(page)
    assert serious_faults(page, node_modules) == []


# --- names that are no names ---------------------------------------------------------------------


def test_hostile_names_stay_names_everywhere(
    tmp_path: Path, open_page: Open, watched: Watched
) -> None:
    site = replace(
        SITE,
        site=replace(SITE.site, name=HOSTILE),
        gain=GainSteps(HOSTILE, ((HOSTILE, 0.0),)),
        trigger=replace(SITE.trigger, modes=("threshold",)),
        wanted=(),
    )
    marks = [Mark(58.5, 61.9, HOSTILE)]
    plan = plan_of(survey_of([heard(site, name=f"{HOSTILE}.wav", marks=marks)], site))
    file = tmp_path / "plan.html"
    made = plan_page(plan, HOSTILE, as_json(plan), pictures_of(plan, HOSTILE))
    file.write_text(made, encoding="utf-8")
    page = open_page(file, 360)
    assert page.title() == f"Plan for {HOSTILE}"
    assert page.locator("h1").inner_text() == f"Plan for {HOSTILE}"
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    # one script that runs, two that hold data, none that a name has brought
    assert page.locator("script").count() == 3
    page.locator("#explore-at").fill("1")
    next_frame(page)
    page.keyboard.press("n")
    # of a path the name is what stands behind the last slash
    assert HOSTILE.rpartition("/")[2] in page.locator("#listen-current").inner_text()
    said = page.locator("#explore-facts").inner_text()
    assert HOSTILE in said
    assert watched.complaints == []
