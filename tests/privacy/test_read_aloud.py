"""Walk tests: read, refused, and held against what is computed."""

from pathlib import Path

import numpy as np
import pytest

from audiolevel.ground.errors import SettingError
from audiolevel.privacy.audibility import ListeningModel
from audiolevel.privacy.intelligibility import share_understood
from audiolevel.privacy.read_aloud import WORDS, Reading, compared, read_walk_test
from audiolevel.privacy.third_octaves import BandLevels, usable_bands
from audiolevel.site.sections import Site
from tests.privacy.test_audibility import model_of

HEAD = "distance_m,voice,words_read,words_understood\n"


def test_a_form_is_read_as_it_was_written(tmp_path: Path) -> None:
    path = tmp_path / "walk.csv"
    path.write_text("listener,distance_m,voice,words_read,words_understood\nA,6.5,normal,20,13\n")
    assert read_walk_test(path) == (Reading(6.5, "normal", 20, 13),)
    assert len(set(WORDS)) == 20


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("distance_m,voice,words_read\n", "no column words_understood"),
        (HEAD, "has no row"),
        (
            HEAD + "4,whisper,20,3\n",
            "'4,whisper,20,3': voice must be one of normal, raised",
        ),
        (HEAD + "4,normal,20,21\n", "'4,normal,20,21': distance_m must be above 0"),
        (HEAD + "4,normal,20,3\n-1,normal,20,3\n", "'-1,normal,20,3': distance_m must be above 0"),
        (HEAD + "4,normal,twenty,3\n", "'4,normal,twenty,3': distance_m must be above 0"),
    ],
)
def test_what_makes_no_sense_is_refused_with_its_row(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "walk.csv"
    path.write_text(text)
    with pytest.raises(SettingError, match=rf"walk\.csv: {said}"):
        read_walk_test(path)


def test_verdicts_follow_from_the_computed_share() -> None:
    model = model_of(15.0)
    metres = 6.0
    index = model.index("normal", np.array([metres]), model.noise_db(50, 0.0), model.bands.usable)
    share = float(share_understood(index)[0])
    expected = round(20 * share)
    told = compared(
        model,
        [
            Reading(metres, "normal", 20, expected),
            Reading(60.0, "normal", 20, 15),
            Reading(0.5, "raised", 20, 1),
        ],
    )
    assert [one.verdict for one in told] == ["as computed", "farther", "nearer"]
    assert told[0].computed.best == pytest.approx(share)
    assert told[0].computed.low <= share <= told[0].computed.high
    assert told[1].understood.low == pytest.approx(0.53, abs=0.01)  # Wilson, 15 of 20


def test_a_test_is_held_against_its_own_hour_and_scales_what_it_finds_too_near() -> None:
    quiet, loud = model_of(5.0).bands.counts, model_of(25.0).bands.counts
    counts = np.zeros_like(quiet)
    counts[9], counts[23] = loud[24], quiet[24]
    both = BandLevels(counts, usable_bands(48_000))
    model = ListeningModel(both, Site(), 99.9, format_floor_db=-200.0, rate_hz=48_000)
    at = np.array([12.0])
    # 15 of 20 is what the quiet hour lets through at 12 m, and far more than the loud one does
    index = model.index("normal", at, model.noise_db(50, 0.0, 23), both.usable)
    understood = round(20 * float(share_understood(index)[0]))
    night, day = compared(
        model, [Reading(12.0, "normal", 20, understood, hour) for hour in (23, 9)]
    )
    assert night.verdict == "as computed"
    assert night.farther_db == 0.0
    assert day.verdict == "farther"
    # the loudest talker in quiet moments, cleaned: what is missing then, to half a decibel
    noise = model.noise_db(90, 0.0, 9) - 10.0 - day.farther_db
    reached = float(share_understood(model.index("normal", at, noise, both.usable))[0])
    before = float(share_understood(model.index("normal", at, noise + 0.5, both.usable))[0])
    assert before < understood / 20 <= reached


def test_an_hour_that_is_none_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "walk.csv"
    path.write_text(f"{HEAD.strip()},hour\n4,normal,20,3,24\n")
    with pytest.raises(SettingError, match="hour must be 0 to 23"):
        read_walk_test(path)
