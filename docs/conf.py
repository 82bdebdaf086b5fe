"""How the pages of this folder become a site: `sphinx-build -W -b html docs build/site`.

The pages are plain Markdown that a code host shows as it is. What only a site can do is added
here while a page is read: targets inside a page, and the reference of the Python names.
"""

import inspect
import json
import re
from pathlib import Path
from typing import Any

import audiolevel

project = "audiolevel"
author = "the makers of audiolevel"
copyright = author
version = release = audiolevel.__version__

extensions = [
    "myst_nb",
    "sphinx.ext.autodoc",
    "sphinx.ext.napoleon",
    "sphinx_click",
    "sphinx_copybutton",
]
root_doc = "index"
# the notebook's figures are compared by a test (tests/test_notebook.py)
nb_execution_mode = "off"
# the links of a code host: a heading's words in small letters, joined by hyphens
myst_heading_anchors = 4
myst_enable_extensions = ["tasklist"]
html_theme = "furo"
# without the commit that a build names
html_title = f"audiolevel {version.partition('.dev')[0]}"
html_static_path = ["style"]
html_css_files = ["site.css"]
html_show_sphinx = False
html_show_copyright = False
html_copy_source = False

# each name has a heading of its own
toc_object_entries = False
napoleon_google_docstring = False
napoleon_use_ivar = True
autodoc_member_order = "bysource"
autodoc_typehints_format = "short"
autodoc_preserve_defaults = True
# one parameter a line where a signature is longer than a line
python_maximum_signature_line_length = 80
# a name in single backticks in a docstring is code, as in Markdown
default_role = "code"

_TARGET = re.compile(r'^<a id="([^"]+)"></a>', re.MULTILINE)


# every option of every command, below what a code host shows
_OPTIONS = """
## Every option

```{eval-rst}
.. click:: audiolevel.cli:main
   :prog: audiolevel
   :nested: full
```
"""


def _reference() -> str:
    """The directives that set every public name of the package, functions first."""
    names = [name for name in audiolevel.__all__ if name != "__version__"]
    classes = [name for name in names if inspect.isclass(getattr(audiolevel, name))]
    functions = [name for name in names if name not in classes]
    lines = ["## Each function", ""]
    for name in functions:
        lines += [f"### `{name}`", "", "```{eval-rst}", f".. autofunction:: audiolevel.{name}"]
        lines += ["```", ""]
    lines += ["## Each record and result", ""]
    for name in classes:
        lines += [f"### `{name}`", "", "```{eval-rst}", f".. autoclass:: audiolevel.{name}"]
        lines += ["   :members:", "   :class-doc-from: class", "```", ""]
    return "\n".join(lines)


def _for_the_site(app: object, page: str, text: list[str]) -> None:
    """Turn what a code host needs to see into what the site makes of it."""
    text[0] = _TARGET.sub(r"(\1)=\n", text[0])
    if page == "api":
        # a code host shows the list; here the docstrings follow, set with links
        text[0] += "\n" + _reference()
    if page == "reference":
        text[0] += _OPTIONS


# a page opened from the disk may fetch nothing: what a search shows of a page is brought along
_FETCH = """
const asItCame = window.fetch;
window.fetch = (url, ...more) => {
  const page = PAGES[String(url).replace(/^\\.\\//, "")];
  return page ? Promise.resolve(new Response(page)) : asItCame(url, ...more);
};
"""


def _for_the_search(app: Any, page: str, template: str, context: object, tree: object) -> None:
    if page == "search":
        app.add_js_file("pages.js")


def _bring_pages(app: Any, problem: Exception | None) -> None:
    """Put the text of every page beside the search."""
    if problem is None and app.builder.format == "html":
        out = Path(app.outdir)
        texts = {page.name: _main(page) for page in sorted(out.glob("*.html"))}
        made = f"const PAGES = {json.dumps(texts)};\n{_FETCH}"
        (out / "_static" / "pages.js").write_text(made, encoding="utf-8")


def _main(page: Path) -> str:
    found = re.search(r"<article.*?</article>", page.read_text(encoding="utf-8"), re.DOTALL)
    return found[0] if found else ""


def setup(app: Any) -> dict[str, bool]:
    """Say to Sphinx what is to be done to a page that is read."""
    app.connect("source-read", _for_the_site)
    app.connect("html-page-context", _for_the_search)
    app.connect("build-finished", _bring_pages)
    return {"parallel_read_safe": True}
