"""Forms of time, each against the moment that it was written for."""

import contextlib
from datetime import UTC, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audiolevel.followup.time_forms import AmbiguousDates, is_time, times_of

NEW_YEARS_EVE = datetime(2026, 12, 31, 20, 15, 5)


@pytest.mark.parametrize(
    "text",
    [
        "2026-12-31T20:15:05",
        "2026-12-31 20:15:05",
        "20261231T201505",
        "20261231201505",
        "20261231 20:15:05",
        "2026/12/31 20:15:05",
        "2026.12.31 20:15:05",
        "31.12.2026 20:15:05",
        "31. 12. 2026, 20:15:05 Uhr",
        "31.12.26 20:15:05",
        "31/12/2026 20:15:05",
        "31-12-2026_20:15:05",
        "12/31/2026 08:15:05 PM",
        "12/31/2026, 8:15:05 p.m.",
        "12/31/26 08:15:05pm",
        "31 Dec 2026 20:15:05",
        "31-Dec-2026 20:15:05",
        "31. Dezember 2026 um 20:15:05",
        "31 déc. 2026 20:15:05",
        "Dec 31, 2026 at 8:15:05 PM",
        "December 31st 2026 20:15:05",
        "Thu Dec 31 20:15:05 2026",
        "Thursday, 31 December 2026 20:15:05",
        "Do, 31.12.2026 20:15:05",
        "2026-Dec-31 20:15:05",
        "20:15:05 31.12.2026",
        "31.12.2026 20:15:05,000",
    ],
)
def test_one_moment_in_many_forms(text: str) -> None:
    assert is_time(text)
    assert times_of([text]).moments == [NEW_YEARS_EVE]


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("2026-12-31 20:15:05.25", datetime(2026, 12, 31, 20, 15, 5, 250_000)),
        ("31.12.2026 20:15", datetime(2026, 12, 31, 20, 15)),
        ("12/31/2026 12:15 AM", datetime(2026, 12, 31, 0, 15)),
        ("12/31/2026 12:15 PM", datetime(2026, 12, 31, 12, 15)),
        ("2026-12-31T20:15:05Z", datetime(2026, 12, 31, 20, 15, 5, tzinfo=UTC)),
        ("31.12.2026 20:15 UTC", datetime(2026, 12, 31, 20, 15, tzinfo=UTC)),
        (
            "2026-12-31 20:15:05+0130",
            datetime(2026, 12, 31, 20, 15, 5, tzinfo=timezone(timedelta(hours=1, minutes=30))),
        ),
        ("2026-12-31 20:15:05+00", datetime(2026, 12, 31, 20, 15, 5, tzinfo=UTC)),
        ("20261231T201505+0000", datetime(2026, 12, 31, 20, 15, 5, tzinfo=UTC)),
        (
            "20261231T201505-05",
            datetime(2026, 12, 31, 20, 15, 5, tzinfo=timezone(timedelta(hours=-5))),
        ),
        # a zone that nobody can tell for sure: not read as if it were not there
        ("2026-12-31 20:15:05 EST", None),
        ("20:15:05-31.12.2026", NEW_YEARS_EVE),
        ("1798748105", datetime(2026, 12, 31, 20, 15, 5, tzinfo=UTC)),
        ("1798748105,5", datetime(2026, 12, 31, 20, 15, 5, 500_000, tzinfo=UTC)),
        ("1798748105250", datetime(2026, 12, 31, 20, 15, 5, 250_000, tzinfo=UTC)),
        ("rec_20261231_201505.mp4", NEW_YEARS_EVE),
        ("2026-12-31/20-15-05.mp4", NEW_YEARS_EVE),
        ("20261231/2026-12-31_20-15-05", NEW_YEARS_EVE),
        ("20261231/ch1_201505_event.mkv", None),
        ("cam1_20261231201505_20261231201530.mp4", NEW_YEARS_EVE),
        ("IMG_20261231201505.jpg", NEW_YEARS_EVE),
    ],
)
def test_halves_zones_epochs_and_names(text: str, meant: datetime | None) -> None:
    assert times_of([text]).moments == [meant]


