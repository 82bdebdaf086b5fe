"""Wanted sounds in a plan: on the scenario, on a silent site, from files of one's own."""

import csv
import json
import re
from pathlib import Path

import numpy as np
import pytest
import soundfile as sf
from click.testing import CliRunner
from scipy.stats import poisson

from audiolevel.cli import main
from audiolevel.ground.errors import SettingError
from audiolevel.metering.sound_files import read_whole
from audiolevel.planning.wanted import Arriving, wanted_sounds
from audiolevel.site.site_file import read_site
from audiolevel.sounds.catalogue import find

SPL = 110.0


def _json(*words: object) -> dict:
    run = CliRunner().invoke(main, [*(str(word) for word in words), "--json", "-"])
    assert run.exit_code == 0, run.output
    return json.loads(run.stdout)


def _marked(sample_audio: Path) -> list[dict[str, str]]:
    with (sample_audio / "wanted.csv").open(newline="") as file:
        return list(csv.DictReader(file))


def _above_the_road(rows: list[dict[str, str]]) -> list[dict[str, str]]:
    """Two of the fourteen are buried: they lie below the level exceeded a tenth of the time."""
    heard = [row for row in rows if float(row["lafmax_db"]) > -40]
    assert len(heard) == 12
    return heard


def _hits(trial: dict, rows: list[dict[str, str]], shift_s: float = 0.0) -> list[bool]:
    times = np.array([fired["time_s"] for fired in trial["triggers"]]) + shift_s
    return [
        bool(np.any((times >= float(row["start_s"]) - 0.1) & (times < float(row["end_s"]) + 0.5)))
        for row in rows
    ]


@pytest.fixture(scope="module")
def scenario_plan() -> dict:
    folder = Path(__file__).parents[2] / "sample_audio"
    return _json(
        *("plan", folder / "bridge_approach.ogg", "--site", folder / "site.toml"),
        *("--marks", folder / "wanted.csv", "--start", "2026-03-03T09:30"),
    )


def _trial(recording: Path, site: Path, option: dict) -> dict:
    return _json(
        *("trial", recording, "--site", site, "--gain-db", option["gain_db"]),
        *("--level", option["level_db"]),
    )["trials"][0]


def test_the_scenario_s_plan_catches_nine_of_ten_wanted_sounds(
    scenario_plan: dict, sample_audio: Path
) -> None:
    option = scenario_plan["recommended"]
    assert option["mode"] == "threshold"
    trial = _trial(sample_audio / "bridge_approach.ogg", sample_audio / "site.toml", option)
    hits = _hits(trial, _above_the_road(_marked(sample_audio)))
    assert np.mean(hits) >= 0.9
    false = trial["count"] - sum(hits)
    # 20 minutes at the high end of the rate; the plan was made on these, so this is the weaker half
    assert false <= option["expected"]["rate_high_per_day"] / 72 + 3


def test_a_plan_from_one_half_holds_on_the_other(sample_audio: Path, tmp_path: Path) -> None:
    """Planned on the first ten minutes, replayed on the second, which it has not heard."""
    wave, rate = sf.read(sample_audio / "bridge_approach.ogg")
    first, second = tmp_path / "first.flac", tmp_path / "second.flac"
    sf.write(first, wave[: 600 * rate], rate)
    sf.write(second, wave[600 * rate :], rate)
    rows = _marked(sample_audio)
    marks = tmp_path / "first.csv"
    marks.write_text(
        "start_s,end_s,sound\n"
        + "".join(
            f"{r['start_s']},{r['end_s']},{r['sound']}\n" for r in rows if float(r["end_s"]) < 600
        )
    )
    site = sample_audio / "site.toml"
    plan = _json("plan", first, "--site", site, "--marks", marks)
    # from ten minutes the limit is safe only where wanted sounds are lost: the other prong of the
    # fork is the one that says it catches enough
    assert plan["case"] == "limit only"
    kept = _trial(second, site, plan["recommended"])
    assert kept["count"] <= poisson.ppf(
        0.975, plan["recommended"]["expected"]["high_per_day"] / 144
    )
    option = plan["alternatives"][0]
    trial = _trial(second, site, option)
    late = [row for row in _above_the_road(rows) if float(row["start_s"]) >= 600]
    hits = _hits(trial, late, shift_s=600.0)
    assert np.mean(hits) >= 0.8
    buried = len([row for row in rows if float(row["start_s"]) >= 600]) - len(late)
    false = trial["count"] - sum(hits)
    expected = option["expected"]
    high = expected["rate_high_per_day"] * (len(wave) / rate - 600) / 86400
    assert buried == 1
    # one count in ten minutes at the upper rate: its Poisson 97.5 % limit
    assert false <= poisson.ppf(0.975, high)


def test_marked_sounds_are_no_false_firings(sample_audio: Path, scenario_plan: dict) -> None:
    folder = sample_audio
    without = _json("plan", folder / "bridge_approach.ogg", "--site", folder / "site.toml")
    curve = {c["gain_db"]: c for c in scenario_plan["curves"] if c["mode"] == "threshold"}
    plain = {c["gain_db"]: c for c in without["curves"] if c["mode"] == "threshold"}
    level = curve[0.0]["settings_db"].index(84.0)
    assert curve[0.0]["seen"][level] == 0
    assert plain[0.0]["seen"][plain[0.0]["settings_db"].index(84.0)] >= 10
    found = {d["sound"]: d for d in scenario_plan["recommended"]["detection"] if d["in_recording"]}
    assert found["vehicle horn"]["probability"] == 1.0
    assert found["vehicle horn"]["low"] == pytest.approx(0.438, abs=0.01)  # Wilson, 3 of 3


