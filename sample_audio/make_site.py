"""Lay the sample out as a site's folder, as somebody would who had recorded it.

    python sample_audio/make_site.py lane

makes `lane` with its site file, a visit with its marks, and a week of the camera's log.
"""

import shutil
import sys
from pathlib import Path

HERE = Path(__file__).parent
# a recorder's name for it: the start of the recording
VISIT = "visits/20260303_093000"
FILES = {
    "site.toml": "site.toml",
    "bridge_approach.ogg": f"{VISIT}.ogg",
    "wanted.csv": f"{VISIT}.marks.csv",
    "camera_log.csv": "logs/camera_log.csv",
}


def make(folder: Path) -> None:
    """Copy the sample's files to where a site's folder has them."""
    for source, name in FILES.items():
        to = folder / name
        to.parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(HERE / source, to)


if __name__ == "__main__":
    make(Path(sys.argv[1]))
