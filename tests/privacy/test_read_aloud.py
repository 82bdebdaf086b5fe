"""Walk tests: read, refused, and held against what is computed."""

from pathlib import Path

import numpy as np
import pytest

from audiolevel.errors import SettingError
from audiolevel.privacy.intelligibility import share_understood
from audiolevel.privacy.read_aloud import WORDS, Reading, compared, read_walk_test
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
