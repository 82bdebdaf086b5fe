"""Kinds of site: their order, and what is said of a name that is none."""

import pytest

from audiolevel.counting.site_kinds import (
    CHANGE_SLOPE_NP_PER_DB,
    KINDS,
    LEVEL_SLOPE_NP_PER_DB,
    UNKNOWN,
    kind_of,
)
from audiolevel.errors import SettingError


def test_a_site_nobody_named_is_believed_least() -> None:
    assert kind_of(None) is UNKNOWN
    assert all(UNKNOWN.shift_db >= kind.shift_db for kind in KINDS.values())
    assert all(UNKNOWN.shift_worth <= kind.shift_worth for kind in KINDS.values())
    assert all(UNKNOWN.wet_db >= kind.wet_db for kind in KINDS.values())


def test_a_busy_road_is_the_steadiest() -> None:
    # traffic that never stops averages out from hour to hour: common practice
    assert min(KINDS, key=lambda name: KINDS[name].shift_db) == "busy road"


def test_a_kind_is_found_by_its_name_and_passed_on_as_itself() -> None:
    assert all(kind_of(name) is kind for name, kind in KINDS.items())
    assert kind_of(KINDS["quiet"]) is KINDS["quiet"]


@pytest.mark.parametrize(("name", "hint"), [("bussy road", '"busy road"?'), ("xyz", '"other"')])
def test_what_is_no_kind_is_refused_with_the_nearest(name: str, hint: str) -> None:
    with pytest.raises(SettingError, match=r"site\.kind") as refused:
        kind_of(name)
    assert hint in str(refused.value)
    assert ("did you mean" in str(refused.value)) is (name != "xyz")


def test_slopes_are_those_of_firings_that_get_rarer() -> None:
    # from 50 to 10 firings a day is ln 5 = 1.61 neper, 5.7 dB of level
    assert pytest.approx(5.75, abs=0.05) == 1.609 / LEVEL_SLOPE_NP_PER_DB
    assert 0 < CHANGE_SLOPE_NP_PER_DB < LEVEL_SLOPE_NP_PER_DB
