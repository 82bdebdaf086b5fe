"""Recordings of a folder, their sites, and what a manifest says of them."""

from datetime import datetime
from pathlib import Path

import pytest

from audiolevel.batch.discovery import Selection, find_items
from audiolevel.ground.errors import SettingError
from audiolevel.metering.parts import ALL, Part
from tests.batch.made_folder import keep_out, make_folder


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
    assert len(find_items(folder, Selection(include=["*.flac"], exclude=["*w4*"]))) == 4
    manifest = tmp_path / "m.csv"
    manifest.write_text("path,start,gain_setting,site\nr1.wav,2026-03-02T10:00,50,gate\n")
    item = next(i for i in find_items(folder, Selection(manifest=manifest)) if i.path == "r1.wav")
    assert item.start is not None
    assert (item.site, item.gain_setting, item.start.hour) == ("gate", 50.0, 10)
    # midnight is a time of day where it is written
    manifest.write_text("path,start\nr1.wav,2026-03-02 00:00\n")
    item = next(i for i in find_items(folder, Selection(manifest=manifest)) if i.path == "r1.wav")
    assert item.start == datetime(2026, 3, 2)
    manifest.write_text("path,start\nr1.wav,soon\n")
    with pytest.raises(SettingError, match=r"r1\.wav"):
        find_items(folder, Selection(manifest=manifest))
    manifest.write_text("path\nr99.wav\n")
    with pytest.raises(SettingError, match=r"names r99\.wav, which is not in"):
        find_items(folder, Selection(manifest=manifest))


def test_without_a_site_file_the_topmost_folders_are_the_sites(tmp_path: Path) -> None:
    for name in ("a/x/1.wav", "a/2.wav", "b/3.wav", "4.wav", f"{tmp_path.name}/5.wav"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    site = {item.path: item.site for item in find_items(tmp_path)}
    assert site["a/x/1.wav"] == site["a/2.wav"] == "a"
    assert site["b/3.wav"] == "b"
    # the folder itself and one of its name in it are two
    assert site["4.wav"] != site[f"{tmp_path.name}/5.wav"]
    gate = tmp_path / "gate.toml"
    gate.touch()
    given = find_items(tmp_path, Selection(site=str(gate)))
    assert {item.path: item.site for item in given} == site
    assert {item.site_file for item in given} == {str(gate)}
    (tmp_path / "site.toml").touch()
    assert len({item.site for item in find_items(tmp_path)}) == 1


def test_video_is_found_as_well(tmp_path: Path) -> None:
    for name in ("a.MP4", "b.mov", "c.wav", "d.txt", ".e.mp4"):
        (tmp_path / name).touch()
    assert [item.path for item in find_items(tmp_path)] == ["a.MP4", "b.mov", "c.wav"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("path,Start\nr1.wav,2026-03-02T10:00\n", "unknown column 'Start'; did you mean start?"),
        ("path,colour\nr1.wav,red\n", "unknown column 'colour'; known: path, start,"),
        ("path,path\nr1.wav,r1.wav\n", "has the column path twice"),
        ("path\nr1.wav\nr1.wav\n", "row 2: names r1.wav twice"),
        (
            "path,start\nr1.wav,2026-03-20\n",
            r"m\.csv: r1\.wav: start: '2026-03-20' is no date and time like "
            "2026-03-02T17:30; mend that row",
        ),
        ("path,start\nr1.wav,20260320\n", "start: '20260320' is no date and time"),
        ("path,start\nr1.wav,2026-W12-5\n", "start: '2026-W12-5' is no date and time"),
        (
            "path,start\nr1.wav,02/03/2026 08:00\n",
            r"m\.csv: r1\.wav: start: '02/03/2026 08:00' is no date and time like "
            "2026-03-02T17:30; mend that row",
        ),
        ("path,channel\nr1.wav,0\n", "r1.wav: channel '0' is neither mean nor a channel"),
        ("path,gain_setting\nr1.wav,nan\n", "r1.wav: gain_setting nan is no setting"),
        ("path,from_s\nr1.wav,1:75\n", "r1.wav: '1:75' is not seconds, minutes:seconds or hours"),
        ("path,from_s,to_s\nr1.wav,2,1.5\n", "r1.wav: to_s 1.5 does not lie after from_s 2"),
        ("path,to_s\nr1.wav,0\n", "r1.wav: to_s 0 does not lie after from_s 0"),
        ("path,site\nr1.wav,a,b\n", "row 1: has more cells than the header"),
    ],
)
def test_a_manifest_that_cannot_be_meant_is_refused(
    folder: Path, tmp_path: Path, text: str, said: str
) -> None:
    (tmp_path / "m.csv").write_text(text)
    with pytest.raises(SettingError, match=said):
        find_items(folder, Selection(manifest=tmp_path / "m.csv"))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"[microphone]\nspl_at_full_scal_db = 118", "unknown key spl_at_full_scal_db"),
        (b'[site]\nname = "Caf\xe9"', "is not text in UTF-8"),
    ],
)
def test_a_site_file_that_cannot_be_meant_is_refused(
    tmp_path: Path, text: bytes, said: str
) -> None:
    for name in ("a/1.wav", "b/2.wav"):
        (tmp_path / name).parent.mkdir()
        (tmp_path / name).touch()
    (tmp_path / "b" / "site.toml").write_bytes(text)
    with pytest.raises(SettingError, match=rf"b.site\.toml: {said}"):
        find_items(tmp_path)
    # one that holds for nothing that is measured is nobody's business
    assert [item.path for item in find_items(tmp_path, Selection(exclude=["b/*"]))] == ["a/1.wav"]
    (tmp_path / "b" / "site.toml").write_text("")
    with pytest.raises(SettingError, match=r"none\.toml: cannot be read"):
        find_items(tmp_path, Selection(site=str(tmp_path / "none.toml")))


