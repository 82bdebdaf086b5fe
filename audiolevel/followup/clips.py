"""The clips of a camera that keeps no log, as the rows of one.

Entry point: `clips_in`.
"""

import os
from pathlib import Path

from audiolevel.ground.errors import SettingError
from audiolevel.ground.files import SOUND_ENDINGS, VIDEO_ENDINGS
from audiolevel.ground.names import printable

_PICTURE_ENDINGS = frozenset({".jpg", ".jpeg", ".png"})


def clips_in(folder: Path) -> list[list[str]]:
    """The clips below a folder as rows of a table: their paths, in order.

    A camera that keeps clips and no log has its times in their names. Pictures are taken where
    there is neither sound nor video.

    Raises
    ------
    SettingError
        There are none, or a folder cannot be looked into: fewer clips would be a quieter camera.
    """
    found = sorted(
        Path(parent) / name
        for parent, _, names in os.walk(folder, onerror=_refuse_closed)
        for name in names
    )
    for endings in (SOUND_ENDINGS | VIDEO_ENDINGS, _PICTURE_ENDINGS):
        clips = [path for path in found if path.suffix.lower() in endings]
        if clips:
            return [[printable(path.relative_to(folder).as_posix())] for path in clips]
    raise SettingError(f"{folder}: holds no clips; name the camera's log or its folder of clips")


def _refuse_closed(error: OSError) -> None:
    raise SettingError(
        f"{error.filename}: cannot be read ({error.strerror}), so its clips cannot be counted; "
        "check its permissions"
    ) from error
