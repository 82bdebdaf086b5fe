"""Random sites through the plan: the whole in the slow tests, a part of it always."""

import pytest

from tests.studies.random_sites import run


@pytest.mark.parametrize("count", [10, pytest.param(300, marks=pytest.mark.slow)])
def test_no_random_site_is_told_what_breaks_its_limit_or_cannot_be(count: int) -> None:
    cases, wrong = run(count)
    assert wrong == []
    # all kinds of site are among them, or nothing was tried
    assert min(cases[case] for case in ("both", "silent", "neither")) >= max(1, count // 20)
