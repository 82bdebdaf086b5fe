"""What was worked out of a visit's sound and is kept, so that nothing is measured twice.

One file a measurement, and one for what a privacy review hears in it; named by what it was made
from: content and names of the visit's files, what of them counts, the gains simulated, and the code
that made it. It holds levels and no sound, may be deleted at any time, and a file that is not
whole, or not of this program, counts for nothing.

Entry points: `Kept`, `kept_measurement`, `keep_measurement`, `key_of`, `content_of`.
"""

import hashlib
import io
import os
import pickle
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TypeVar

import numpy as np

from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.sound_files import recording_of
from audiolevel.metering.visit import Visit
from audiolevel.version import __version__

# what a kept file may hold; anything else is somebody else's, and is not made
_OWN = {
    ("audiolevel.metering.measurement", "Measurement"),
    ("audiolevel.metering.gain", "SimulatedGain"),
    *(("audiolevel.metering.statistics", name) for name in ("Levels", "Clipping", "Summary")),
    ("audiolevel.metering.channels", "ChannelCheck"),
    ("audiolevel.metering.onsets", "Onsets"),
    ("audiolevel.metering.irregularities", "Irregularities"),
    ("audiolevel.metering.bandwidth", "LongTermSpectrum"),
    ("audiolevel.privacy.audibility", "SpeechAnalysis"),
    ("audiolevel.privacy.third_octaves", "BandLevels"),
    ("audiolevel.privacy.speech_detection", "Speech"),
    *(("numpy", "ndarray"), ("numpy", "dtype"), ("datetime", "datetime")),
    *(("pathlib", "PosixPath"), ("pathlib", "WindowsPath")),
    *(("numpy._core.multiarray", name) for name in ("_reconstruct", "scalar")),
    ("numpy._core.numeric", "_frombuffer"),
    *(("numpy.core.multiarray", name) for name in ("_reconstruct", "scalar")),
    ("numpy.core.numeric", "_frombuffer"),
}
_DIGEST = hashlib.blake2b
_DIGEST_BYTES = 32

Kind = TypeVar("Kind")


class _Reader(pickle.Unpickler):
    """Makes nothing but the parts of what is kept."""

    def find_class(self, module: str, name: str) -> object:
        if (module, name) not in _OWN:
            raise pickle.UnpicklingError(f"{module}.{name} is no part of what is kept")
        return super().find_class(module, name)


class Kept:
    """What is kept of one visit in a file, whose folder is made when the first is kept.

    Parameters
    ----------
    file : Path
        Named by `key_of`.
    """

    def __init__(self, file: Path) -> None:
        self._file = file

    def get(self, kind: type[Kind]) -> Kind | None:
        """What is kept; None where that is nothing, not whole, or of another kind."""
        try:
            data = self._file.read_bytes()
            digest, value = data[:_DIGEST_BYTES], data[_DIGEST_BYTES:]
            if _DIGEST(value, digest_size=_DIGEST_BYTES).digest() != digest:
                return None
            found = _Reader(io.BytesIO(value)).load()
        # of a file that is cut off, or of another version of a library
        except (
            OSError,
            pickle.UnpicklingError,
            AttributeError,
            ImportError,
            TypeError,
            ValueError,
        ):
            return None
        return found if isinstance(found, kind) else None

    def put(self, made: object) -> None:
        """Keep something; nothing happens where it cannot be written."""
        value = pickle.dumps(made, protocol=5)
        try:
            self._file.parent.mkdir(exist_ok=True)
            # of this process alone: two programs at once do not meet
            draft = self._file.with_name(f"{self._file.name}.{os.getpid()}.part")
            draft.write_bytes(_DIGEST(value, digest_size=_DIGEST_BYTES).digest() + value)
            draft.replace(self._file)
        except OSError:
            # a full disk or a folder of somebody else: measured again the next time
            return


def kept_measurement(kept: Kept, visit: Visit) -> Measurement | None:
    """The measurement of a visit as it was kept, with its sound and what is said of it now."""
    found = kept.get(Measurement)
    if found is None:
        return None
    sound = None if visit.is_history else recording_of(visit.source)
    return replace(
        found,
        path=Path(visit.name),
        recording=None if sound is None else sound.part(visit.part),
        marks=tuple(visit.heard_marks),
        wet=visit.wet,
    )


def keep_measurement(kept: Kept, measurement: Measurement) -> None:
    """Keep a measurement without what is said of its visit, which may change."""
    kept.put(replace(measurement, path=Path(), recording=None, marks=(), wet=None))


def key_of(
    visit: Visit, contents: Sequence[tuple[str, str]], gains: Gains | None, rooms: Sequence[str]
) -> str:
    """What something is kept by: it changes with all that it depends on.

    Parameters
    ----------
    visit : Visit
    contents : sequence of (str, str)
        Names of the files that hold its sound, or its levels, and what `content_of` says of each.
    gains : Gains or None
        Those simulated.
    rooms : sequence of str
        Packages whose code makes it.
    """
    # names say when a recording began, marks and weather have no part in measuring
    of_visit = (visit.start, visit.channel, visit.part, visit.form, contents)
    made_from = repr((*map(_code, rooms), of_visit, gains)).encode()
    return _DIGEST(made_from, digest_size=_DIGEST_BYTES).hexdigest()


def content_of(path: Path) -> str:
    """A digest of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, lambda: _DIGEST(digest_size=_DIGEST_BYTES)).hexdigest()


@cache
def _code(room: str) -> str:
    """A digest of a package's code, with the libraries' versions."""
    digest = _DIGEST(f"{__version__} {np.__version__}".encode(), digest_size=_DIGEST_BYTES)
    for path in sorted((Path(__file__).parents[1] / room).rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()
