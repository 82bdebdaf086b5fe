"""Which of twenty known sentences was said, told from nothing but the level over time?

    python -m tests.studies.known_sentences

Sentences by espeak-ng are what the attacker has; the same by another synthesiser, flite, are what
was recorded (and the other way round), over the sample's street. Levels as a history has them (LAF
every 10 ms), and the highest and lowest of each second, as a page has them. The attacker stretches
each known course by up to a quarter and slides it along, and takes the one that fits best.
"""

import io
import subprocess
from collections.abc import Callable

import numpy as np
import soundfile as sf
from numpy.typing import NDArray
from scipy.signal import resample_poly

from audiolevel.metering.measurement import measure
from audiolevel.metering.recordings import recording_of_array
from tests.studies.speech_study import SAMPLE, mixed
from tests.studies.street_noises import RATE_HZ

Array = NDArray[np.float64]

SENTENCES = (
    "The ferry leaves at nine and comes back before supper.",
    "I told her twice that the key is under the flower pot.",
    "We never paid the bill for the second winter.",
    "He said the doctor wants to see him again on Monday.",
    "Put the ladder away before somebody falls over it.",
    "My brother sold the boat and bought a small bakery.",
    "They are moving to the coast as soon as school is out.",
    "Can you lend me your bicycle until the end of the week?",
    "Nobody knew who had left the gate open all night.",
    "The red one is broken, take the green one instead.",
    "She has not spoken to her father since the wedding.",
    "If it rains tomorrow we will meet inside the station.",
    "Give me a moment, I have to find my other shoe.",
    "There was a letter from the bank on the kitchen table.",
    "Sixteen of them signed, and only two said no.",
    "It costs more than we thought, but it will last longer.",
    "Do not tell anyone about the money in the drawer.",
    "The old bridge is closed, so we drove around the lake.",
    "I would rather walk home than wait for the next bus.",
    "What did he want from you at that hour?",
)
VOICES = {
    "espeak-ng": lambda said: ["espeak-ng", "-v", "en+f3", "-s", "160", "--stdout", said],
    "flite": lambda said: ["flite", "-voice", "slt", "-t", said, "-o", "/dev/stdout"],
}


def spoken(voice: str, sentence: str) -> Array:
    """A sentence at 16 kHz, between half seconds of silence."""
    command = VOICES[voice](sentence)
    wave = subprocess.run(command, capture_output=True, check=True).stdout
    samples, rate_hz = sf.read(io.BytesIO(wave))
    out: Array = resample_poly(samples, RATE_HZ, rate_hz)
    return np.pad(out, RATE_HZ // 2)


def laf(wave: Array) -> Array:
    """LAF every 10 ms, dB."""
    recording = recording_of_array(np.asarray(wave, dtype=np.float32), RATE_HZ)
    rows = measure(recording, keep_levels=True).laf
    assert rows is not None
    return rows / 100


def of_seconds(levels: Array) -> Array:
    """What a page shows of it: the highest and the lowest of each second."""
    whole = levels[: len(levels) // 100 * 100].reshape(-1, 100)
    return np.repeat((whole.max(axis=1) + whole.min(axis=1)) / 2, 100)


def fit(heard: Array, known: Array) -> float:
    """The best correlation of a known course with what was heard, over stretches and places."""
    best = -1.0
    for stretch in np.linspace(0.75, 1.3, 12):
        size = round(len(known) * stretch)
        course = np.interp(np.linspace(0, len(known) - 1, size), np.arange(len(known)), known)
        course = np.maximum(course, course.max() - 30)
        for begin in range(0, max(1, len(heard) - size + 1), 5):
            piece = heard[begin : begin + size]
            if len(piece) == size and piece.std() > 0:
                best = max(best, float(np.corrcoef(piece, course)[0, 1]))
    return best


def told(heard_by: str, known_by: str, seen: Callable[[Array], Array]) -> tuple[float, float]:
    """Share of the sentences told first, and among the first three."""
    known = [laf(spoken(known_by, one)) for one in SENTENCES]
    street, _ = sf.read(SAMPLE, start=60 * RATE_HZ, frames=8 * RATE_HZ)
    first = third = 0
    for number, sentence in enumerate(SENTENCES):
        said = spoken(heard_by, sentence)
        place = np.zeros(max(len(street), len(said)))
        place[: len(said)] += said
        heard = seen(laf(mixed(place, np.resize(street, len(place)), 15.0)))[: len(said) // 160]
        ranked = np.argsort([-fit(heard, one) for one in known])
        first += ranked[0] == number
        third += number in ranked[:3]
    return first / len(SENTENCES), third / len(SENTENCES)


def main() -> None:
    """Print both ways round."""
    for seen, name in ((lambda one: one, "every 10 ms"), (of_seconds, "a second at a time")):
        for heard_by, known_by in (("flite", "espeak-ng"), ("espeak-ng", "flite")):
            first, third = told(heard_by, known_by, seen)
            print(f"{name}, {heard_by} by {known_by}: {first:.0%} first, {third:.0%} of three")


if __name__ == "__main__":
    main()
