"""Controls for other settings."""

from dataclasses import replace

from audiolevel.pages.exploring import exploring_section
from audiolevel.planning.plan import plan_of
from audiolevel.planning.survey import survey_of
from audiolevel.site.sections import Display
from tests.made_street import SITE, heard, plan


def test_every_gain_and_mode_of_the_options_can_be_chosen() -> None:
    made = str(exploring_section(plan()))
    for option in plan().options:
        assert f'name="gain" value="{option.gain_db:g}"' in made
        assert f'name="mode" value="{option.trigger.mode}"' in made
    assert 'id="explore-display"' in made


def test_without_readings_there_is_no_scale_to_type_into() -> None:
    site = replace(
        SITE, display=Display(), trigger=replace(SITE.trigger, modes=("rise",)), wanted=()
    )
    made = str(exploring_section(plan_of(survey_of([heard(site)], site))))
    assert "explore-display" not in made
    assert 'value="threshold"' not in made


def test_nothing_to_try_is_no_section() -> None:
    assert exploring_section(replace(plan(), options=())) is None
