"""The reference is that of the commands and of the reader of site files, and its examples work."""

from pathlib import Path

import pytest

import audiolevel as al
from tests.reference_page import KEYS, PAGE, page, sections


def test_the_page_is_fresh() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run python -m tests.reference_page"


def test_every_key_has_an_example_that_the_reader_takes(tmp_path: Path) -> None:
    (tmp_path / "own.wav").write_bytes(b"")
    lines = []
    for heading, _ in sections():
        lines.append(heading)
        name = heading.strip("[]")
        # a wanted sound is a built-in one or a file
        lines += [
            f"{key.split('.')[1]} = {example}"
            for key, (_, example) in KEYS.items()
            if key.startswith(f"{name}.") and key != "wanted.file"
        ]
    path = tmp_path / "site.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    read = al.read_site(path)
    assert read.limits.false_triggers_per_day == 5
    assert read.visit[0].level_column == "LAFmax"
    path.write_text(f"[[wanted]]\nlevel_dba = 90\nfile = {KEYS['wanted.file'][1]}\n")
    assert al.read_site(path).wanted[0].file == "own.wav"


@pytest.mark.parametrize("block", PAGE.read_text(encoding="utf-8").split("```toml\n")[1:])
def test_what_can_be_copied_from_the_page_is_read(block: str, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text(block.split("```")[0], encoding="utf-8")
    assert al.read_site(path).wanted
