"""The sample scenario laid out as a site's folder, as somebody would who had recorded it."""

import shutil
from pathlib import Path

from audiolevel.api.results import made_folder
from audiolevel.ground.errors import SettingError
from audiolevel.metering.visit import AnyPath

# a recorder's name for it: the start of the recording, a day before the log begins (make_log.py)
_VISIT = "visits/20240604_093000"
_FILES = {
    "site.toml": "site.toml",
    "bridge_approach.ogg": f"{_VISIT}.ogg",
    "wanted.csv": f"{_VISIT}.marks.csv",
    "camera_log.csv": "logs/camera_log.csv",
}
_PACKAGE = Path(__file__).parents[1]


def lay_out(folder: AnyPath) -> list[Path]:
    """Make a site's folder of the sample: its site file, a visit with marks, a week of a log.

    Parameters
    ----------
    folder : path
        Made if it is not there; nothing in it is replaced.

    Returns
    -------
    list of Path
        The files made.

    Raises
    ------
    SettingError
        One of them is there already, or cannot be written.
    """
    where, built = made_folder(folder), _PACKAGE / "demo"
    # a checkout has it beside the package
    source = built if built.is_dir() else _PACKAGE.parent / "sample_audio"
    made = [where / name for name in _FILES.values()]
    for file in made:
        if file.exists():
            raise SettingError(f"{file}: is there already; choose another folder")
    for name, file in zip(_FILES, made, strict=True):
        try:
            made_folder(file.parent)
            shutil.copy(source / name, file)
        except OSError as error:
            raise SettingError(
                f"{file}: cannot be written ({error.strerror}); choose another folder"
            ) from error
    return made
