"""The table in a text, in the encodings and with the signs that exports have."""

from pathlib import Path

import pytest

from audiolevel.ground.errors import SettingError
from audiolevel.ground.tables import table_of

ROWS = [["Zeit", "Gerät"], ["31.12.2026 20:00", "Tür"], ["1.1.2027 06:12", "Tür"]]
TEXT = "\r\n".join(";".join(row) for row in ROWS) + "\r\n"


@pytest.mark.parametrize(
    "data",
    [
        TEXT.encode("utf-8"),
        TEXT.encode("utf-8-sig"),
        TEXT.encode("utf-16"),
        TEXT.encode("utf-16-le"),
        TEXT.encode("utf-16-be"),
        TEXT.encode("latin-1"),
        TEXT.encode("cp1252"),
    ],
)
def test_the_same_rows_in_every_encoding(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "log.csv").write_bytes(data)
    assert table_of(tmp_path / "log.csv") == ROWS


@pytest.mark.parametrize("sign", list(",;|\t"))
def test_the_sign_between_cells_is_found(tmp_path: Path, sign: str) -> None:
    lines = ["a b c", sign.join("xyz"), sign.join(("2026-01-01 10:00", "1", '"q"'))]
    (tmp_path / "log.csv").write_text("\n\n".join(lines))
    rows = table_of(tmp_path / "log.csv")
    assert rows[1:] == [["x", "y", "z"], ["2026-01-01 10:00", "1", "q"]]


def test_a_decimal_comma_parts_nothing_where_another_sign_does(tmp_path: Path) -> None:
    (tmp_path / "log.csv").write_text("10:00:05,5;-30,2\n10:00:06,5;-31,2\n")
    assert table_of(tmp_path / "log.csv") == [["10:00:05,5", "-30,2"], ["10:00:06,5", "-31,2"]]


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "is empty"),
        (b" \n\n", "is empty"),
        (b"a\nb\0c\n", "is not text"),
        (TEXT.encode("utf-16")[:-1], "breaks off or is no text"),
        (b'a,"' + b"x" * 200_000, "is no table"),
    ],
)
def test_what_is_no_table_is_refused_by_name(tmp_path: Path, data: bytes, said: str) -> None:
    (tmp_path / "log.csv").write_bytes(data)
    with pytest.raises(SettingError, match=said) as refused:
        table_of(tmp_path / "log.csv")
    assert "log.csv" in str(refused.value)
