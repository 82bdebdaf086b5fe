"""Does the program measure what a sound level meter would? One table of evidence.

`python -m tests.conformance` measures every row and writes docs/conformance.csv, and its summary
docs/conformance.md; `python -m tests.conformance "A at 160 Hz"` prints the rows named so.
"""

import csv
import io
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import sosfreqz

from audiolevel.metering.meter import LevelRows, Meter, time_weighted
from audiolevel.metering.onsets import find_onsets
from audiolevel.metering.statistics import Summary
from audiolevel.metering.weighting import a_weighting_db, c_weighting_db, filters
from tests.reference import iec61672

Array = NDArray[np.float64]
RATES_HZ = (8000, 11025, 16000, 22050, 32000, 44100, 48000, 96000, 192000)
DOC = Path(__file__).parents[1] / "docs" / "conformance.md"
ROWS = DOC.with_suffix(".csv")
COLUMNS = ("source", "what", "expected", "measured", "upper", "lower", "unit")


@dataclass(frozen=True)
class Row:
    """One measured value with what is expected of it."""

    source: str
    what: str
    expected: float
    measured: float
    upper: float
    lower: float
    unit: str = "dB"

    @property
    def holds(self) -> bool:
        """Whether the deviation lies within the limits."""
        return self.lower - 1e-9 <= self.measured - self.expected <= self.upper + 1e-9

    @property
    def share_used(self) -> float:
        """Part of the limit that the deviation uses up."""
        off = self.measured - self.expected
        limit = self.upper if off > 0 else -self.lower
        return 0.0 if np.isinf(limit) else abs(off) / limit

    def cells(self) -> list[str]:
        """The row as the CSV has it; a limit that there is not is empty."""
        limits = ["" if np.isinf(one) else f"{one:+g}" for one in (self.upper, self.lower)]
        levels = [f"{self.expected:.2f}", f"{self.measured:.2f}"]
        return [self.source, self.what, *levels, *limits, self.unit]


def measured_rows(wave: Array, rate_hz: int) -> LevelRows:
    """Levels of a waveform, after two seconds of silence that a cold meter would have heard."""
    silence = np.zeros(3 * rate_hz)
    whole = np.concatenate([silence, wave, np.zeros(-len(wave) % rate_hz)])
    meter = Meter(rate_hz, 1)
    return meter.feed(whole.astype(np.float32)[:, None]).rows


def tone(frequency_hz: float, seconds: float, rate_hz: int, amplitude: float = 0.5) -> Array:
    """A sine that begins at zero."""
    time = np.arange(round(seconds * rate_hz)) / rate_hz
    wave: Array = amplitude * np.sin(2 * np.pi * frequency_hz * time)
    return wave


def rows() -> Iterator[Row]:
    """Everything that is measured."""
    yield from _curves()
    yield from _filters()
    yield from _bursts()
    yield from _peaks()
    yield from _decays()
    yield from _linearity()
    yield from _statistics()
    yield from _onsets()


def _curves() -> Iterator[Row]:
    """The analytic curves against the printed goals, which are rounded to 0.1 dB."""
    for i, (nominal, a, c, _, _) in enumerate(iec61672.TABLE_3):
        exact = 1000 * 10 ** ((i - 20) / 10)
        for name, goal, curve in (("A", a, a_weighting_db), ("C", c, c_weighting_db)):
            yield Row(
                "IEC 61672-1:2013 Table 3, curve",
                f"{name} at {nominal:g} Hz",
                goal,
                float(curve(exact)),
                0.05,
                -0.05,
            )


def _filters() -> Iterator[Row]:
    """The worst third octave from 10 Hz to 0.45 of the rate, and the class 1 limits at 48 kHz."""
    third = 1000 * 10 ** (np.arange(-20, 60) / 10)
    for rate in RATES_HZ:
        inside = third[(third > 9.9) & (third <= 0.45 * rate)]
        for name, sections, curve in (
            ("A", filters(rate).a, a_weighting_db),
            ("C", filters(rate).c, c_weighting_db),
        ):
            off = _gain_db(sections, inside, rate) - curve(inside)
            worst = int(np.abs(off).argmax())
            yield Row(
                "IEC 61672-1:2013 Annex E, filter",
                f"{name} at {rate} Hz, worst third octave ({inside[worst]:.0f} Hz)",
                0.0,
                float(off[worst]),
                0.1,
                -0.1,
            )
    for i, (nominal, a, c, upper, lower) in enumerate(iec61672.TABLE_3):
        exact = np.array([1000 * 10 ** ((i - 20) / 10)])
        for name, goal, sections in (("A", a, filters(48000).a), ("C", c, filters(48000).c)):
            yield Row(
                "IEC 61672-1:2013 Table 3, class 1",
                f"{name} at {nominal:g} Hz, filter for 48 kHz",
                goal,
                float(_gain_db(sections, exact, 48000)[0]),
                upper,
                -np.inf if lower is None else lower,
            )


