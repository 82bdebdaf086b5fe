"""The notebook of the docs runs, prints what it shows, and names nothing private."""

import re

import pytest

from tests.notebook import NOTEBOOK, fresh, printed

nbformat = pytest.importorskip("nbformat", reason="nbclient is not installed (extra: test)")
pytest.importorskip("pandas", reason="pandas is not installed (extra: frames)")


def test_it_has_twenty_tasks_and_no_private_name() -> None:
    made = nbformat.read(NOTEBOOK, as_version=4)
    titles = [cell.source for cell in made.cells if cell.cell_type == "markdown"][1:]
    assert [int(one.strip("*").split(".")[0]) for one in titles] == list(range(1, 21))
    code = "\n".join(source for source, _ in printed(made))
    assert not re.search(r"\._|\bfrom audiolevel|\.base\b|import audiolevel\.", code)


@pytest.mark.whole
# of the kernel's own start
@pytest.mark.filterwarnings("ignore")
def test_it_prints_what_it_shows() -> None:
    shown = printed(nbformat.read(NOTEBOOK, as_version=4))
    assert printed(fresh()) == shown, "run python -m tests.notebook --write"