def test_a_folder_that_cannot_be_looked_into_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("a/1.wav", "shut/2.wav", "z/shut/3.wav"):
        (tmp_path / name).parent.mkdir(parents=True)
        (tmp_path / name).touch()
    keep_out(monkeypatch, "shut")
    assert [(item.path, item.closed) for item in find_items(tmp_path)] == [
        ("a/1.wav", ""),
        ("shut", "Permission denied"),
        ("z/shut", "Permission denied"),
    ]
    # who knows of it can leave it out, by its name or by all that is in it
    left = find_items(tmp_path, Selection(exclude=["shut", "z/shut/*"]))
    assert [item.path for item in left] == ["a/1.wav"]
    # what a manifest names in it is not gone
    manifest = tmp_path / "m.csv"
    manifest.write_text("path\na/1.wav\nshut/2.wav\n")
    assert len(find_items(tmp_path, Selection(manifest=manifest))) == 3
    with pytest.raises(SettingError, match=r"shut: cannot be read \(Permission denied\); check"):
        find_items(tmp_path / "shut")


def test_a_gain_setting_may_be_a_name(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "m.csv").write_text("path,gain_setting,channel\nr1.wav,high,mean\n", "utf-8-sig")
    item = next(
        i for i in find_items(folder, Selection(manifest=tmp_path / "m.csv")) if i.path == "r1.wav"
    )
    assert (item.gain_setting, item.channel) == ("high", None)


def test_a_manifest_may_name_a_part(folder: Path, tmp_path: Path) -> None:
    rows = "r0.wav,0:01,\nr1.wav,,0:00:02.5\nr2.wav,,\n"
    (tmp_path / "m.csv").write_text("path,from_s,to_s\n" + rows)
    part = {
        one.path: one.part for one in find_items(folder, Selection(manifest=tmp_path / "m.csv"))
    }
    assert part["r0.wav"] == Part(1.0, None)
    assert part["r1.wav"] == Part(None, 2.5)
    assert part["r2.wav"] == part["r3.wav"] == ALL
