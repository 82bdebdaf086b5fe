"""The version of the program: that of the commit it was built from."""

from pathlib import Path

_BUILT = Path(__file__).with_name("version.txt")
# written by a build; in a checkout that nobody has built there is none
__version__ = _BUILT.read_text(encoding="utf-8").strip() if _BUILT.is_file() else "0.4.0.dev0"
