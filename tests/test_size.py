"""No function is longer than a screen: what has to be read at once fits on one."""

from __future__ import annotations

import ast
from pathlib import Path

import antgrowth

PACKAGE = Path(antgrowth.__file__).parent

LONGEST = 60
"""Lines of a function's body, its docstring left aside."""


def lines_of(function: ast.FunctionDef) -> int:
    """Lines of the body without the docstring."""
    first, *others = function.body
    told = ast.get_docstring(function) is not None
    if told and not others:
        return 0
    return function.body[-1].end_lineno - (others[0] if told else first).lineno + 1


def functions(text: str) -> dict[str, int]:
    """Length of each function of a module."""
    found = (node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef))
    return {function.name: lines_of(function) for function in found}


def test_functions_fit_on_a_screen():
    long = {
        f"{path.relative_to(PACKAGE).with_suffix('').as_posix().replace('/', '.')}.{name}"
        for path in PACKAGE.rglob("*.py")
        for name, lines in functions(path.read_text(encoding="utf-8")).items()
        if lines > LONGEST
    }
    assert not long


def test_a_long_function_is_seen():
    body = "\n".join(f"    x{place} = {place}" for place in range(61))
    assert functions(f"def long():\n    '''Say so.'''\n{body}\n") == {"long": 61}
    assert functions("def short():\n    '''Only\n    words.'''\n") == {"short": 0}
