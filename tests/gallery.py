"""The pictures of docs/gallery.md, drawn of the sample: `python -m tests.gallery`.

Each is what a command writes, as it is; its words become the alternative text in the page.
"""

import re
import shutil
import tempfile
from pathlib import Path

import soundfile as sf
from click.testing import CliRunner

from audiolevel.cli import main

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "gallery.md"
FIGURES = ROOT / "docs" / "figures"
SAMPLE = ROOT / "sample_audio"
SOUND = SAMPLE / "bridge_approach.ogg"
SITE = SAMPLE / "site.toml"
MARKS = SAMPLE / "wanted.csv"
START = "2026-03-03T09:30"
# day and hour of a visit, its gain setting, the minute of the sample that it begins at, and what
# the recording is louder by than the gain explains
VISITS = (
    ("2026-03-02T08:00", 5, 0, 0.0),
    ("2026-03-04T17:30", 5, 4, 0.0),
    ("2026-03-07T11:00", 3, 0, 0.0),
    ("2026-03-11T08:00", 3, 4, 0.0),
    ("2026-03-14T17:30", 5, 8, 0.0),
    ("2026-03-18T11:00", 7, 8, 0.0),
    ("2026-03-21T08:00", 5, 12, 0.0),
    ("2026-03-25T17:30", 5, 16, 9.0),
)
# only settings in numbers have an order, and so a picture
STEPS_DB = {3: -12.0, 5: 0.0, 7: 12.0}


def _visits(folder: Path) -> list[str]:
    """A folder of recordings made of the sample, its site file and its manifest, for `batch`."""
    visits = folder / "bridge"
    visits.mkdir()
    site = SITE.read_text(encoding="utf-8").replace('recorded_at = "mid"', "recorded_at = 5")
    steps = [[setting, db] for setting, db in STEPS_DB.items()]
    site = re.sub(r"^steps = .*$", f"steps = {steps}", site, flags=re.MULTILINE)
    (visits / "site.toml").write_text(site, encoding="utf-8")
    sound, rate_hz = sf.read(SOUND)
    rows = ["path,start,gain_setting"]
    for number, (start, setting, minute, louder_db) in enumerate(VISITS, start=1):
        part = sound[minute * 60 * rate_hz : (minute + 3) * 60 * rate_hz]
        gained = part * 10 ** ((STEPS_DB[setting] + louder_db) / 20)
        name = f"visit{number}.flac"
        sf.write(visits / name, gained.clip(-1, 1), rate_hz, subtype="PCM_24")
        rows.append(f"bridge/{name},{start},{setting}")
    manifest = folder / "visits.csv"
    manifest.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return ["batch", str(folder), "--include", "bridge/*", "--manifest", str(manifest)]


def _log() -> list[str]:
    """The sample's log, of a week that it covers whole."""
    week = ["--from", "2024-06-05", "--to", "2024-06-12"]
    return [str(SAMPLE / "camera_log.csv"), "--kind", "sound", *week]


def commands(folder: Path) -> list[list[str]]:
    """The commands that draw, into a folder."""
    site = ["--site", str(SITE)]
    heard = [str(SOUND), *site, "--marks", str(MARKS), "--start", START]
    gains = ["--gain-db", "-12", "--gain-db", "0", "--gain-db", "24"]
    reports = ["--out", str(folder), "--quiet"]
    return [
        ["measure", str(SOUND), *site, *reports],
        ["plan", *heard, *reports],
        ["trial", *heard, "--level", "78", *gains, *reports],
        ["privacy", *heard, "--date", "2026-03-04", *reports],
        [*_visits(folder), "--out", str(folder / "batch"), "--quiet"],
        ["followup", str(folder / "plan.json"), *_log(), *reports],
    ]


def draw(folder: Path) -> dict[str, Path]:
    """Have every picture drawn; by the name that it has in docs/figures."""
    for words in commands(folder):
        run = CliRunner().invoke(main, words)
        assert run.exit_code == 0, run.output
    drawn = {path.stem.removesuffix(f"_{SOUND.stem}"): path for path in folder.rglob("*.png")}
    # the README shows the plan's too: one file for both
    names = {stem: "plan.png" if stem == "plan" else f"gallery_{stem}.png" for stem in drawn}
    return {names[stem]: drawn[stem] for stem in sorted(drawn)}


def with_words(page: str, name: str, words: str) -> str:
    """The page with a picture's alternative text."""
    plain = " ".join(words.split()).replace("[", "(").replace("]", ")")
    return re.sub(
        rf"!\[[^\]]*\](\(figures/{re.escape(name)}\))", lambda m: f"![{plain}]{m[1]}", page
    )


def renew() -> None:
    """Draw all pictures, and put their words into the page."""
    page = PAGE.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory() as folder:
        for name, picture in draw(Path(folder)).items():
            shutil.copy(picture, FIGURES / name)
            # the mark at the end is the program's, for its own use
            words = picture.with_suffix(".alt.txt").read_text(encoding="utf-8").split("\n\n")[0]
            page = with_words(page, name, words)
            print(f"{name}: {(FIGURES / name).stat().st_size / 1000:.0f} kB")
    PAGE.write_text(page, encoding="utf-8")


if __name__ == "__main__":
    renew()
