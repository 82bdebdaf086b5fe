"""The built-in sounds in words: each with its level and its source, and a warning at the end."""

import numpy as np

from audiolevel.report.sounds_text import as_text, rendering_as_text
from audiolevel.sounds.received import catalogue, find


def test_each_sound_stands_with_its_level_and_source() -> None:
    text = as_text(catalogue())
    flat = " ".join(text.split())
    for sound in catalogue():
        assert f"{sound.name}: {sound.measure} {sound.level_db:g} dB(A)" in flat
    assert flat.endswith("warn those nearby, and wear protection.")


def test_a_rendering_whose_peaks_are_cut_says_so() -> None:
    horn = find("vehicle horn")
    # twice full scale is 6.0 dB over it, half is 6.0 dB under
    cut = rendering_as_text(horn, "horn.wav", 2.0, 130.0, np.array([2.0, -0.5]))
    whole = rendering_as_text(horn, "horn.wav", 2.0, 130.0, np.array([0.5, -0.25]))
    assert "highest sample 6.0 dB FS; its peaks are cut" in " ".join(cut.split())
    assert "highest sample -6.0 dB FS." in " ".join(whole.split())
    assert max(map(len, cut.splitlines())) <= 80
