"""What every result can do: be written whole, into a folder, as the same JSON."""

import json
from pathlib import Path

import pytest

from audiolevel.api.results import Result, as_kind, made_folder, site_of
from audiolevel.ground.errors import SettingError
from audiolevel.ground.intervals import Interval
from audiolevel.ground.records import Object
from audiolevel.site.sections import Site


class _Told(Result):
    _stem = "told"

    def to_object(self) -> Object:
        return {"level_db": -31.5, "name": "Bäckerstraße"}

    def to_text(self) -> str:
        return "-31.5 dB FS"


def test_a_result_is_saved_as_text_and_json_into_a_folder_of_its_own(tmp_path: Path) -> None:
    where = tmp_path / "new" / "folder"
    files = _Told().save(where)
    assert [file.name for file in files] == ["told.json", "told.txt"]
    assert sorted(where.iterdir()) == sorted(files)
    written = json.loads(files[0].read_text(encoding="utf-8"))
    assert list(written.items())[1] == ("command", "told")
    assert written.items() >= _Told().to_object().items()
    assert files[1].read_text(encoding="utf-8") == "-31.5 dB FS\n\nmade by audiolevel told\n"
    alone = _Told().save_json(tmp_path / "a.json")
    assert alone.read_bytes() == files[0].read_bytes() == _Told().to_json().encode()


def test_a_file_in_place_of_the_folder_is_refused_by_name(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("a file")
    with pytest.raises(SettingError, match=r"a: is no folder that can be written"):
        made_folder(tmp_path / "a")


def test_a_site_comes_with_the_folder_its_files_are_relative_to(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text('[site]\nname = "Quarry Lane"')
    site = site_of(path)
    assert (site.site.name, site.folder) == ("Quarry Lane", tmp_path)
    assert site_of(site) is site
    assert site_of(None) == Site()
    assert site_of(None).folder is None


def test_a_record_keeps_its_values_as_another_kind() -> None:
    class Named(Interval):
        pass

    named = as_kind(Named, Interval(2.0, 1.0, 3.0))
    assert isinstance(named, Named)
    assert (named.best, named.low, named.high) == (2.0, 1.0, 3.0)