def test_every_gain_says_what_it_cuts(scenario_plan: dict) -> None:
    lost = {gain["gain_db"]: gain["wanted_clipped"] for gain in scenario_plan["gains"]}
    assert lost[0.0] == []
    # at 0 dB a usual horn of 98 dB(A) at 7 m peaks 8 dB below full scale
    assert lost[12.0] == ["metal bang", "vehicle horn"]
    assert len(lost[24.0]) == 3


def test_limits_that_cannot_both_be_met_are_said_so(sample_audio: Path, tmp_path: Path) -> None:
    site = tmp_path / "site.toml"
    text = (sample_audio / "site.toml").read_text()
    farther = text.replace(
        'sound = "vehicle horn"\ndistance_m = 11', "sound = 'vehicle horn'\ndistance_m = 34"
    )
    assert farther != text
    site.write_text(farther)
    result = _json(
        *("plan", sample_audio / "bridge_approach.ogg", "--site", site),
        *("--marks", sample_audio / "wanted.csv"),
    )
    option = result["recommended"]
    lack = -option["margin_db"]
    assert 5 < lack < 20
    assert result["case"] == "limit only"
    assert "No setting catches each wanted sound 80 % of the time" in result["reason"]
    assert "Caught least: vehicle horn at 34 m" in result["reason"]
    # spherical spreading: so many decibels louder is the same as so much closer, and the ground
    # and the air between change that by a decibel or two
    (nearer,) = [one for one in result["advice"] if one.startswith("nearer")]
    within_m = float(re.search(r"([\d.]+) m of vehicle horn", nearer).group(1))
    assert within_m == pytest.approx(34 / 10 ** (lack / 20), rel=0.25)
    other = result["alternatives"][-1]
    horn = next(d for d in other["detection"] if d["distance_m"] == 34)
    assert horn["probability"] >= 0.75
    assert other["expected"]["rate_high_per_day"] > option["expected"]["rate_high_per_day"]


def test_a_sound_of_ones_own_has_its_level_at_its_distance(tmp_path: Path) -> None:
    # a 1 kHz tone said to read 90 dB(A) at 2 m arrives 13.98 dB lower at 10 m, but for the air
    tone = 0.1 * np.sin(2 * np.pi * 1000 * np.arange(44100) / 44100)
    sf.write(tmp_path / "own.wav", tone, 44100)
    (tmp_path / "site.toml").write_text(
        '[[wanted]]\nfile = "own.wav"\ndistance_m = 10\nlevel_dba = 90\nat_m = 2\n'
        "obstruction_db = 3"
    )
    site = read_site(tmp_path / "site.toml")
    sound = wanted_sounds(Arriving(site, SPL, 16000))[0]
    assert sound.name == "own"
    air = 3.66e-3 * 8  # ISO 9613-1:1993 Table 1: 3.66 dB/km at 1 kHz, 10 °C, 70 %
    expected = 90 - 20 * np.log10(5) - air - 3 - SPL
    assert sound.lafmax_db == pytest.approx(expected, abs=0.05)
    (tmp_path / "site.toml").write_text('[[wanted]]\nfile = "own.wav"\ndistance_m = 10')
    with pytest.raises(SettingError, match="needs level_dba"):
        wanted_sounds(Arriving(read_site(tmp_path / "site.toml"), SPL, 16000))


def test_a_rendered_horn_measures_the_level_of_its_table(tmp_path: Path) -> None:
    # 98 dB(A) at 7 m, measured by another way than it was made
    path, site = tmp_path / "horn.wav", tmp_path / "site.toml"
    run = CliRunner().invoke(main, ["sounds", "--render", "vehicle horn", str(path)])
    assert run.exit_code == 0
    assert "harm hearing" in " ".join(run.stdout.split())
    site.write_text("[microphone]\nspl_at_full_scale_db = 130")
    level = _json("measure", path, "--site", site)["recordings"][0]["lafmax_db"]
    assert level == pytest.approx(98.0, abs=0.2)
    assert read_whole(path)[1] == 48000


def test_the_list_of_sounds_names_a_source_for_each(tmp_path: Path) -> None:
    listed = _json("sounds")["sounds"]
    assert {"vehicle horn", "smoke alarm", "breaking glass", "normal voice"} <= {
        sound["name"] for sound in listed
    }
    assert all(sound["source"] and sound["certainty"] for sound in listed)
    run = CliRunner().invoke(main, ["sounds"])
    assert max(len(line) for line in run.stdout.splitlines()) <= 80
    bad = CliRunner().invoke(main, ["sounds", "--render", "vehicle hron", str(tmp_path / "x.wav")])
    assert bad.exit_code == 1
    assert "did you mean 'vehicle horn'?" in bad.stderr
    assert find("Vehicle  Horn").name == "vehicle horn"
