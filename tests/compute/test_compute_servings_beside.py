"""Servings that a recipe does not say, as the numbers of the others of its file tell them."""

from __future__ import annotations

from pathlib import Path

from pipeline.run import verify

CARD = """## {title}
- 150 g chicken breast, raw
- 200 g cooked white rice
- 10 g olive oil
{numbers}

"""
HONEST = "528 kcal, 39 g protein, 56 g carbs, 14 g fat"
SLIP = "438 kcal, 39 g protein, 56 g carbs, 4 g fat"


def test_a_slip_among_honest_recipes_is_judged_by_their_servings(tmp_path: Path) -> None:
    cards = [("Quay bowl", HONEST), ("Pier bowl", HONEST), ("Slipway bowl", SLIP)]
    text = "# Bowls\n" + "".join(CARD.format(title=title, numbers=said) for title, said in cards)
    (tmp_path / "bowls.md").write_text(text, encoding="utf-8")
    result = verify([tmp_path])
    assert dict(zip(result.recipes["title"], result.recipes["verdict"], strict=True)) == {
        "Quay bowl": "agrees", "Pier bowl": "agrees", "Slipway bowl": "disagrees",
    }  # fmt: skip
    how = result.collection.recipe.set_index("title")["servings_how"]
    assert how["Slipway bowl"].endswith("which do not say it either")


def test_one_honest_recipe_says_nothing_of_two_others(tmp_path: Path) -> None:
    cards = [("Quay bowl", HONEST), ("Pier bowl", SLIP), ("Slipway bowl", SLIP)]
    text = "# Bowls\n" + "".join(CARD.format(title=title, numbers=said) for title, said in cards)
    (tmp_path / "bowls.md").write_text(text, encoding="utf-8")
    assert set(verify([tmp_path]).recipes["verdict"]) == {"agrees", "not_judged"}
