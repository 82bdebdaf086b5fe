"""Recordings of a folder, their sites, and what a manifest says of them."""

from pathlib import Path

import pytest

from audiolevel.batch.discovery import find_items
from audiolevel.errors import SettingError
from tests.batch.made_folder import make_folder


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_folder(tmp_path_factory.mktemp("batch"))


def test_items_sites_and_manifest(folder: Path, tmp_path: Path) -> None:
    items = find_items(folder)
    assert [item.path for item in items] == sorted(item.path for item in items)
    site = {item.path: item.site for item in items}
    assert site["r0.wav"] == "visits"
    assert site["wall/w0.flac"] == "wall"
    assert site["wall/night/n.ogg"] == "wall"  # the nearest site file above it
    assert len(find_items(folder, include=["*.flac"], exclude=["*w4*"])) == 4
    manifest = tmp_path / "m.csv"
    manifest.write_text("path,start,gain_setting,site\nr1.wav,2026-03-02T10:00,50,gate\n")
    item = next(i for i in find_items(folder, manifest=manifest) if i.path == "r1.wav")
    assert item.start is not None
    assert (item.site, item.gain_setting, item.start.hour) == ("gate", 50.0, 10)
    manifest.write_text("path,start\nr1.wav,soon\n")
    with pytest.raises(SettingError, match=r"r1\.wav"):
        find_items(folder, manifest=manifest)
    manifest.write_text("path\nr99.wav\n")
    with pytest.raises(SettingError, match=r"names r99\.wav, which is not in"):
        find_items(folder, manifest=manifest)
