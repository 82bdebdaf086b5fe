"""How well is speech told from a street? Hits and false alarms of `privacy.speech_detection`.

    python -m tests.studies.speech_study RECORDINGS

prints the tables of docs/privacy.md. Speech: recorded human prompts (the Debian packages
asterisk-core-sounds-{en,es,fr,it,ru}-wav, asterisk-prompt-it-menardi-wav, and for the third part
asterisk-prompt-fr-armelle and asterisk-prompt-es-co; AUDIOLEVEL_PROMPTS names another folder of
them) and sentences by the synthesiser espeak-ng; whatever is installed is used. Streets: the real
street recordings in the folder RECORDINGS, the sample scenario, and computed sounds.

Three parts, with other voices, languages, minutes and draws. The rule and its two numbers were
fitted to the first part while the second was in sight; the third was made afterwards and looked at
once, with nothing changed since. The published rates are those of the third. Beside them its voices
in a hall (noise that dies away by 60 dB in 0.6 s, as loud as what comes straight), four and eight
at once, and whispered (noise in place of the voice, its spectrum in bands of 200 Hz). Last, where
it is installed (pip install webrtcvad-wheels), the same third part by a general-purpose detector.
"""

import io
import os
import subprocess
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from shutil import which

import numpy as np
import soundfile as sf
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from scipy.signal import butter, fftconvolve, istft, resample_poly, sosfilt, stft

from audiolevel.metering.weighting import a_weighting_db
from audiolevel.privacy.speech_detection import FRAMES_PER_S, WINDOW_FRAMES, SpeechDetector
from tests.studies.street_noises import MAKERS, RATE_HZ

Array = NDArray[np.float64]

PROMPTS = Path(os.environ.get("AUDIOLEVEL_PROMPTS", "/usr/share/asterisk/sounds"))
SAMPLE = Path(__file__).parents[2] / "sample_audio" / "bridge_approach.ogg"
RATIOS_DB = (10, 0, -10)
_NO_TALK = {"beep", "tone", "tt", "silence"}  # prompts that are none
# a window counts as speech when this much of it is within 20 dB of the loud syllables
TALKING_SHARE = 0.4

