"""Measurements that are kept, so that nothing is measured twice.

One file a measurement, named by what it was made from: content and names of its files, what of
them counts, the gains simulated, and the code that measures. It holds levels and no sound, may be
deleted at any time, and a file that is not whole, or not of this program, counts for nothing.

Entry points: `Kept`, `key_of`, `content_of`.
"""

import hashlib
import io
import os
import pickle
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np

from audiolevel.metering.gain import Gains
from audiolevel.metering.measurement import Measurement
from audiolevel.metering.recordings import Recording
from audiolevel.metering.sound_files import open_recording
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
    *(("numpy", "ndarray"), ("numpy", "dtype"), ("datetime", "datetime")),
    *(("pathlib", "PosixPath"), ("pathlib", "WindowsPath")),
    *(("numpy._core.multiarray", name) for name in ("_reconstruct", "scalar")),
    ("numpy._core.numeric", "_frombuffer"),
    *(("numpy.core.multiarray", name) for name in ("_reconstruct", "scalar")),
    ("numpy.core.numeric", "_frombuffer"),
}
_DIGEST = hashlib.blake2b
_DIGEST_BYTES = 32


class _Reader(pickle.Unpickler):
    """Makes nothing but the parts of a measurement."""

    def find_class(self, module: str, name: str) -> object:
        if (module, name) not in _OWN:
            raise pickle.UnpicklingError(f"{module}.{name} is no part of a measurement")
        return super().find_class(module, name)


class Kept:
    """The measurement of one visit in a file, whose folder is made when the first is kept.

    Parameters
    ----------
    file : Path
        Named by `key_of`.
    """

    def __init__(self, file: Path) -> None:
        self._file = file

    def get(self, visit: Visit) -> Measurement | None:
        """The measurement of a visit; None where it is not kept, or not whole."""
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
        if not isinstance(found, Measurement):
            return None
        source = visit.source
        sound = None
        if not visit.is_history:
            sound = source if isinstance(source, Recording) else open_recording(source)
        return replace(
            found,
            path=Path(visit.name),
            recording=None if sound is None else sound.part(visit.part),
            marks=tuple(visit.heard_marks),
            wet=visit.wet,
        )

    def put(self, measurement: Measurement) -> None:
        """Keep a measurement; nothing happens where it cannot be written."""
        bare = replace(measurement, path=Path(), recording=None, marks=(), wet=None)
        value = pickle.dumps(bare, protocol=5)
        try:
            self._file.parent.mkdir(exist_ok=True)
            # of this process alone: two programs at once do not meet
            draft = self._file.with_name(f"{self._file.name}.{os.getpid()}.part")
            draft.write_bytes(_DIGEST(value, digest_size=_DIGEST_BYTES).digest() + value)
            draft.replace(self._file)
        except OSError:
            # a full disk or a folder of somebody else: measured again the next time
            return


def key_of(visit: Visit, contents: Sequence[tuple[str, str]], gains: Gains) -> str:
    """What a measurement is kept by: it changes with all that the measurement depends on.

    Parameters
    ----------
    visit : Visit
    contents : sequence of (str, str)
        Names of the files that hold its sound, or its levels, and what `content_of` says of each.
    gains : Gains
    """
    # names say when a recording began, marks and weather have no part in measuring
    of_visit = (visit.start, visit.channel, visit.part, visit.form, contents)
    made_from = repr((_code(), of_visit, gains)).encode()
    return _DIGEST(made_from, digest_size=_DIGEST_BYTES).hexdigest()


def content_of(path: Path) -> str:
    """A digest of a file's bytes."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, lambda: _DIGEST(digest_size=_DIGEST_BYTES)).hexdigest()


@cache
def _code() -> str:
    """A digest of the code that measures, with the libraries' versions."""
    digest = _DIGEST(f"{__version__} {np.__version__}".encode(), digest_size=_DIGEST_BYTES)
    for path in sorted((Path(__file__).parents[1] / "metering").rglob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()
