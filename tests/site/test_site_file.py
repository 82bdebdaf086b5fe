"""A site file: what is read, what is refused, and what is added."""

from pathlib import Path

import pytest

from audiolevel.ground.errors import SettingError
from audiolevel.site.sections import Site
from audiolevel.site.site_file import add_keys, read_site


def _site(tmp_path: Path, text: str) -> Site:
    path = tmp_path / "site.toml"
    path.write_text(text)
    return read_site(path)


def test_no_file_is_all_defaults() -> None:
    site = read_site(None)
    assert site.trigger.rearm_s == 10.0
    assert site.limits.false_triggers_per_day == 20.0


def test_every_section_is_read(tmp_path: Path) -> None:
    site = _site(
        tmp_path,
        """
        [site]
        name = "a wall"
        [trigger]
        modes = ["rise"]
        window_s = 2
        [[wanted]]
        sound = "breaking glass"
        distance_m = 8
        [[place]]
        name = "bench"
        distance_m = 4.5
        [schedule]
        active = ["mon-fri 18:00-07:00"]
        traffic_by_hour = "published"
        """,
    )
    assert site.site.name == "a wall"
    assert site.trigger.modes == ("rise",)
    assert site.wanted[0].distance_m == 8.0
    assert site.place[0].name == "bench"
    assert site.schedule.traffic_by_hour == "published"


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("gian = 3", "unknown key gian; did you mean gain?"),
        ("[microphone]\nspl_at_full_scale = 3", "did you mean spl_at_full_scale_db?"),
        ("[limits]\ndetection = 2", "limits.detection = 2 must lie between 0 and 1"),
        ("[trigger]\nmodes = ['rize']", "did you mean rise?"),
        ("[trigger]\nwindow_s = true", "must be a number, not True"),
        ("[trigger]\nwindow_s = nan", "must be a number"),
        ("[site]\nname = 3", "must be text in quotes"),
        ("site = 3", "must be a section"),
        ("[[place]]\nname = 'bench'", r"\[\[place\]\] needs distance_m; write distance_m = 10"),
        ("[gain]\nrecorded_at = 3\nsteps = [[0, 0]]", "not one of the gain.steps"),
        ("[gain]\nsteps = [[0, 0], [0, 6]]", "names a setting twice"),
        ("[gain]\nsteps = [[0, 0], [1, 1e8]]", r"gain.steps: 1 at \+1e\+08 dB from the recording"),
        ("[trigger]\nhold_s = 601", "trigger.hold_s = 601 must lie between 0 and 600"),
        ("[display]\nreadings = [[1, -500], [2, -40]]", "then dB FS between -300 and 0"),
        ("[gain]\nsteps = [[0]]", "gain.steps needs pairs, not \\[0\\]"),
        ("[[wanted]]\ndistance_m = 3", "a sound or a file"),
        ("[schedule]\ntraffic_by_hour = [1, 2]", "needs 24 numbers"),
        ("[site", r"line 1, '\[site': a section is written \[site\]"),
    ],
)
def test_nonsense_is_refused_in_one_line(tmp_path: Path, text: str, match: str) -> None:
    with pytest.raises(SettingError, match=match) as caught:
        _site(tmp_path, text)
    assert "\n" not in str(caught.value)
    assert "site.toml" in str(caught.value)


@pytest.mark.parametrize("said", ["50", "'50'", "50.0"])
def test_a_number_and_the_same_in_quotes_are_one_setting(tmp_path: Path, said: str) -> None:
    steps = "steps = [['40', 0], ['50', 6], [60, 12]]"
    site = _site(tmp_path, f"[gain]\nrecorded_at = {said}\n{steps}")
    assert site.recorded_step_db() == 6.0
    assert site.gain_db_of("60") == 6.0


def test_adding_keys_leaves_the_rest_untouched(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    add_keys(path, {"microphone": ["spl_at_full_scale_db = 118.0"]})
    path.write_text(path.read_text() + '\n# by hand\n[site]\nname = "x"')
    before = path.read_text()
    add_keys(path, {"display": ["readings = [[1, -40], [2, -30]]"]})
    assert path.read_text().startswith(before)
    # a section that is there takes the key in, whatever stands around it
    add_keys(path, {"microphone": ["self_noise_dba = 31", 'gain_control = "none found"']})
    site = read_site(path)
    assert site.microphone.spl_at_full_scale_db == 118.0
    assert site.microphone.self_noise_dba == 31.0
    assert site.microphone.gain_control == "none found"
    assert site.display.readings == ((1.0, -40.0), (2.0, -30.0))
    assert "# by hand" in path.read_text()
    kept = path.read_bytes()
    with pytest.raises(SettingError, match=r"microphone.self_noise_dba already; .* = 29$"):
        add_keys(path, {"site": [], "microphone": ["self_noise_dba = 29"]})
    assert path.read_bytes() == kept