SENTENCES = {
    "en": "The bus was late again this morning, so I walked along the river and met an old friend "
    "who told me about her new job on the other side of the city.",
    "de": "Der Bus kam heute Morgen wieder zu spät, also bin ich am Fluss entlang gelaufen und "
    "habe eine alte Freundin getroffen, die mir von ihrer neuen Arbeit erzählte.",
    "pl": "Autobus znowu się spóźnił, więc poszedłem wzdłuż rzeki i spotkałem starą znajomą, "
    "która opowiedziała mi o nowej pracy.",
    "hi": "आज सुबह बस फिर देर से आई इसलिए मैं नदी के किनारे चलता गया और एक पुराने दोस्त से मिला",
    "fi": "Bussi oli taas myöhässä tänä aamuna, joten kävelin joen vartta ja tapasin vanhan "
    "ystävän, joka kertoi uudesta työstään.",
    "pt": "O ônibus atrasou outra vez esta manhã, então caminhei ao longo do rio e encontrei uma "
    "velha amiga que me contou do seu novo emprego.",
    "vi": "Sáng nay xe buýt lại đến muộn nên tôi đi bộ dọc bờ sông và gặp một người bạn cũ.",
    "nl": "De bus was vanmorgen weer te laat, dus liep ik langs de rivier en kwam een oude "
    "vriendin tegen die over haar nieuwe baan vertelde.",
    "cs": "Autobus měl dnes ráno zase zpoždění, a tak jsem šel podél řeky a potkal starou "
    "kamarádku, která mi vyprávěla o nové práci.",
    "el": "Το λεωφορείο άργησε πάλι σήμερα το πρωί και έτσι περπάτησα δίπλα στο ποτάμι και "
    "συνάντησα μια παλιά φίλη.",
    "sv": "Bussen var sen igen i morse, så jag gick längs floden och mötte en gammal vän som "
    "berättade om sitt nya arbete.",
    "id": "Bus itu terlambat lagi pagi ini, jadi saya berjalan di tepi sungai dan bertemu teman "
    "lama yang bercerita tentang pekerjaan barunya.",
    "ro": "Autobuzul a întârziat din nou azi dimineață, așa că am mers de-a lungul râului și am "
    "întâlnit o prietenă veche.",
    "tr": "Otobüs bu sabah yine geç kaldı, ben de nehir boyunca yürüdüm ve eski bir arkadaşıma "
    "rastladım.",
}
# voice, language of the sentence, words a minute, pitch; of each part
SYNTHETIC = (
    (
        ("en+m1", "en", 150, 40),
        ("de+f2", "de", 180, 60),
        ("pl+m3", "pl", 210, 30),
        ("hi+f4", "hi", 160, 70),
    ),
    (
        ("en-gb-scotland+m5", "en", 170, 45),
        ("fi+f3", "fi", 150, 50),
        ("pt+m7", "pt", 200, 25),
        ("vi+f1", "vi", 160, 60),
        ("tr+m2", "tr", 190, 50),
    ),
    (
        ("nl+m4", "nl", 165, 35),
        ("cs+f2", "cs", 185, 55),
        ("el+m6", "el", 155, 45),
        ("sv+f5", "sv", 175, 65),
        ("id+m2", "id", 195, 30),
        ("ro+f4", "ro", 205, 60),
    ),
)
RECORDED = (
    ("en_US_f*", "it_IT_m*", "ru_RU_f*"),
    ("fr_CA_f*", "es_MX_f*", "it_IT_f*"),
    ("fr", "es"),
)
MINUTES = ((1, 5, 9), (3, 11, 16), (0, 7, 14, 18))


@dataclass(frozen=True)
class Outcome:
    """Windows of one sound: how many, and how many of them were taken for speech."""

    voice: str  # "" without speech
    ratio_db: int | None
    street: str
    windows: int
    found: int


def a_level_db(samples: Array, rate_hz: int = RATE_HZ) -> float:
    """A-weighted level of a whole waveform, from its spectrum."""
    power = np.abs(np.fft.rfft(samples)[1:]) ** 2
    hz = np.fft.rfftfreq(len(samples), 1 / rate_hz)[1:]
    weighted = power * 10 ** (a_weighting_db(hz) / 10)
    return float(10 * np.log10(weighted.sum() / len(samples) ** 2 + 1e-30))


