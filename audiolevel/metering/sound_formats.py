"""What a format of samples can hold: its highest amplitude, and its quantising noise.

Entry points: `clip_amplitude`, `bits_of`, `bytes_of`, `format_floor_db`, `LOSSY`.
"""

# Amplitude at which a format can go no higher, a hair below so that rounding does not hide it.
# G.711 ends at 32124/32768 (µ-law) and 32256/32768 (A-law); ITU-T G.711 Tables 1a and 2a.
# A lossy codec smears the flat top, so its clipped samples lie around full scale.
_CLIP_AMPLITUDE = {
    "ULAW": 32123 / 32768,
    "ALAW": 32255 / 32768,
    "PCM_S8": 126.5 / 128,
    "PCM_U8": 126.5 / 128,
    "VORBIS": 0.985,
    "OPUS": 0.985,
    "MPEG_LAYER_III": 0.985,
}
# half a 16-bit step below the highest number, 32767
_CLIP_AMPLITUDE_PCM = 32766.5 / 32768

LOSSY = ("VORBIS", "OPUS", "MPEG_LAYER_III", "MPEG_LAYER_II", "MPEG_LAYER_I")

# Bits whose quantising noise is the lowest level the format itself can hold; for G.711 the
# smallest step near zero is that of a 13-bit (A-law) and 14-bit (µ-law) converter.
_BITS = {"PCM_S8": 8, "PCM_U8": 8, "ALAW": 13, "ULAW": 14, "PCM_16": 16}
_BITS_LOSSY_OR_BETTER = {"PCM_24": 24, "PCM_32": 24, "FLOAT": 24, "DOUBLE": 24}
# of the formats that a WAV stream has more than one byte for
_BYTES = {"PCM_16": 2, "PCM_24": 3, "PCM_32": 4, "FLOAT": 4, "DOUBLE": 8}


def clip_amplitude(subtype: str) -> float:
    """Amplitude at or beyond which a sample is at the end of its format's scale.

    Parameters
    ----------
    subtype : str
        As libsndfile names it.
    """
    if subtype in ("FLOAT", "DOUBLE"):
        return 1.0
    return _CLIP_AMPLITUDE.get(subtype, _CLIP_AMPLITUDE_PCM)


def bits_of(subtype: str) -> int:
    """Bits whose quantising noise is that of a format."""
    # what is not known is taken for 16 bits, a floor of -98.1 dB FS
    return _BITS.get(subtype, _BITS_LOSSY_OR_BETTER.get(subtype, 16))


def bytes_of(subtype: str) -> int:
    """Bytes that a sample takes in a WAV stream."""
    return _BYTES.get(subtype, 1)


def format_floor_db(bits: int) -> float:
    """Quantising noise against a full-scale sine: 6.02 dB a bit and 1.76 dB."""
    return -(6.02 * bits + 1.76)
