"""Habits in collections whose truth is known: found, told apart, kept quiet where there is nothing."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from kitchen import LIGHT, Dish, Item, Values, cheese_dishes, dish, doubled, lay_out

import pipeline
from pipeline.habits.model import ids_of
from pipeline.run import Result


def sure(result: Result) -> pd.DataFrame:
    return result.habits[result.habits["probability"] >= 0.8]


def first(result: Result) -> dict[str, str]:
    table = result.explanations[result.explanations["rank"] == 1]
    return dict(zip(table["recipe_id"], table["kind"], strict=True))


def verdicts(result: Result) -> dict[str, str]:
    return dict(zip(result.recipes["recipe_id"], result.recipes["verdict"], strict=True))


@pytest.fixture(scope="module")
def light(
    tmp_path_factory: pytest.TempPathFactory, foods: dict[str, Values], snapshot: Any
) -> Result:
    """Cheddar is always the reduced-fat one; dish 6 has its broccoli twice as well."""
    dishes = cheese_dishes()
    dishes[6] = doubled(dishes[6], 2)
    folder = lay_out(tmp_path_factory.mktemp("light"), dishes, {**foods, "cheddar cheese": LIGHT})
    return pipeline.verify(folder, snapshot=snapshot)


def test_another_product_is_one_habit_with_its_values(light: Result) -> None:
    found = sure(light)
    assert found["phrase"].tolist() == ["cheddar cheese"]
    habit = found.iloc[0]
    assert habit["kind"] == "product"
    assert ids_of(habit["recipe_ids"]) == ["d-000", "d-001", "d-003", "d-004", "d-006", "d-007"]
    assert habit["kcal"] == pytest.approx(315, rel=0.05)
    assert habit["fat_g"] == pytest.approx(22, rel=0.1)
    assert habit["protein_g"] == pytest.approx(28, rel=0.1)
    assert "reduced fat" in habit["nearest_food"]
    assert habit["agree_then"] >= 5 > habit["agree_now"]
    assert "In 6 recipes “cheddar cheese” counts" in habit["question"]


def test_a_recipe_touched_by_the_habit_alone_says_so_first(light: Result) -> None:
    open_ = {r for r, v in verdicts(light).items() if v in ("disagrees", "uncertain")}
    touched = set(ids_of(light.habits.iloc[0]["recipe_ids"])) - {"d-006"}
    assert open_ & touched
    assert {first(light)[r] for r in open_ & touched} == {"habit"}
    assert not {"d-002", "d-005"} & open_


def test_the_slip_is_found_given_the_habit(light: Result) -> None:
    mine = light.explanations[light.explanations["recipe_id"] == "d-006"]
    assert mine.iloc[0]["kind"] == "line_doubled"
    assert mine.iloc[0]["line_no"] == 3
    assert "habit" in set(mine["kind"])


def test_verdicts_stay_as_they_are(light: Result, foods: dict[str, Values]) -> None:
    """The habit is not confirmed: the sums are still those of ordinary cheddar."""
    row = light.recipes.set_index("recipe_id").loc["d-004"]
    ordinary = sum(
        foods[w]["fat"] * g / 100
        for w, g in (("cheddar cheese", 100), ("dry couscous", 70), ("olive oil", 12))
    )
    assert row["fat_g_computed"] == pytest.approx(ordinary, rel=0.02)
    assert row["verdict"] in ("disagrees", "uncertain")


def test_two_recipes_are_no_habit(tmp_path: Path, foods: dict[str, Values], snapshot: Any) -> None:
    dishes = [d for n, d in enumerate(cheese_dishes()) if n in (0, 1, 2, 5)]
    folder = lay_out(tmp_path / "k", dishes, {**foods, "cheddar cheese": LIGHT})
    assert pipeline.verify(folder, snapshot=snapshot).habits.empty


def test_honest_numbers_show_no_habit(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    result = pipeline.verify(lay_out(tmp_path / "k", cheese_dishes(), foods), snapshot=snapshot)
    assert result.habits.empty
    assert set(verdicts(result).values()) == {"agrees"}


def test_net_carbohydrate_is_a_convention(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    folder = lay_out(
        tmp_path / "k", cheese_dishes(), foods, lambda v: {**v, "carbs": v["carbs"] - v["fibre"]}
    )
    found = sure(pipeline.verify(folder, snapshot=snapshot))
    assert found[["kind", "phrase"]].values.tolist() == [["convention", "net carbohydrate"]]
    (folder / "steelyard.toml").write_text('carbohydrate = "available"\n', encoding="utf-8")
    result = pipeline.verify(folder, snapshot=snapshot)
    assert result.habits.empty
    assert set(verdicts(result).values()) == {"agrees"}


def test_energy_without_fibre_is_told_from_net_carbohydrate_alone(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    def state(v: Values) -> Values:
        return {**v, "carbs": v["carbs"] - v["fibre"], "kcal": v["kcal"] - 4 * v["fibre"]}

    folder = lay_out(tmp_path / "k", cheese_dishes(), foods, state)
    found = sure(pipeline.verify(folder, snapshot=snapshot))
    assert found["phrase"].tolist() == ["net carbohydrate, energy without fibre"]
    text = 'carbohydrate = "available"\nenergy = "atwater"\n'
    (folder / "steelyard.toml").write_text(text, encoding="utf-8")
    result = pipeline.verify(folder, snapshot=snapshot)
    assert result.habits.empty
    assert set(verdicts(result).values()) == {"agrees"}


def spoons(grams: float) -> list[Dish]:
    """Seven dishes with two tablespoons of peanut butter that weigh ``grams`` each."""
    nut = Item("smooth peanut butter", 2 * grams, "2 tbsp smooth peanut butter")
    rest = [
        [("rolled oats", 50), ("honey", 15)], [("raw carrots", 150), ("cooked quinoa", 120)],
        [("rolled oats", 40), ("raisins", 30)], [("dry couscous", 60), ("raw broccoli", 90)],
        [("cooked brown rice", 150), ("raw spinach", 70)], [("raisins", 40), ("almonds", 10)],
        [("cooked chickpeas", 120), ("raw carrots", 60)],
    ]  # fmt: skip
    return [dish(*items, nut) for items in rest]  # type: ignore[arg-type]


def test_the_weight_of_a_measure(tmp_path: Path, foods: dict[str, Values], snapshot: Any) -> None:
    folder = lay_out(tmp_path / "k", spoons(27.0), foods)
    found = sure(pipeline.verify(folder, snapshot=snapshot))
    assert found["kind"].tolist() == ["measure"]
    habit = found.iloc[0]
    assert habit["measure"] == "tbsp"
    assert habit["grams"] == pytest.approx(27, rel=0.06)
    assert "27 g" in habit["question"]


def test_a_food_that_is_never_counted(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    oil = Item("olive oil", 15)
    plain = [
        [("cooked quinoa", 180), ("raw broccoli", 120)], [("cooked chickpeas", 160), ("raw carrots", 90)],
        [("dry couscous", 70), ("raw spinach", 90)], [("dried red lentils", 60), ("raw carrots", 50)],
        [("cooked brown rice", 220), ("raw broccoli", 80)],
    ]  # fmt: skip
    dishes = []
    for items in plain:
        whole = dish(*items, oil)  # type: ignore[arg-type]
        dishes.append(replace(whole, counted=whole.items[:-1]))
    found = sure(pipeline.verify(lay_out(tmp_path / "k", dishes, foods), snapshot=snapshot))
    assert found["phrase"].tolist() == ["olive oil"]
    assert found.iloc[0]["kind"] == "measure"
    assert "is not in the numbers" in found.iloc[0]["question"]


def test_foods_always_together_are_both_named(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    """Almonds and raisins stand in the same bowls, in proportions that vary by little."""
    amounts = [(30, 30), (40, 41), (50, 50), (36, 35), (60, 60), (44, 45)]
    rest = [("rolled oats", 50), ("cooked quinoa", 120), ("dry couscous", 50), ("rolled oats", 70),
            ("cooked quinoa", 90), ("honey", 30)]  # fmt: skip
    dishes = [
        dish(("almonds", a), ("raisins", r), more)
        for (a, r), more in zip(amounts, rest, strict=True)
    ]
    off = {k: v * 0.6 for k, v in foods["almonds"].items()}
    folder = lay_out(tmp_path / "k", dishes, {**foods, "almonds": off})
    found = sure(pipeline.verify(folder, snapshot=snapshot))
    assert len(found) == 1
    said = f"{found.iloc[0]['phrase']} {found.iloc[0]['question']}"
    assert "almonds" in said
    assert "raisins" in said or found.iloc[0]["phrase"] == "almonds"


def test_each_creator_has_habits_of_their_own(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    mine = cheese_dishes()
    yours = [replace(d, creator="Bram Teller") for d in mine]
    folder = lay_out(tmp_path / "a", mine, {**foods, "cheddar cheese": LIGHT})
    for path in lay_out(tmp_path / "b", yours, foods).iterdir():
        text = path.read_text(encoding="utf-8").replace('"d-', '"e-')
        (folder / path.name.replace("d-", "e-")).write_text(text, encoding="utf-8")
    found = sure(pipeline.verify(folder, snapshot=snapshot))
    assert found[["creator", "phrase"]].values.tolist() == [["Odile Farran", "cheddar cheese"]]
    assert all(r.startswith("d-") for r in ids_of(found.iloc[0]["recipe_ids"]))


def test_the_order_of_the_recipes_does_not_matter(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    dishes = cheese_dishes()
    said = []
    for n in range(2):
        random.Random(n).shuffle(dishes)
        folder = lay_out(tmp_path / str(n), dishes, {**foods, "cheddar cheese": LIGHT})
        habits = pipeline.verify(folder, snapshot=snapshot).habits
        said.append(habits[["phrase", "kind", "recipes", "kcal", "probability"]])
    pd.testing.assert_frame_equal(said[0], said[1], rtol=1e-6)


def test_a_refused_habit_stays_refused(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    folder = lay_out(tmp_path / "k", cheese_dishes(), {**foods, "cheddar cheese": LIGHT})
    key = pipeline.verify(folder, snapshot=snapshot).habits.iloc[0]["key"]
    (folder / "decisions.csv").write_text(
        f"text,food_id,grams,applies_to,decided_on,note\n{key},none,,habit,2025-05-01,\n",
        encoding="utf-8",
    )
    result = pipeline.verify(folder, snapshot=snapshot)
    assert key not in set(result.habits["key"])
    assert not (result.problems["code"] == "decision-unusable").any()


def test_a_base_is_found_where_its_foods_stand_alone_too(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    """The butter of the granola base is counted twice; butter stands elsewhere as well."""
    base = (Item("rolled oats", 80), Item("honey", 24), Item("butter", 20))
    with_base = [
        Dish((*base, Item("raisins", 30))), Dish((*base, Item("almonds", 25))),
        Dish((Item("raw carrots", 120), *base)), Dish((*base, Item("cooked quinoa", 90))),
        Dish((*base, Item("raisins", 15), Item("almonds", 15))),
    ]  # fmt: skip
    alone = [
        dish(("butter", 12), ("raw broccoli", 200), ("cooked brown rice", 150)),
        dish(("butter", 9), ("raw carrots", 150), ("dry couscous", 60)),
        dish(("cooked chickpeas", 150), ("raw spinach", 80), ("olive oil", 10)),
    ]
    dishes = [replace(d, counted=(*d.items, Item("butter", 20))) for d in with_base] + alone
    result = pipeline.verify(lay_out(tmp_path / "k", dishes, foods), snapshot=snapshot)
    found = sure(result)
    assert found["kind"].tolist() == ["base"]
    assert "butter" in found.iloc[0]["phrase"]
    assert ids_of(found.iloc[0]["recipe_ids"]) == [f"d-{n:03d}" for n in range(5)]


def test_slips_of_two_recipes_are_no_habit(
    tmp_path: Path, foods: dict[str, Values], snapshot: Any
) -> None:
    """Almonds are counted twice in two recipes of three: the third does not bear it out."""
    dishes = [
        doubled(dish(("almonds", 40), ("raw carrots", 150), ("cooked quinoa", 120)), 0),
        doubled(dish(("almonds", 35), ("rolled oats", 60), ("raisins", 20)), 0),
        dish(("almonds", 30), ("raw spinach", 100), ("cooked chickpeas", 140)),
        *cheese_dishes(),
    ]
    result = pipeline.verify(lay_out(tmp_path / "k", dishes, foods), snapshot=snapshot)
    assert "almonds" not in set(sure(result)["phrase"])
