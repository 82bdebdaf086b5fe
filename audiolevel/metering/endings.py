"""Whether a file is all there, where the library that reads it does not say.

Ogg pages are numbered and say which is the last; MP3 frames can be counted, and a header may say
how many there are; a RIFF says how long it is. What breaks off is measured as far as it goes, but
not without a word.

Sources: RFC 3533 (Ogg pages), ISO/IEC 11172-3 and 13818-3 (frames of Layers I to III), the
"Xing" header of LAME's documentation, the RIFF specification of 1991.

Entry points: `ogg_is_whole`, `mp3_is_whole`, `riff_is_whole`.
"""

import mmap
import struct
from pathlib import Path

_FIRST_PAGE, _LAST_PAGE = 0x02, 0x04
# kbit/s by index; 0 is a free format, which says nothing of its length
_RATES_1 = {
    1: (0, 32, 64, 96, 128, 160, 192, 224, 256, 288, 320, 352, 384, 416, 448),
    2: (0, 32, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320, 384),
    3: (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320),
}
_RATES_2 = {
    1: (0, 32, 48, 56, 64, 80, 96, 112, 128, 144, 160, 176, 192, 224, 256),
    2: (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160),
}
_RATES_2[3] = _RATES_2[2]
_SAMPLING = {3: (44_100, 48_000, 32_000), 2: (22_050, 24_000, 16_000), 0: (11_025, 12_000, 8_000)}
# encoders add up to two frames before the sound and one after it, and say so or not
_SLACK_FRAMES = 4
# tags and tools leave a little behind the last frame
_TAIL = 4096


def ogg_is_whole(path: Path) -> bool:
    """Whether the pages of an Ogg file follow each other by their numbers up to a last one."""
    if not path.stat().st_size:
        return False  # nothing can be mapped of it
    # mapped, so that a long file takes no memory
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        return _pages_follow(data)


def _pages_follow(data: "mmap.mmap | bytes") -> bool:
    # tags may stand before the first page
    at, flags, numbers = max(0, data.find(b"OggS")), 0, dict[int, int]()
    # header of 27 bytes, the last of which is the number of segments
    while data[at : at + 4] == b"OggS" and len(data) >= at + 27:
        flags, stream, number = struct.unpack("<5xB8xII", data[at : at + 22])
        # a stream that begins anew counts from 0
        if number != (0 if flags & _FIRST_PAGE else numbers.get(stream, 0)):
            return False
        numbers[stream] = number + 1
        lengths = data[at + 27 : at + 27 + data[at + 26]]
        at += 27 + data[at + 26] + sum(lengths)
    return at <= len(data) <= at + _TAIL and bool(flags & _LAST_PAGE)


def riff_is_whole(path: Path) -> bool:
    """Whether a RIFF is as long as it says."""
    with path.open("rb") as file:
        head = file.read(8)
    if len(head) < 8 or head[:4] != b"RIFF":
        return True
    length = int(struct.unpack("<I", head[4:])[0])
    return path.stat().st_size >= length + 8


def mp3_is_whole(path: Path, frames: int) -> bool:
    """Whether an MP3 has as much sound as its header says, and as its reader will read of it.

    Parameters
    ----------
    path : Path
    frames : int
        Samples of each channel that the reader announces.

    Notes
    -----
    A file whose frames cannot be followed (a free format) is taken for whole.
    """
    # mapped, so that a long file takes no memory
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        return _follows(data, frames)


def _follows(data: "mmap.mmap | bytes", frames: int) -> bool:
    at, samples, counted = _beginning(data), 0, 0
    announced: int | None = None
    while True:
        frame = _frame(data, at)
        if frame is None:
            break
        length, in_frame = frame
        if not length:
            return True
        if not counted:
            announced = _announced(data[at : at + 200])
            # the frame of the header holds no sound
            samples -= in_frame if announced is not None else 0
            counted -= announced is not None
        if at + length > len(data):
            return False
        at, counted, samples = at + length, counted + 1, samples + in_frame
    # something else than a little tail after the last frame: the rest was not followed
    if len(data) - at > _TAIL or not counted:
        return False
    slack = _SLACK_FRAMES * 1152
    if announced is not None and counted < announced - 1:
        return False
    return abs(samples - frames) <= slack


def _beginning(data: "mmap.mmap | bytes") -> int:
    """Where the first frame begins, behind an ID3v2 tag."""
    if data[:3] != b"ID3" or len(data) < 10:
        return 0
    # four bytes of seven bits
    length = 0
    for one in data[6:10]:
        length = length << 7 | (one & 0x7F)
    return 10 + length


def _frame(data: "mmap.mmap | bytes", at: int) -> tuple[int, int] | None:
    """Length in bytes and samples of the frame at a place; None where there is none."""
    if at + 4 > len(data) or data[at] != 0xFF or data[at + 1] & 0xE0 != 0xE0:
        return None
    version, layer = data[at + 1] >> 3 & 3, 4 - (data[at + 1] >> 1 & 3)
    rate_index, sampling_index = data[at + 2] >> 4, data[at + 2] >> 2 & 3
    if version == 1 or layer == 4 or rate_index == 15 or sampling_index == 3:
        return None
    rate = (_RATES_1 if version == 3 else _RATES_2)[layer][rate_index]
    sampling, padding = _SAMPLING[version][sampling_index], data[at + 2] >> 1 & 1
    if layer == 1:
        return (12_000 * rate // sampling + padding) * 4, 384
    # Layer III of the lower sampling rates has half as many samples in a frame
    in_frame = 576 if layer == 3 and version != 3 else 1152
    return in_frame * 125 * rate // sampling + padding if rate else 0, in_frame


def _announced(frame: bytes) -> int | None:
    """Frames that a Xing header in the first frame announces; None without one."""
    for name in (b"Xing", b"Info"):
        at = frame.find(name)
        # the first flag: the number of frames follows
        if at >= 0 and len(frame) >= at + 12 and frame[at + 7] & 1:
            return int(struct.unpack(">I", frame[at + 8 : at + 12])[0])
    return None
