"""The table in a log, in the encodings and with the signs that exports have."""

from pathlib import Path

import pytest

from audiolevel.errors import SettingError
from audiolevel.followup.log_table import clips_in, table_of
from tests.batch.made_folder import keep_out

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


def test_clips_are_those_of_a_folder_and_what_is_in_it(tmp_path: Path) -> None:
    for name in ("b/2.mp4", "a/1.MP4", "a/1.jpg", "log.txt"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    assert clips_in(tmp_path) == [["a/1.MP4"], ["b/2.mp4"]]
    (tmp_path / "b/2.mp4").unlink()
    (tmp_path / "a/1.MP4").unlink()
    assert clips_in(tmp_path) == [["a/1.jpg"]]
    (tmp_path / "a/1.jpg").unlink()
    with pytest.raises(SettingError, match="holds no clips"):
        clips_in(tmp_path)


def test_a_folder_that_cannot_be_looked_into_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its clips left out, the camera would seem to have fired less."""
    for name in ("a/1.mp4", "shut/2.mp4"):
        (tmp_path / name).parent.mkdir()
        (tmp_path / name).touch()
    keep_out(monkeypatch, "shut")
    with pytest.raises(SettingError, match=r"shut: cannot be read \(Permission denied\), so its"):
        clips_in(tmp_path)
