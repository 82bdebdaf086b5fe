"""Faults of a folder's recordings in words: what is wrong, and what to do.

Entry points: `fault_words`, `fault_remedy`.
"""

from collections.abc import Callable, Mapping

from audiolevel.batch.faults import Fault
from audiolevel.report.words.quantities import counted, percent, times


def fault_words(fault: Fault) -> str:
    """What is wrong with a recording."""
    return _FAULTS[fault.kind][0](**fault.facts)


def fault_remedy(fault: Fault) -> str:
    """What to do about it."""
    return _FAULTS[fault.kind][1]


def _rate(times: float, recordings: float) -> str:
    return (
        f"its spectrum fits the site's {recordings:g} recordings when played {times:.2g} times as "
        "fast: another sampling rate, or speed"
    )


def _level(by_db: float, recordings: float, usual_db: float) -> str:
    way = "above" if by_db > 0 else "below"
    return (
        f"quiet moments {abs(by_db):.1f} dB {way} the {recordings:g} recordings of its site, which "
        f"differ by {usual_db:.1f} dB (twice the standard deviation)"
    )


def _twice(of: str, later_s: float, likeness: float = 1.0) -> str:
    where = "" if not later_s else f", from {abs(later_s):g} s {'on' if later_s > 0 else 'before'}"
    sure = "" if likeness > 0.99 else f" (likeness {likeness:.2f})"
    return f"holds the same sound as {of}{where}{sure}"


# what is wrong, made of the facts, and what to do
_FAULTS: Mapping[str, tuple[Callable[..., str], str]] = {
    "silent": (lambda: "digital silence", "left out of means and drift; look at the recorder"),
    "clipped": (
        lambda: "samples at full scale",
        "record at less gain; levels near the top are not real",
    ),
    "truncated": (lambda: "breaks off", "copy it again from the card"),
    "quiet": (lambda: "its quiet moments are the recorder's noise", "record at more gain"),
    "channel dead": (lambda: "a channel is dead", "look at its cable, or name a --channel"),
    "channel inverted": (lambda: "a channel is inverted", "turn its plug, or name a --channel"),
    "time gaps": (lambda: "its time has gaps", "look at the recorder or the stream"),
    "direct current": (
        lambda of_full_scale: f"{percent(of_full_scale)} of full scale",
        "look at the input's coupling; it clips that much earlier",
    ),
    "hum": (
        lambda hz, above_db: f"lines of {hz:g} Hz stand {above_db:.0f} dB out",
        "look for a loop of earths or a power supply; levels of quiet moments are the hum's",
    ),
    "stuck": (
        lambda times_: f"a buffer plays on: the same samples again, {times(int(times_))} and more",
        "look at the recorder or the stream; leave the stretch out",
    ),
    "dropouts": (
        lambda times_: counted(times_, "dropout"),
        "look at the recorder, the card or the stream",
    ),
    "gain step": (
        lambda at_s, by_db: f"all bands step by {by_db:+.0f} dB at {at_s:.0f} s and stay",
        "was the gain turned, or does the camera turn it? Measure the parts apart (from_s, to_s)",
    ),
    "rate": (_rate, "look at the recorder's rate; levels and counts hold for another sound"),
    "level": (_level, "was the gain or the calibration another? Say so in the manifest"),
    "twice": (_twice, "leave one of them out (--exclude): it counts twice"),
}
