"""What a site file names is looked at when it is read, whatever the command needs of it."""

from pathlib import Path

import pytest

from audiolevel.ground.errors import SettingError
from audiolevel.site.checks import check_readings, check_schedule, check_wanted
from audiolevel.site.site_file import read_site


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[[wanted]]\nsound = 'gunshot'\n", "wanted.sound: no wanted sound is called 'gunshot'"),
        ("[[wanted]]\nfile = 'no.wav'\nlevel_dba = 90\n", "wanted.file = 'no.wav': is not beside"),
        (
            "[[wanted]]\nfile = 'own.wav'\n",
            "wanted.file = 'own.wav': needs level_dba",
        ),
        ("[schedule]\nzone = 'Londn'\n", "schedule.zone: no time zone 'Londn'"),
        ("[schedule]\nactive = ['mon-fri 25:00-07:00']\n", "schedule.active: "),
        ("[schedule]\ntraffic_by_hour = 'guessed'\n", "schedule.traffic_by_hour = 'guessed'"),
        (f"[schedule]\ntraffic_by_hour = {[0] * 24}\n", "schedule.traffic_by_hour: "),
        ("[display]\nreadings = [[58, -42.0]]\n", "display.readings: "),
        (
            "[[place]]\nname = 'bench'\ndistance_m = 3\nraised_share = 0.7\nshout_share = 0.4\n",
            "place: raised_share and shout_share must be 1 at most together",
        ),
    ],
)
def test_the_file_and_the_key_are_named(tmp_path: Path, text: str, said: str) -> None:
    (tmp_path / "gate.toml").write_text(text)
    with pytest.raises(SettingError) as refused:
        read_site(tmp_path / "gate.toml")
    assert str(refused.value).startswith(f"{tmp_path / 'gate.toml'}: {said}")


def test_what_is_known_passes(tmp_path: Path) -> None:
    (tmp_path / "own.wav").touch()
    check_wanted("Breaking  Glass", "", None, None)
    check_wanted("", "own.wav", 90.0, tmp_path)
    check_schedule(["mon-fri 18:00-07:00"], "CET", "published")
    check_schedule([], "", [1.0] * 24)
    check_readings([(58.0, -42.0), (71.0, -29.5)])
    check_readings([])
