"""Invented recipes of a tidal mill's kitchen through the whole run."""

from __future__ import annotations

import json

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


@pytest.fixture(scope="module")
def cooked_together(request, snapshot, tmp_path_factory):
    """What ``cooked`` gives of single cards that a module lists in TOGETHER, of one run over all.

    TOGETHER holds the lines of a card, or its lines and its method. Gives a function from such an
    entry to the recipe's energy (amount, low, high) and to its lines.
    """
    cards = list(dict.fromkeys(request.module.TOGETHER))
    recipes = [
        {"id": f"c{number}", "title": f"Tidal mill supper {number}", "servings": 4,
         "ingredients": lines.splitlines(), "method": method}
        for number, (lines, method) in enumerate(cards)
    ]  # fmt: skip
    path = tmp_path_factory.mktemp("together") / "cards.json"
    path.write_text(json.dumps(recipes), encoding="utf-8")
    result = pipeline.verify(path, snapshot=snapshot)
    assert len(result.recipes) == len(cards)
    energy = result.computed[result.computed["nutrient"] == "ENERC_KCAL"].set_index("recipe_id")

    def found(lines: str, method: str = ""):
        recipe_id = f"c{cards.index((lines, method))}"
        own = result.lines[result.lines["recipe_id"] == recipe_id]
        return energy.loc[recipe_id], own.set_index("text")

    return found
