"""The notebook of the docs, run from top to bottom: `python -m tests.notebook --write` renews it.

Its figures are text below each cell; pictures are made and not kept, so that the file stays small.
"""

import sys
from pathlib import Path
from typing import Any

NOTEBOOK = Path(__file__).parents[1] / "docs" / "twenty_tasks.ipynb"


def fresh() -> Any:
    """The notebook with what its cells print now.

    Raises
    ------
    nbclient.exceptions.CellExecutionError
        A cell fails.
    """
    import nbformat
    from nbclient import NotebookClient

    made = nbformat.read(NOTEBOOK, as_version=4)
    resources = {"metadata": {"path": str(NOTEBOOK.parent)}}
    # one output for all that a cell prints, however the kernel hands it on
    client = NotebookClient(
        made, timeout=300, kernel_name="python3", resources=resources, coalesce_streams=True
    )
    client.execute()
    for cell in made.cells:
        # when it ran, and on what
        cell.metadata.clear()
        if cell.cell_type == "code":
            cell.outputs = [_plain(one) for one in cell.outputs]
    made.metadata = {
        "kernelspec": {"name": "python3", "display_name": "Python 3"},
        # what colours its cells on the site
        "language_info": {"name": "python", "pygments_lexer": "python"},
    }
    return made


def _plain(output: Any) -> Any:
    """An output as text alone."""
    if "data" in output:
        output.data = {"text/plain": output.data["text/plain"]}
        output.metadata = {}
    return output


def printed(made: Any) -> list[tuple[str, str]]:
    """Each cell of code and what it prints; where pictures stand is no figure."""
    return [
        (
            cell.source,
            "".join(
                one.get("text") or one["data"]["text/plain"]
                for one in cell.outputs
                if not str(one.get("data", {}).get("text/plain", "")).startswith(("<Axes", "<Fig"))
            ),
        )
        for cell in made.cells
        if cell.cell_type == "code"
    ]


if __name__ == "__main__" and "--write" in sys.argv:
    import nbformat

    nbformat.write(fresh(), NOTEBOOK)