def _gain_db(sections: Array, frequency_hz: Array, rate_hz: int) -> Array:
    _, response = sosfreqz(sections, worN=frequency_hz, fs=rate_hz)
    gain: Array = 20 * np.log10(np.abs(response))
    return gain


def _bursts() -> Iterator[Row]:
    """Tonebursts; 4 kHz at 48 kHz against the table, others against the table's formula."""
    for rate, hertz in ((48000, 10**3.6), (16000, 10**3.3), (8000, 10**3.0)):
        steady = measured_rows(tone(hertz, 20.0, rate), rate)
        level = float(steady.laf_db[-101])
        for ms, f, s, e, f_limits, s_limits in iec61672.TABLE_4:
            if ms < 2000 / hertz:
                continue
            got = measured_rows(np.append(tone(hertz, ms / 1000, rate), np.zeros(2 * rate)), rate)
            exposure = 10 * np.log10(np.sum(10 ** (got.laeq_db / 10)) * 0.01)
            table = rate == 48000
            source = "IEC 61672-1:2013 Table 4" + ("" if table else ", formula")
            what = f"{{}}, {ms:g} ms of {hertz:.0f} Hz at {rate} Hz"
            want_f = f if table else 10 * np.log10(1 - np.exp(-ms / 125))
            want_e = e if table else 10 * np.log10(ms / 1000)
            yield Row(source, what.format("LAFmax"), want_f, got.lafmax_db.max() - level, *f_limits)
            yield Row(source, what.format("LAE"), want_e, exposure - level, *f_limits)
            if s is not None and s_limits is not None:
                want_s = s if table else 10 * np.log10(1 - np.exp(-ms / 1000))
                highest = float(got.las_db.max()) - level
                yield Row(source, what.format("LASmax"), want_s, highest, *s_limits)


def _peaks() -> Iterator[Row]:
    rate = 48000
    for name, hertz, goal, limit in iec61672.TABLE_5:
        steady = measured_rows(tone(hertz, 4.0, rate), rate)
        cycles = 1.0 if name == "one cycle" else 0.5
        sign = -1.0 if name.startswith("negative") else 1.0
        single = measured_rows(
            np.append(sign * tone(hertz, cycles / hertz, rate), np.zeros(rate)), rate
        )
        yield Row(
            "IEC 61672-1:2013 Table 5",
            f"LCpeak − LC, {name} of {hertz:.1f} Hz",
            goal,
            float(single.lcpeak_db.max() - steady.lceq_db[-200:].mean()),
            limit,
            -limit,
        )


def _decays() -> Iterator[Row]:
    rate = 48000
    off = np.append(tone(10**3.6, 10.0, rate), np.zeros(4 * rate))
    got = measured_rows(off, rate)
    stop = (3 + 10) * 100
    for name, level, (goal, upper, lower) in (
        ("F", got.laf_db, iec61672.DECAY_F),
        ("S", got.las_db, iec61672.DECAY_S),
    ):
        fall = (level[stop + 9] - level[stop + 109]) / 1.0
        yield Row(
            "IEC 61672-1:2013, 5.8.2", f"decay of {name}", goal, float(fall), upper, lower, "dB/s"
        )
    steady = measured_rows(tone(1000, 10.0, rate), rate)
    yield Row(
        "IEC 61672-1:2013, 5.8.3",
        "F against S, steady 1 kHz",
        0.0,
        float(steady.laf_db[-150] - steady.las_db[-150]),
        iec61672.F_AGAINST_S,
        -iec61672.F_AGAINST_S,
    )


def _linearity() -> Iterator[Row]:
    """1 kHz at falling levels, rounded to 24 bits."""
    rate = 48000
    for level in range(0, -91, -10):
        wave = np.round(tone(1000, 2.0, rate, 10 ** (level / 20)) * 2**23) / 2**23
        got = measured_rows(np.tile(wave, 3), rate)
        measured = float(got.laf_db[-101])
        yield Row(
            "IEC 61672-1:2013, 5.6", f"1 kHz at {level} dB FS, 24 bit", level, measured, 0.1, -0.1
        )


