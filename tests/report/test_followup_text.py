"""The words of a follow-up."""

import pytest

from audiolevel.report.followup_text import p_value_text


@pytest.mark.parametrize(
    ("p_value", "cases"),
    [
        (1.0, "nearly every case"),
        (0.89, "9 of 10 cases"),
        (0.11, "1 of 10 cases"),
        (0.05, "5 of 100 cases"),
        (0.0123, "1 of 100 cases"),
        (0.004, "4 of 1000 cases"),
        (0.001, "1 of 1000 cases"),
        (0.0009, "less than one of 1000 cases"),
        (0.0, "less than one of 1000 cases"),
    ],
)
def test_a_p_value_is_said_as_cases(p_value: float, cases: str) -> None:
    assert p_value_text(p_value) == f"such a difference comes about by chance alone in {cases}"
