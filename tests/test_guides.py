"""Commands of a page are found, run and compared; that the pages are fresh is a step of CI."""

from pathlib import Path

import pytest

from tests.guide_files import fill
from tests.guides import PAGES, Vanished, difference, exchanges, printed_by, renewed

PAGE = """# Page

```sh
one
two \\
    --three
```

```text
Head of 5
…
b   2
```

1. in a list

   ```sh
   quiet
   ```

```toml
not = "a command"
```

```python
print(3)
```
"""
PRINTED = ["Head of 6", "", "a   1", "b   2", "    more", "", "c   3"]


def test_commands_and_what_they_show_are_found_with_their_lines() -> None:
    one, two, three = exchanges(PAGE)
    assert (one.line, one.commands) == (4, "one\ntwo \\\n    --three")
    assert one.shown == ("Head of 5", "…", "b   2")
    assert PAGE[one.start : one.end] == "Head of 5\n…\nb   2\n"
    assert (two.commands, two.shown, two.indent) == ("quiet", None, "   ")
    assert (three.language, three.commands, three.shown) == ("python", "print(3)", None)
    assert PAGE.splitlines()[two.line - 1] == "   quiet"


@pytest.mark.parametrize(
    "shown",
    [
        tuple(PRINTED),
        ("Head of 6", "…"),
        ("…", "c   3"),
        ("Head of 6", "…", "b   2", "    more", "…"),
        ("…", "a   1", "…", "c   3"),
        ("…",),
    ],
)
def test_what_is_printed_may_be_shown_in_part(shown: tuple[str, ...]) -> None:
    assert difference(shown, PRINTED) is None


@pytest.mark.parametrize(
    ("shown", "said"),
    [
        (("Head of 5", "…"), "'Head of 5' is shown, 'Head of 6' is printed"),
        (("Head of 6",), "'' is printed and not shown"),
        ((*PRINTED, "d"), "'d' is shown, nothing more is printed"),
        # lines that stand apart are not shown as neighbours, nor in another order
        (("…", "a   1", "    more", "…"), "'    more' is shown, 'b   2' is printed"),
        (("…", "b   2", "…", "a   1", "…"), "'a   1' is shown, '    more' is printed"),
        # what is shown last is printed last
        (("…", "b   2"), "'b   2' is shown, 'c   3' is printed"),
        (("…", "c   3", "…", "c   3"), "'c   3' is shown, nothing more is printed"),
    ],
)
def test_what_differs_is_told(shown: tuple[str, ...], said: str) -> None:
    assert difference(shown, PRINTED) == said


def test_what_is_shown_is_renewed_and_the_rest_stays_left_out() -> None:
    fresh = renewed(("Head of 5", "…", "b   1", "…"), PRINTED)
    assert fresh == ["Head of 6", "…", "b   2", "    more", "…"]
    assert difference(tuple(fresh), PRINTED) is None
    # what came in between since is left out; nothing is, if nothing is
    assert renewed(("Head of 5", "b   1"), PRINTED) == fresh
    assert renewed(("…", "c   1"), PRINTED) == ["…", "c   3"]
    assert renewed(tuple(PRINTED), PRINTED) == renewed((), PRINTED) == PRINTED
    assert renewed(("…",), PRINTED) == ["…"]
    with pytest.raises(Vanished, match="begins with 'd'"):
        renewed(("Head of 5", "…", "d   4"), PRINTED)


def test_commands_run_where_they_are_told_and_must_succeed(tmp_path: Path) -> None:
    assert printed_by("sh", "touch here\nls; echo oh >&2", tmp_path) == ["here", "oh"]
    with pytest.raises(RuntimeError, match="status 3: gone"):
        printed_by("sh", "echo gone; exit 3", tmp_path)
    assert printed_by("python", "import os\nprint(os.listdir())", tmp_path) == ["['here']"]
    # an earlier command that fails is not passed over
    with pytest.raises(RuntimeError, match="status 1"):
        printed_by("sh", "false | cat\necho on", tmp_path)


def test_only_recordings_that_a_page_names_are_made(tmp_path: Path, sample_audio: Path) -> None:
    fill(tmp_path, sample_audio, "audiolevel calibrate tone94.wav --write site.toml")
    assert {path.name for path in tmp_path.iterdir()} == {"sample_audio", "site.toml", "tone94.wav"}


def test_every_page_has_commands_and_shows_what_they_print() -> None:
    for page in PAGES:
        found = exchanges(page.read_text(encoding="utf-8"))
        assert sum(one.shown is not None for one in found) >= 4, page.name
