"""How much house there is: code lines by package, modules, the widest and longest functions.

    python -m tests.house

A code line holds a token that is neither a comment nor part of a docstring.
"""

import ast
import io
import tokenize
from collections import Counter
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "audiolevel"
_LAYOUT = {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT}
Function = ast.FunctionDef | ast.AsyncFunctionDef


def docstring_lines(tree: ast.AST) -> set[int]:
    """Lines of all docstrings of a module."""
    lines: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Module | ast.ClassDef | Function) and ast.get_docstring(node):
            first = node.body[0]
            lines.update(range(first.lineno, (first.end_lineno or first.lineno) + 1))
    return lines


def code_lines(text: str) -> set[int]:
    """Lines of a module that hold code."""
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _LAYOUT and token.type != tokenize.ENDMARKER:
            lines.update(range(token.start[0], token.end[0] + 1))
    return lines - docstring_lines(ast.parse(text))


def parameters(function: Function) -> int:
    """How many a function takes, itself among them in a method."""
    given = function.args
    return len(given.posonlyargs) + len(given.args) + len(given.kwonlyargs)


def main() -> None:
    """Print the sums."""
    lines: Counter[str] = Counter()
    wide, long = [], []
    modules = sorted(PACKAGE.rglob("*.py"))
    for path in modules:
        text, where = path.read_text(encoding="utf-8"), path.relative_to(PACKAGE)
        code = code_lines(text)
        lines[where.parts[0] if len(where.parts) > 1 else "ground floor"] += len(code)
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, Function):
                within = range(node.lineno, (node.end_lineno or node.lineno) + 1)
                wide.append((parameters(node), f"{where}:{node.name}"))
                long.append((len(code.intersection(within)), f"{where}:{node.name}"))
    print(f"{sum(lines.values())} lines of code, {len(modules)} modules")
    print(*(f"{count:6} {name}" for name, count in lines.most_common()), sep="\n")
    for what, found in (("parameters", wide), ("lines", long)):
        print(what, *(f"{count:6} {name}" for count, name in sorted(found)[:-6:-1]), sep="\n")


if __name__ == "__main__":
    main()
