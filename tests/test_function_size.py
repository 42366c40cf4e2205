"""Functions stay small: at most 60 lines and 15 branches, and the list of exceptions only shrinks."""

from __future__ import annotations

import ast
import csv
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[1]
LINES, BRANCHES = 60, 15
_BRANCH = (ast.If, ast.For, ast.AsyncFor, ast.While, ast.ExceptHandler, ast.match_case)


def _functions(node: ast.AST, name: str) -> Iterator[tuple[str, int, int]]:
    """Each function below a node: its dotted name, lines without the docstring, branches."""
    for child in ast.iter_child_nodes(node):
        below = name
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            below = f"{name}.{child.name}"
        if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef):
            body = child.body[1:] if ast.get_docstring(child) else child.body
            lines = (child.end_lineno or 0) - body[0].lineno + 1 if body else 0
            yield below, lines, sum(isinstance(n, _BRANCH) for n in ast.walk(child))
        yield from _functions(child, below)


def test_no_function_is_too_big_without_a_reason() -> None:
    big = {}
    for path in sorted((ROOT / "pipeline").rglob("*.py")):
        module = path.relative_to(ROOT).with_suffix("").as_posix().replace("/", ".")
        for name, lines, branches in _functions(ast.parse(path.read_text("utf-8")), module):
            if lines > LINES or branches > BRANCHES:
                big[name] = f"{lines} lines, {branches} branches"
    with (ROOT / "tests" / "large_functions.csv").open(encoding="utf-8", newline="") as handle:
        reasons = {row["function"]: row["reason"] for row in csv.DictReader(handle)}
    too_big = {name: size for name, size in big.items() if name not in reasons}
    assert not too_big, f"split these, or say why in tests/large_functions.csv: {too_big}"
    small = sorted(reasons.keys() - big.keys())
    assert not small, f"these are small now: take them out of tests/large_functions.csv: {small}"
    assert all(reason.strip() for reason in reasons.values())


def test_lines_and_branches_are_counted_as_said() -> None:
    code = 'class A:\n    def f(self):\n        """Doc."""\n        if 1:\n            for _ in ():\n                pass\n'
    assert list(_functions(ast.parse(code), "m")) == [("m.A.f", 3, 2)]
