"""Pictures are written whole, with their words inside and beside, the same bytes each time."""

import struct
from pathlib import Path

import pytest

from audiolevel.report.figures import Picture, new_figure, plain, save


def _picture() -> Picture:
    figure = new_figure(2, 1)
    plain(figure.subplots())
    return Picture(figure, "an empty pair of axes")


def test_the_same_picture_gives_the_same_bytes(tmp_path: Path) -> None:
    save(_picture(), tmp_path / "a.png", "plan")
    save(_picture(), tmp_path / "b.png", "plan")
    data = (tmp_path / "a.png").read_bytes()
    assert data == (tmp_path / "b.png").read_bytes()
    # PNG (ISO/IEC 15948), 11.2.2: width and height stand at byte 16; 2 by 1 inches at 144 dpi
    assert struct.unpack(">II", data[16:24]) == (288, 144)
    assert b"an empty pair of axes" in data
    words = (tmp_path / "a.alt.txt").read_text(encoding="utf-8")
    assert words == "an empty pair of axes\n\nmade by audiolevel plan\n"
    # who drew it stands in the picture itself, so the next plan may replace it
    assert b"made by audiolevel plan" in data


def test_a_picture_that_fails_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    picture = _picture()

    def fail(*_: object, **__: object) -> None:
        raise MemoryError

    monkeypatch.setattr(picture.figure, "savefig", fail)
    with pytest.raises(MemoryError):
        save(picture, tmp_path / "a.png", "plan")
    assert list(tmp_path.iterdir()) == []
