"""List the built-in wanted sounds, and render one so that a person can hear it."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from audiolevel.api.results import Result
from audiolevel.ground.arrays import Array
from audiolevel.ground.records import Object
from audiolevel.metering.gain_control import CLAPS_ASKED, steady_tone
from audiolevel.metering.sound_files import write_sound
from audiolevel.metering.visit import AnyPath
from audiolevel.report.document import Document
from audiolevel.report.sounds import json as sounds_json
from audiolevel.report.sounds.document import (
    gain_test_document,
    rendering_document,
    sounds_document,
)
from audiolevel.site.site_file import check_number
from audiolevel.sounds.catalogue import SOUNDS, Sound, find
from audiolevel.sounds.synthesis import at_full_scale, render


@dataclass(frozen=True, eq=False, repr=False)
class Catalogue(Result):
    """The built-in sounds, with the source of each figure."""

    sounds: tuple[Sound, ...]
    _stem = "sounds"

    def __len__(self) -> int:
        return len(self.sounds)

    def __iter__(self) -> Iterator[Sound]:
        return iter(self.sounds)

    def __getitem__(self, name: str) -> Sound:
        return find(name)

    def to_object(self) -> Object:
        """The object that `audiolevel sounds --json` writes."""
        return sounds_json.as_json(self.sounds)

    def document(self) -> Document:
        """The sounds with their levels, and who says so."""
        return sounds_document(self.sounds)


@dataclass(frozen=True, eq=False, repr=False)
class Rendering(Result):
    """A sound as it arrives at a microphone.

    Attributes
    ----------
    sound : Sound
    path : path
        Where it was written.
    distance_m : float
    spl_at_full_scale_db : float
        SPL of a sine that fills the scale of the file.
    samples : array, shape (frames,)
        Full scale is 1; more than that is clipped in the file.
    """

    sound: Sound
    path: str
    distance_m: float
    spl_at_full_scale_db: float
    samples: Array
    _stem = "sounds"

    def to_object(self) -> Object:
        """The object that `audiolevel sounds --render --json` writes."""
        return sounds_json.rendering_as_json(*self._facts)

    def document(self) -> Document:
        """What was rendered."""
        return rendering_document(*self._facts)

    @property
    def _facts(self) -> tuple[Sound, str, float, float, Array]:
        return self.sound, self.path, self.distance_m, self.spl_at_full_scale_db, self.samples


@dataclass(frozen=True, eq=False, repr=False)
class GainTest(Result):
    """The tone of the test for gain control, written to be played by a phone."""

    path: str
    samples: Array
    _stem = "sounds"

    def to_object(self) -> Object:
        """The object that `audiolevel sounds --render "gain test" --json` writes."""
        return sounds_json.gain_test_as_json(self.path, self.samples)

    def document(self) -> Document:
        """What to do with it."""
        return gain_test_document(self.path, CLAPS_ASKED)


def catalogue() -> Catalogue:
    """The built-in wanted sounds."""
    return Catalogue(SOUNDS)


def render_sound(
    name: str,
    path: AnyPath,
    *,
    distance_m: float | None = None,
    rate_hz: int = 48_000,
    spl_at_full_scale_db: float = 130.0,
    seed: int = 0,
) -> Rendering:
    """Write one sound as it arrives at a microphone, as a WAV file.

    It is loud and sudden: turn the volume down before playing it, and do not play it where it could
    be taken for a real alarm.

    Parameters
    ----------
    name : str
        Of the catalogue.
    path : path
    distance_m : float, optional
        From the microphone; by default that of its source level.
    rate_hz : int
    spl_at_full_scale_db : float
        SPL of a sine that fills the scale of the file.
    seed : int
        Of everything drawn by chance.

    Raises
    ------
    SettingError, RecordingError
        No such sound, or the file cannot be written.
    """
    check_number(spl_at_full_scale_db, "spl_at_full_scale_db", "spl_at_full_scale_db")
    sound = find(name)
    pressure = render(sound, rate_hz, distance_m=distance_m, seed=seed)
    samples = at_full_scale(pressure, spl_at_full_scale_db)
    # clipped as a camera would; `samples` still tell by how much
    write_sound(path, samples.clip(-1, 1), rate_hz)
    # metres of the source level, as `render` takes it
    away = sound.at_m if distance_m is None else distance_m
    return Rendering(sound, str(Path(path)), away, spl_at_full_scale_db, samples)


def render_gain_test(path: AnyPath, *, rate_hz: int = 48_000) -> GainTest:
    """Write the steady tone of the test for gain control, one minute, as a WAV file.

    Play it no louder than a conversation; a steady tone tires the ear and annoys neighbours.

    Parameters
    ----------
    path : path
    rate_hz : int

    Raises
    ------
    RecordingError
        The file cannot be written.
    """
    samples = steady_tone(rate_hz)
    write_sound(path, samples, rate_hz)
    return GainTest(str(Path(path)), samples)
