"""A measurement in lines of 80 columns says what its JSON says."""

import numpy as np
import pytest

from audiolevel.metering.calibration import Scale
from audiolevel.metering.measurement import Measurement, measure
from audiolevel.metering.quality import quality_notices
from audiolevel.metering.recordings import recording_of_array
from audiolevel.report.measure_json import recording_json
from audiolevel.report.measure_text import as_text
from tests.made_street import RATE_HZ, heard, wave_of


def _two_channels() -> Measurement:
    both = np.column_stack([wave_of(10.0, 1), np.clip(30 * wave_of(10.0, 1), -1, 1)])
    return measure(recording_of_array(both, RATE_HZ, "a_name_of_some_length_from_the_gate.wav"))


@pytest.mark.parametrize("scale", [Scale(), Scale(110.0)])
@pytest.mark.parametrize("one", [heard(), _two_channels()], ids=["mono", "stereo"])
def test_every_level_of_the_json_stands_in_the_text(one: Measurement, scale: Scale) -> None:
    text = as_text(one, quality_notices(one, scale), scale)
    assert max(map(len, text.splitlines())) <= 80
    told = recording_json(one, [], scale)
    levels = [told[key] for key in told if key.startswith("l") and key.endswith("_db")]
    for level in [*levels, *told["percentiles_db"].values()]:
        # the JSON is rounded to hundredths before, so a tenth may differ in its last place
        assert any(f"{level + by:.1f}" in text for by in (0.0, 0.005, -0.005))
    assert f"levels in {scale.unit}" in " ".join(text.split())


def test_clipping_and_channels_are_said() -> None:
    text = " ".join(as_text(_two_channels(), [], Scale()).split())
    assert "2 channels" in text
    assert "channel 2 LAeq" in text
    assert "clipping heavy" in text
    assert "no sample at full scale" in as_text(heard(), [], Scale())


@pytest.mark.parametrize(
    ("peak", "said"),
    [(1.0, "0.0 dB below"), (0.5, "6.0 dB below"), (2.0, "6.0 dB above"), (1.001, "0.0 dB below")],
)
def test_the_highest_sample_is_below_full_scale_or_above(peak: float, said: str) -> None:
    wave = 0.1 * np.sin(np.arange(3 * RATE_HZ))
    wave[RATE_HZ] = -peak
    text = as_text(measure(recording_of_array(wave, RATE_HZ)), [], Scale())
    assert f"highest sample {said}" in text


def test_what_never_rose_has_no_largest_onset() -> None:
    steady = measure(recording_of_array(np.zeros(5 * RATE_HZ), RATE_HZ))
    assert "largest" not in as_text(steady, [], Scale())
    assert "largest" in as_text(heard(), [], Scale())
