"""What moved between two batches, by hand."""

from audiolevel.batch.changes import ALL_LEVELS, Move, moves
from tests.batch.test_overview import record_with


def test_moved_sees_what_came_went_and_failed() -> None:
    old = {name: record_with(name, -40.0) for name in ("a", "gone", "bad")}
    found = moves(old, [record_with("a", -40.05), record_with("new", -40.0)], 0.1, ["bad"])
    assert found == [
        Move("bad", "recording", "measured", "failed"),
        Move("gone", "recording", "measured", "gone"),
        Move("new", "recording", "not there", "measured"),
    ]


def test_what_failed_before_is_mended_gone_or_as_it_was() -> None:
    new = [record_with("mended", -40.0), record_with("new", -40.0)]
    found = moves({}, new, 0.1, ["still", "fresh"], ["mended", "still", "gone"])
    assert found == [
        Move("fresh", "recording", "not there", "failed"),
        Move("gone", "recording", "failed", "gone"),
        Move("mended", "recording", "failed", "measured"),
        Move("new", "recording", "not there", "measured"),
    ]


def test_a_closed_folder_stands_for_what_lies_in_it() -> None:
    inside = record_with("shut/a", -40.0)
    assert moves({"shut/a": inside}, [], 0.1, ["shut"]) == [
        Move("shut/a", "recording", "measured", "failed")
    ]
    assert moves({}, [inside], 0.1, [], ["shut"]) == [
        Move("shut/a", "recording", "failed", "measured")
    ]
    assert moves({}, [], 0.1, ["shut/b"], ["shut"]) == []
    assert moves({}, [], 0.1, ["shut"], ["shut"]) == []


def test_one_change_of_all_levels_is_one_move() -> None:
    before = {"a": record_with("a", -40.0)}
    (all_levels,) = moves(before, [record_with("a", -34.0)], 0.1)
    assert all_levels == Move("a", ALL_LEVELS, -40.0, -34.0)
    assert all_levels.difference == 6.0
    # a level that stayed where it was is not told as moved
    found = moves(before, [record_with("a", -34.0, lcpeak_db=-40.0)], 0.1)
    assert ALL_LEVELS not in {one.key for one in found}
    assert "lcpeak_db" not in {one.key for one in found}
    assert {one.difference for one in found} == {6.0}
    # neither is what moved by no more than the tolerance
    assert moves(before, [record_with("a", -39.9)], 0.1) == []


def test_a_level_that_is_not_known_and_words_are_told() -> None:
    before = {"a": record_with("a", -40.0, lcpeak_db=None)}
    now = record_with("a", -34.0, lcpeak_db=None, reference="dB SPL", warnings=["b", "a"])
    found = {one.key: one for one in moves(before, [now], 0.1)}
    assert set(found) == {ALL_LEVELS, "reference", "warnings"}
    assert found["warnings"].now == "a;b"
    assert found["warnings"].difference is None