def talking(speech: Array, rate_hz: int = RATE_HZ) -> NDArray[np.bool_]:
    """Which windows of clean speech hold talk, by its level alone; (windows,), one a second."""
    step = rate_hz // FRAMES_PER_S
    frames = speech[: len(speech) // step * step].reshape(-1, step)
    smooth = np.convolve((frames**2).mean(axis=1), np.ones(6) / 6, "same")
    level = 10 * np.log10(smooth + 1e-12)
    loud = level > np.quantile(level, 0.95) - 20
    starts = range(0, len(loud) - WINDOW_FRAMES + 1, FRAMES_PER_S)
    return np.array([loud[i : i + WINDOW_FRAMES].mean() >= TALKING_SHARE for i in starts])


def found_in(samples: Array, rate_hz: int = RATE_HZ) -> NDArray[np.bool_]:
    """The detector's answer for each window of a waveform."""
    detector = SpeechDetector(rate_hz)
    detector.add(np.asarray(samples, dtype=np.float32)[:, None])
    return detector.result().detected


def found_by_another(samples: Array) -> NDArray[np.bool_]:
    """The answer of py-webrtcvad at its strictest for each window, at 16 kHz.

    It judges frames of 30 ms; a window is speech by the share that `talking` asks of clean speech.
    """
    # no extra has it
    webrtcvad = import_module("webrtcvad")
    judge, size = webrtcvad.Vad(3), RATE_HZ * 30 // 1000
    # as loud as a telephone call is recorded: 26 dB below full scale (ITU-T P.56)
    scaled = np.clip(samples / (samples.std() + 1e-12) * 10 ** (-26 / 20), -1, 1)
    pcm = (32767 * scaled).astype("<i2")
    frames = pcm[: len(pcm) // size * size].reshape(-1, size)
    voiced = np.array([judge.is_speech(one.tobytes(), RATE_HZ) for one in frames])
    length, step = WINDOW_FRAMES / FRAMES_PER_S / 0.03, 1 / 0.03
    starts = np.arange(0, len(voiced) - length + 1, step)
    return np.array([voiced[int(i) : int(i + length)].mean() >= TALKING_SHARE for i in starts])


def mixed(speech: Array, street: Array, ratio_db: float) -> Array:
    """Speech over a street, A-weighted levels of the whole apart by `ratio_db`."""
    gain_db = ratio_db + a_level_db(street) - a_level_db(speech)
    return street + speech * 10 ** (gain_db / 20)


def synthesised(voice: str, language: str, speed: int, pitch: int) -> Array:
    """A sentence by espeak-ng at 16 kHz."""
    command = ["espeak-ng", "-v", voice, "-s", str(speed), "-p", str(pitch), "--stdout"]
    wave = subprocess.run([*command, SENTENCES[language]], capture_output=True, check=True).stdout
    samples, rate_hz = sf.read(io.BytesIO(wave))
    out: Array = resample_poly(samples, RATE_HZ, rate_hz)
    return out


def recorded(folder: str, seconds: int, seed: int) -> Array:
    """Prompts of one human voice, one behind the other, at 16 kHz."""
    rng = np.random.default_rng(seed)
    files = prompts(folder)
    parts: list[Array] = []
    while sum(map(len, parts)) < seconds * 8000:
        samples = _read_prompt(files[rng.integers(len(files))])
        parts.append(samples / (samples.std() + 1e-9))
    out: Array = resample_poly(np.concatenate(parts)[: seconds * 8000], 2, 1)
    return out


def prompts(folder: str) -> list[Path]:
    """Prompts of a voice that last more than 2.5 s and are talk; none if it is not installed."""
    where = next((path for path in sorted(PROMPTS.glob(folder)) if path.is_dir()), None)
    files = [] if where is None else sorted([*where.rglob("*.wav"), *where.rglob("*.gsm")])
    return [
        path
        for path in files
        if not _NO_TALK & {*path.stem.split("-"), path.parent.name}
        and len(_read_prompt(path)) > 2.5 * 8000
    ]


def _read_prompt(path: Path) -> Array:
    raw = {"samplerate": 8000, "channels": 1, "format": "RAW", "subtype": "GSM610"}
    samples, _ = sf.read(path, **(raw if path.suffix == ".gsm" else {}))
    out: Array = samples
    return out


def voices(part: int) -> dict[str, Array]:
    """Two minutes of every voice of a part that is installed."""
    out: dict[str, Array] = {}
    for folder in RECORDED[part]:
        if prompts(folder):
            out["recorded " + folder] = recorded(folder, 120, seed=part)
    if which("espeak-ng"):
        for voice, language, speed, pitch in SYNTHETIC[part]:
            sentence = synthesised(voice, language, speed, pitch)
            out["synthetic " + voice] = np.resize(sentence, 120 * RATE_HZ)
    return out


def hard(talk: dict[str, Array], seed: int = 3) -> dict[str, dict[str, Array]]:
    """Voices as they are rarely tried, by kind."""
    rng = np.random.default_rng(seed)
    names = list(talk)

    def crowd(many: int) -> dict[str, Array]:
        parts = [talk[names[i % len(names)]] for i in range(many)]
        # each begins somewhere else, also where a voice has to lend itself twice
        turned = [np.roll(one / one.std(), int(rng.integers(len(one)))) for one in parts]
        return {f"{many} at once": np.sum(turned, axis=0)}

    return {
        "in a hall": {name: _in_a_hall(one, rng) for name, one in talk.items()},
        "four at once": crowd(4),
        "eight at once": crowd(8),
        "whispered": {name: _whispered(one, rng) for name, one in talk.items()},
    }


def _in_a_hall(speech: Array, rng: np.random.Generator) -> Array:
    time_s = np.arange(int(0.8 * RATE_HZ)) / RATE_HZ
    tail = rng.standard_normal(len(time_s)) * 10 ** (-3 * time_s / 0.6)
    later: Array = fftconvolve(speech, tail)[: len(speech)]
    return speech / speech.std() + later / later.std()


def _whispered(speech: Array, rng: np.random.Generator) -> Array:
    _, _, spectrum = stft(speech, RATE_HZ, nperseg=400)
    # 40 Hz a line: five of them smooth the overtones away
    power = uniform_filter1d(np.abs(spectrum) ** 2, 5, axis=0)
    turned = np.exp(2j * np.pi * rng.random(spectrum.shape))
    out: Array = istft(np.sqrt(power) * turned, RATE_HZ, nperseg=400)[1]
    # the larynx adds what lies below 500 Hz, and is silent here
    sections = butter(2, 500, "highpass", fs=RATE_HZ, output="sos")
    whispered: Array = sosfilt(sections, np.resize(out, len(speech)))
    return whispered


def streets(part: int, recordings: Path) -> dict[str, list[Array]]:
    """Streets of a part: real ones, and minutes of the sample scenario."""
    samples, _ = sf.read(recordings / "street_long.wav")
    long = resample_poly(samples, 160, 441)
    middle = len(long) // 2
    pieces = ([long[:middle]], [long[middle:]], [long[:middle], long[middle:]])
    out = {"real street": pieces[part]}
    if part > 0:
        for name in ("street_a.wav", "street_b.wav"):
            both, _ = sf.read(recordings / name)
            out["real street"] += [resample_poly(both[:, i], 1, 3) for i in (0, 1)]
    out["sample scenario"] = [_sample(minute) for minute in MINUTES[part]]
    return out


def _sample(minute: int) -> Array:
    samples, _ = sf.read(SAMPLE, start=minute * 60 * RATE_HZ, frames=20 * RATE_HZ)
    out: Array = samples
    return out


Detects = Callable[[Array], NDArray[np.bool_]]


def false_alarms(
    part: int, recordings: Path | None, each: int = 24, found: Detects = found_in
) -> list[Outcome]:
    """Sounds without speech."""
    sounds = {kind: [] for kind in MAKERS} if recordings is None else streets(part, recordings)
    for kind, make in MAKERS.items():
        seeds = range(100 * part, 100 * part + each)
        sounds[kind] = [make(np.random.default_rng(seed)) for seed in seeds]
    return [_alone(kind, found(samples)) for kind, many in sounds.items() for samples in many]


def _alone(kind: str, found: NDArray[np.bool_]) -> Outcome:
    return Outcome("", None, kind, len(found), int(found.sum()))


def hits(
    part: int,
    streets_heard: dict[str, list[Array]],
    talk: dict[str, Array],
    detect: Detects = found_in,
) -> list[Outcome]:
    """Every voice over every street at every ratio."""
    out = []
    for voice, speech in talk.items():
        rng = np.random.default_rng(part + 7)
        for kind, many in streets_heard.items():
            for street in many:
                at = int(rng.integers(0, len(speech) - len(street)))
                said = speech[at : at + len(street)]
                truth = talking(said)
                for ratio_db in RATIOS_DB:
                    found = detect(mixed(said, street, ratio_db))
                    size = min(len(found), len(truth))
                    counted = found[:size][truth[:size]]
                    out.append(Outcome(voice, ratio_db, kind, len(counted), int(counted.sum())))
    return out


def in_quiet(talk: dict[str, Array], seed: int = 1) -> tuple[float, float, float]:
    """Shares of windows, half of them pauses, in which both agree, this is right, and that one."""
    rng, found = np.random.default_rng(seed), []
    for speech in talk.values():
        pauses = np.arange(len(speech)) // RATE_HZ % 12 < 6
        alone = np.where(pauses, 0, speech / speech.std())
        alone += 1e-3 * rng.standard_normal(len(speech))
        each = [talking(alone), found_in(alone), found_by_another(alone)]
        found.append(np.stack([one[: min(map(len, each))] for one in each]))
    truth, own, other = np.concatenate(found, axis=1)
    return (
        float((own == other).mean()),
        float((own == truth).mean()),
        float((other == truth).mean()),
    )


def rate(outcomes: Iterable[Outcome]) -> float:
    """Share of the windows taken for speech."""
    several = list(outcomes)
    return sum(one.found for one in several) / max(1, sum(one.windows for one in several))


def study(part: int, recordings: Path, found: Detects = found_in) -> list[Outcome]:
    """The whole of a part."""
    heard = streets(part, recordings)
    for kind in ("engine", "wind", "road"):
        heard[kind] = [MAKERS[kind](np.random.default_rng(100 * part + 50 + i)) for i in range(3)]
    alone = false_alarms(part, recordings, found=found)
    return alone + hits(part, heard, voices(part), found)


def table(outcomes: list[Outcome]) -> str:
    """Both tables in Markdown."""
    groups: dict[tuple[str, str, int | None], list[Outcome]] = defaultdict(list)
    for one in outcomes:
        groups["speech" if one.voice else "none", one.street, one.ratio_db].append(one)
    kinds = dict.fromkeys(one.street for one in outcomes if one.voice)
    lines = ["| over | +10 dB | 0 dB | −10 dB |", "|---|---|---|---|"]
    for kind in kinds:
        cells = [f"{100 * rate(groups['speech', kind, r]):.0f} %" for r in RATIOS_DB]
        lines.append(f"| {kind} | {' | '.join(cells)} |")
    for voice_kind in ("recorded", "synthetic"):
        real = [o for o in outcomes if o.voice.startswith(voice_kind)]
        real = [o for o in real if o.street in ("real street", "sample scenario")]
        cells = [f"{100 * rate(o for o in real if o.ratio_db == r):.0f} %" for r in RATIOS_DB]
        lines.append(f"| both streets, {voice_kind} voices | {' | '.join(cells)} |")
    lines += ["", "| sound without speech | windows | taken for speech |", "|---|---|---|"]
    for kind in dict.fromkeys(one.street for one in outcomes if not one.voice):
        several = groups["none", kind, None]
        windows = sum(one.windows for one in several)
        lines.append(f"| {kind} | {windows} | {100 * rate(several):.1f} % |")
    return "\n".join(lines)


if __name__ == "__main__":
    titles = ("first part, fitted", "second part, in sight", "third part, looked at once")
    for number, title in enumerate(titles):
        print(f"\n{title}\n\n{table(study(number, Path(sys.argv[1])))}")
    print("\nthe third part's voices over its streets, as they are rarely tried\n")
    for kind, several in hard(voices(2)).items():
        outcomes = hits(2, streets(2, Path(sys.argv[1])), several)
        cells = [f"{100 * rate(o for o in outcomes if o.ratio_db == r):.0f} %" for r in RATIOS_DB]
        print(f"| {kind} | {' | '.join(cells)} |")
    if find_spec("webrtcvad"):
        print("\nthe third part by a general-purpose detector, py-webrtcvad at its strictest\n")
        print(table(study(2, Path(sys.argv[1]), found_by_another)))
        alike, own, other = (100 * share for share in in_quiet(voices(2)))
        print(
            f"\nin quiet both agree in {alike:.0f} % of windows; right {own:.0f} and {other:.0f} %"
        )
