"""What is left of names, moments and hours in a result that is to be shared."""

from dataclasses import replace

from audiolevel.api.redacting import redacted
from audiolevel.notices import notice
from audiolevel.site.sections import Site, Wanted
from tests.privacy.made_review import review_of


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