def _statistics() -> Iterator[Row]:
    """Level histories whose answers follow by hand (ISO 1996-1:2016, 3.2 and 3.4)."""
    steps = np.repeat([-20.0, -30.0, -40.0, -50.0], [500, 2500, 5000, 2000])
    answers = {"L1": -20, "L10": -30, "L50": -40, "L90": -50, "LAeq": 69.0417 - 100}
    ramp = np.linspace(-60, -20, 400_001)
    # L = 80 dB at the top in the handbook example; here the same ramp 100 dB lower
    ramp_answers = {"L10": -24, "L50": -40, "L90": -56, "LAeq": 70.3568 - 100}
    halves = np.repeat([-40.0, -30.0], 3000)
    for name, history, expected in (
        ("5 s, 25 s, 50 s, 20 s in steps of 10 dB", steps, answers),
        ("a ramp of 40 dB", ramp, ramp_answers),
        ("half at 60, half at 70 dB", halves, {"LAeq": 67.4036 - 100}),
    ):
        summary = Summary()
        for part in np.array_split(history, 7):
            summary.add(as_rows(part))
        for symbol, want in expected.items():
            got = (
                summary.levels().laeq_db
                if symbol == "LAeq"
                else summary.exceeded_db(float(symbol[1:]))
            )
            yield Row("ISO 1996-1:2016, by hand", f"{symbol} of {name}", want, got, 0.02, -0.02)


def as_rows(laf_db: Array) -> LevelRows:
    """Rows whose every level is this history."""
    level = np.round(laf_db, 2)
    zero = np.zeros(len(level))
    return LevelRows(level, level, level, level, level, level, level, level, level, zero)


def _onsets() -> Iterator[Row]:
    """Ramps whose onset follows by hand (ISO/PAS 1996-3:2022, clauses 3 to 6)."""
    for low, high, seconds, p in (
        (40, 70, 0.30, 8.9542),
        (40, 50, 0.50, 5.9031),
        (20, 60, 0.16, 10.3979),
        (50, 56, 0.30, 5.4594),
    ):
        ramp = np.interp(np.arange(200) * 0.01, [0.5, 0.5 + seconds], [low, high])
        found = find_onsets(ramp)
        name = f"{low} to {high} dB in {seconds:g} s"
        source = "ISO/PAS 1996-3:2022"
        rate = (high - low) / seconds
        yield Row(
            source, f"LD, {name}", high - low, float(found.level_difference_db[0]), 0.01, -0.01
        )
        yield Row(
            source, f"OR, {name}", rate, float(found.onset_rate_db_per_s[0]), 0.1, -0.1, "dB/s"
        )
        yield Row(source, f"P, {name}", p, float(found.prominence[0]), 0.001, -0.001, "")
    # a step through F rises by 10 lg(1 − e^(−t/125 ms)): 1.2 dB short of the whole within 10 s⁻¹
    step = time_weighted(np.repeat([1e-6, 1e-2], [2000, 2000]))[9::10]
    found = find_onsets(10 * np.log10(step))
    yield Row(
        "ISO/PAS 1996-3:2022 with IEC 61672-1 F",
        "LD of a step of 40 dB seen through F",
        38.8,
        float(found.level_difference_db.max()),
        0.3,
        -0.3,
    )


def table(found: list[Row]) -> str:
    """All rows, as CSV."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows([COLUMNS, *(row.cells() for row in found)])
    return out.getvalue()


def document(found: list[Row]) -> str:
    """The page: a line for each source."""
    head = [
        "# Does it measure what a sound level meter would?",
        "",
        "Made by `python -m tests.conformance`; a test keeps it fresh. Every row was measured with",
        "the code that `measure` runs, and all of them are in [conformance.csv](conformance.csv).",
        "Limits are those of the source, class 1 where it has classes. For curves, filters and",
        "histories made by hand they are our own, narrower ones.",
        "",
        "The program is not a type-tested sound level meter, and a camera's microphone is not a",
        "class 1 microphone. The table is about the arithmetic alone.",
        "",
        f"{len(found)} rows, {sum(row.holds for row in found)} within their limits. To measure one",
        'anew, name it: `python -m tests.conformance "A at 160 Hz"`.',
        "",
        "| source | rows | nearest to its limit | of the limit used |",
        "|---|---|---|---|",
    ]
    lines = []
    for source in dict.fromkeys(row.source for row in found):
        of = [row for row in found if row.source == source]
        worst = max(of, key=lambda row: row.share_used)
        lines.append(f"| {source} | {len(of)} | {worst.what} | {100 * worst.share_used:.0f} % |")
    return "\n".join([*head, *lines]) + "\n"


def main(names: list[str]) -> None:
    """Write the page and its rows, or print the rows that are named."""
    found = list(rows())
    if names:
        print(table([row for row in found if any(name in row.what for name in names)]), end="")
    else:
        DOC.write_text(document(found), encoding="utf-8")
        ROWS.write_text(table(found), encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
