"""Invented recipes of a tidal mill's kitchen through the whole run."""

from __future__ import annotations

import pytest

import pipeline


@pytest.fixture(scope="session")
def cooked(snapshot):
    """Lines of a card by their text, with what each brings and its use."""
    from pipeline.reading import load_tools

    tools = load_tools(snapshot)

    def run(lines: str, *, title="Tidal mill supper", serves="Serves 4", method="", stated=""):
        text = f"{title}\n{serves}\n\nIngredients\n{lines.strip()}\n"
        text += f"\nMethod\n{method.strip()}\n" if method else ""
        text += f"\nPer serving: {stated}\n" if stated else ""
        result = pipeline.verify("-", stdin=text, tools=tools)
        return result, result.lines.set_index("text")

    return run
