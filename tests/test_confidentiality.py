"""What the package cannot do: reach a network, write recorded sound, keep speech in a history."""

import ast
from pathlib import Path
from shutil import which

import pytest

from audiolevel.privacy.intelligibility import BANDS_HZ
from tests.studies.speech_study import PROMPTS

PACKAGE = Path(__file__).parents[1] / "audiolevel"


@pytest.mark.always
def test_the_package_cannot_reach_a_network() -> None:
    banned = {"socket", "ssl", "urllib", "http", "ftplib", "smtplib", "asyncio", "requests"}
    banned |= {"urllib3", "httpx", "aiohttp", "xmlrpc", "socketserver", "webbrowser"}
    paths = sorted(PACKAGE.rglob("*.py"))
    assert len(paths) > 30
    for path in paths:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.module:
                names = [node.module]
            assert not banned & {name.split(".")[0] for name in names}, path


@pytest.mark.always
def test_only_made_sounds_are_ever_written() -> None:
    # one function writes sound, and only the command that renders computed sounds calls it
    users = {
        path.name
        for path in PACKAGE.rglob("*.py")
        if "write_sound" in path.read_text(encoding="utf-8")
    }
    assert users <= {"sound_files.py", "sounding.py"}
    writers = {
        path.name
        for path in PACKAGE.rglob("*.py")
        if any(call in path.read_text(encoding="utf-8") for call in ("sf.write", "wavfile"))
    }
    assert writers <= {"sound_files.py"}


@pytest.mark.skipif(
    not (which("espeak-ng") or PROMPTS.is_dir()),
    reason="neither espeak-ng nor recorded prompts are installed",
)
def test_a_history_tells_no_more_of_speech_than_one_band_of_noise(tmp_path: Path) -> None:
    # Shannon et al., Science 270 (1995) 303-304: four bands are nearly perfect, one says little
    from tests.studies.history_study import scores

    found = scores(tmp_path, seconds=30)
    one, two, four = (found[f"vocoder of {n}"] for n in (1, 2, 4))
    assert one < two < four
    assert found["all columns"] < one + (two - one) / 3
    assert found["all columns, not held for a second"] > one + (two - one) / 2
    assert len(BANDS_HZ) == 18
