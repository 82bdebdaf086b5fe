"""What is left of names, moments and hours in a result that is to be shared."""

from dataclasses import replace
from pathlib import Path

import audiolevel as al
from audiolevel.api.redacting import redacted
from audiolevel.ground.notices import notice
from audiolevel.site.sections import Site, Wanted
from tests.privacy.made_review import review_of

SAMPLE = Path(__file__).parents[2] / "sample_audio"


def test_names_and_moments_can_be_taken_away() -> None:
    review = redacted(review_of())
    assert [one.path.name for one in review.plan.survey.measurements] == ["recording 1"]
    assert [one.start for one in review.plan.survey.measurements] == [None]
    assert "by_the_school" not in repr(review.warnings)


def test_a_recording_of_a_wanted_sound_loses_its_name_too() -> None:
    site = Site(wanted=(Wanted(sound="shout"), Wanted(file="door_of_the_neighbours.wav")))
    review = review_of()
    named = replace(
        review,
        plan=replace(review.plan, survey=replace(review.plan.survey, site=site)),
        warnings=(notice("x", sound="door_of_the_neighbours", at="2026-03-02 09:17"),),
        mitigations=(replace(review.mitigations[0], weaker_db={"door_of_the_neighbours": 3.0}),),
    )
    taken = redacted(named)
    assert [one.file for one in taken.plan.survey.site.wanted] == ["", "own sound 1"]
    assert taken.warnings[0].facts["sound"] == "own sound 1"
    assert taken.mitigations[0].weaker_db == {"own sound 1": 3.0}


def test_a_followed_up_log_loses_its_name_its_dates_and_its_hours(tmp_path: Path) -> None:
    plan = al.plan(SAMPLE / "bridge_approach.ogg", site=SAMPLE / "site.toml")
    log = SAMPLE / "camera_log.csv"
    kinds = al.LogFormat(kind_column="event", kinds=("sound",))
    whole = al.follow_up(plan, log, log_format=kinds)
    taken = whole.redacted()
    taken.save(tmp_path)
    held = [one.read_text("utf-8", "ignore") for one in tmp_path.iterdir()]
    assert "2024-06-08" in whole.to_text()
    for said in ("camera_log", "2024-06", "Jun 2024", "00:18"):
        assert not any(said in one for one in held), said
    assert "day 1" in taken.to_text()
    # what is computed stays
    assert (taken.last.count, taken.decision) == (whole.last.count, whole.decision)
