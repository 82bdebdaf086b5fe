"""Reviewing from Python: names left out, assumptions called so, nothing heard in a history."""

from pathlib import Path

import numpy as np
import pytest
import soundfile as sf

import audiolevel as al
from audiolevel.api.reviewing import PrivacyReview
from audiolevel.site.sections import Microphone
from tests.studies.street_noises import MAKERS, RATE_HZ

# nobody measured it
ASSUMED = al.Site().assuming(110.0)


@pytest.fixture(scope="module")
def street(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Half a minute of road at 16 kHz."""
    path = tmp_path_factory.mktemp("reviewing") / "by_the_school.wav"
    road = np.concatenate([MAKERS["road"](np.random.default_rng(k)) for k in range(3)])
    sf.write(path, 0.05 * road / np.abs(road).max(), RATE_HZ)
    return path


@pytest.fixture(scope="module")
def assumed(street: Path) -> PrivacyReview:
    return al.review_privacy([street], site=ASSUMED, date="2026-03-03").redacted()


def test_an_assumption_gives_the_distances_of_a_calibration_and_is_called_one(
    street: Path, assumed: PrivacyReview
) -> None:
    site = al.Site(microphone=Microphone(spl_at_full_scale_db=110.0))
    known = al.review_privacy([street], site=site, date="2026-03-03")
    assert assumed.calibration_assumed
    assert not known.calibration_assumed
    for one, two in zip(assumed.curves, known.curves, strict=True):
        assert np.array_equal(one.typical, two.typical)
    # what the site file knows is not assumed again
    other = al.review_privacy([street], site=site.assuming(90.0), date="2026-03-03")
    assert other.to_object() == known.to_object()


def test_names_left_out_stand_nowhere(assumed: PrivacyReview, tmp_path: Path) -> None:
    files = assumed.save(tmp_path)
    assert {path.name for path in files} == {
        "privacy.json",
        "privacy.txt",
        "privacy.png",
        "rings.png",
        "privacy.md",
        "assessment.md",
        "privacy.html",
    }
    for path in tmp_path.iterdir():
        assert b"by_the_school" not in path.read_bytes(), path.name
    assert "2026-03-03" in assumed.to_text()
    assert max(map(len, assumed.to_text().splitlines())) <= 80


def test_without_a_calibration_there_is_no_picture(street: Path, tmp_path: Path) -> None:
    plain = al.review_privacy([street], date="2026-03-03")
    assert not plain.curves
    assert {path.name for path in plain.save(tmp_path)} == {
        "privacy.json",
        "privacy.txt",
        "privacy.md",
        "assessment.md",
        "privacy.html",
    }
    assert "by_the_school.wav" in plain.to_text()


def test_a_level_history_is_refused(street: Path, tmp_path: Path) -> None:
    history = tmp_path / "h.csv"
    al.measure_all([street], history=history)
    with pytest.raises(al.AudioLevelError, match=r"h\.csv: is a level history"):
        al.review_privacy([history])


def test_a_silent_file_beside_the_sound_changes_nothing_and_its_name_can_be_left_out(
    street: Path, assumed: PrivacyReview, tmp_path: Path
) -> None:
    off = tmp_path / "behind_the_inn.wav"
    sf.write(off, np.zeros(40 * RATE_HZ), RATE_HZ)
    beside = al.review_privacy([street, off], site=ASSUMED, date="2026-03-03").redacted()
    alone = assumed.to_object()
    together = beside.to_object()
    for key in ("heard_s", "speech_share", "speech_share_high", "radius_heard_m"):
        assert together[key] == alone[key]
    said = [one for one in beside.warnings if one.code == "not heard"]
    assert [one.source for one in said] == ["recording 2"]
    assert "behind_the_inn" not in beside.to_text() + str(together)


def test_an_assumption_that_is_no_full_scale_is_refused() -> None:
    for db in (float("nan"), 7.0):
        with pytest.raises(al.AudioLevelError, match=f"^{db:g} dB SPL .*between 40 and 200"):
            al.Site().assuming(db)