@pytest.mark.parametrize(
    "text",
    [
        *("", "17", "2026-12-31", "20:15", "sound", "32.12.2026 20:15", "31.13.2026 20:15"),
        *("31.12.2026 25:15", "31.12.2026 20:75", "12/31/2026 20:15 PM", "31.12.202 20:15"),
        *("31.12.2026 20:15 extra words", "123456789", "99999999999", "31 Foo 2026 20:15"),
        *("29.2.2026 20:15", "2026-31-12 20:15"),
    ],
)
def test_what_is_no_moment(text: str) -> None:
    assert not is_time(text)
    assert times_of([text]).moments == [None]


def test_the_whole_column_decides() -> None:
    # the thirteenth can only be a day
    first = ["03/04/2026 10:00", "04/04/2026 10:00", "13/04/2026 10:00"]
    found = times_of(first)
    assert found.form == "dmy"
    assert [one.day for one in found.moments if one] == [3, 4, 13]
    found = times_of(["03/04/2026 10:00", "04/13/2026 10:00"])
    assert (found.form, found.moments[0]) == ("mdy", datetime(2026, 3, 4, 10))


def test_where_both_fit_nobody_knows_but_the_user() -> None:
    both = ["03/04/2026 10:00", "05/04/2026 11:00"]
    with pytest.raises(AmbiguousDates) as refused:
        times_of(both)
    assert refused.value.readings == {
        "dmy": datetime(2026, 4, 3, 10),
        "mdy": datetime(2026, 3, 4, 10),
    }
    assert times_of(both, order="dmy").moments[1] == datetime(2026, 4, 5, 11)
    assert times_of(both, order="mdy").moments[1] == datetime(2026, 5, 4, 11)
    # the third of March is the same in both
    assert times_of(["03/03/2026 10:00"]).moments == [datetime(2026, 3, 3, 10)]
    # three readings where the year may stand first
    with pytest.raises(AmbiguousDates) as refused:
        times_of(["10-11-12 10:00"])
    assert set(refused.value.readings) == {"dmy", "mdy", "ymd"}


def test_a_form_that_is_named_is_taken() -> None:
    found = times_of(["4.6.2024 17h30", "x"], "%d.%m.%Y %Hh%M")
    assert (found.moments, found.form) == ([datetime(2024, 6, 4, 17, 30), None], "named")
    assert is_time("17:30", "%H:%M")


FORMS = {
    "dmy": ("%d.%m.%Y %H:%M:%S", "%d/%m/%y %I:%M:%S %p", "%d-%m-%Y, %H:%M:%S"),
    "mdy": ("%m/%d/%Y %I:%M:%S %p", "%m-%d-%Y %H:%M:%S"),
    "": ("%Y-%m-%d %H:%M:%S", "%d %b %Y %H:%M:%S", "%b %d, %Y %I:%M:%S %p", "%Y%m%dT%H%M%S"),
}


@given(
    st.lists(
        st.datetimes(datetime(2000, 1, 1), datetime(2099, 12, 31)).map(
            lambda one: one.replace(microsecond=0)
        ),
        min_size=1,
        max_size=20,
    ),
    st.sampled_from([(order, form) for order, forms in FORMS.items() for form in forms]),
)
def test_what_is_written_is_read_or_refused_but_never_misread(
    moments: list[datetime], written: tuple[str, str]
) -> None:
    order, form = written
    texts = [one.strftime(form) for one in moments]
    assert times_of(texts, order=order).moments == moments
    try:
        assert times_of(texts).moments == moments
    except AmbiguousDates:
        # only where no day tells: every one could be a month, or a year
        assert order
        assert all(one.day <= 12 or "%y" in form for one in moments)


@given(st.text(max_size=40))
def test_no_text_breaks_the_reader(text: str) -> None:
    assert isinstance(is_time(text), bool)
    with contextlib.suppress(AmbiguousDates):
        assert len(times_of([text]).moments) == 1
