"""The words of a batch, each from a record made by hand."""

from audiolevel.batch.changes import ALL_LEVELS, Move
from audiolevel.batch.discovery import Item
from audiolevel.batch.overview import Drift, GainStep, Outlier
from audiolevel.batch.runner import Batch
from audiolevel.report.batch_text import findings, moves, stopped, totals


def test_totals_count_what_failed_as_not_measured() -> None:
    assert totals(Batch((), (), 0, 0)) == "0 recordings: 0 measured (0 now), 0 failed"
    one, shut = Item("a.wav", "s"), Item("shut", "s", closed="Permission denied")
    assert totals(Batch((one,), ("a",), 1, 0)) == "1 recording: 0 measured (0 now), 1 failed"
    # a folder is no recording, and nobody knows how many lie in it
    assert totals(Batch((one, one, shut), ("a", "b", "c"), 2, 1)) == (
        "2 recordings: 1 measured (1 now), 1 failed; 1 folder not read"
    )


def test_a_gain_step_stands_with_twice_its_standard_error() -> None:
    step = GainStep("wall", 1.0, 2.0, 10.04, 0.8, 12.0)
    assert findings([step], [], []) == [
        "wall: from gain 1 to 2 L50 moved by +10.0 dB (± 1.6 dB); the site file says +12.0 dB"
    ]
    alone = GainStep("wall", 1.0, 2.0, 10.0, None, None)
    assert "(one recording at a setting: not sure)" in findings([alone], [], [])[0]


def test_a_drift_names_its_gain_setting_where_there_is_one() -> None:
    known, unknown = Drift("wall", 2.0, 3, -3.0, 0.5), Drift("wall", None, 3, -3.0, 0.5)
    assert findings([], [known, unknown], []) == [
        "wall at gain 2: L90 drifts by -3.0 dB in 30 days (± 0.5, 95 %), 3 visits",
        "wall: L90 drifts by -3.0 dB in 30 days (± 0.5, 95 %), 3 visits",
    ]


def test_outliers_are_above_or_below_or_spoilt() -> None:
    lines = findings(
        [],
        [],
        [
            Outlier("a.wav", from_median_db=-6.04),
            Outlier("b.wav", from_median_db=19.75),
            Outlier("c.wav", spoilt_by=("clipped", "truncated")),
        ],
    )
    assert lines == [
        "a.wav: LAeq 6.0 dB below the middle of its site's recordings",
        "b.wav: LAeq 19.8 dB above the middle of its site's recordings",
        "c.wav: clipped, truncated",
    ]


def test_silence_is_told_with_what_it_is_left_out_of() -> None:
    assert findings([], [], [], [("gate", 1), ("wall", 2)]) == [
        "gate: 1 recording of digital silence left out of means, gain steps and drift",
        "wall: 2 recordings of digital silence left out of means, gain steps and drift",
    ]


def test_nothing_is_said_where_nothing_is() -> None:
    assert findings([], [], []) == ["nothing stands out"]
    assert moves([], 0.1) == ["nothing moved by more than 0.1 dB"]


def test_moves_say_what_was_and_is_in_a_line_a_recording() -> None:
    found = [
        Move("a.wav", "laeq_db", -40.0, -39.8),
        Move("a.wav", "L50", -42.0, -41.5),
        Move("a.wav", "warnings", "", "short"),
        Move("a.wav", "lae_db", None, 1.0),
        Move("b.wav", ALL_LEVELS, -40.0, -34.0),
        Move("gone.wav", "recording", "measured", "gone"),
    ]
    assert moves(found, 0.1) == [
        "differences of more than 0.1 dB: 3 recordings",
        "a.wav: LAeq +0.2 dB; L50 +0.5 dB; warnings was none, is short; lae_db was none, is 1",
        "b.wav: all levels +6.0 dB",
        "gone.wav: was measured, is gone",
    ]


def test_a_stop_says_how_far_and_how_on() -> None:
    assert stopped(4, 20, "out").startswith("stopped: 4 of 20 recordings done and kept in out")
