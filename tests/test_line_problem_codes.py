"""Every code the lines and weigh stages give has its words, and every row of words its code."""

from __future__ import annotations

import ast

import pandas as pd

from pipeline.resources import ROOT

ROOMS = ("pipeline/lines", "pipeline/weigh", "pipeline/reading.py")


def literals() -> set[str]:
    """Every string that the modules of the rooms write down, docstrings apart."""
    found: set[str] = set()
    for room in ROOMS:
        place = ROOT / room
        for path in [place] if place.is_file() else sorted(place.rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Constant) and isinstance(node.value, str):
                    found.add(node.value)
    return found


def test_codes_and_rows_are_the_same():
    rows = set(pd.read_csv(ROOT / "shared" / "line_problems.csv")["code"])
    heads = {code.partition("-")[0] + "-" for code in rows}
    used = {
        text for text in literals()
        if text.startswith(tuple(heads)) and text.replace("-", "").isalpha() and text.islower()
    }  # fmt: skip
    assert used == rows
