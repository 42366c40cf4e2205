"""The whole run over small invented collections: bad input is told, nothing is lost."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

import pipeline
from pipeline.problems import SteelyardError
from pipeline.result import corrected_numbers
from pipeline.run import verify

GOOD = "Porridge of the second watch\nServes 1\n\n50 g rolled oats\n300 ml whole milk\n1 tsp honey\n\nPer serving: 400 kcal, P 16 g, C 54 g, F 14 g\n"


def put(folder: Path, name: str, content: str | bytes) -> Path:
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def test_an_honest_recipe_agrees_and_a_left_out_line_is_named(tmp_path: Path) -> None:
    put(tmp_path, "good.txt", GOOD)
    put(
        tmp_path,
        "bad.txt",
        GOOD.replace("400 kcal, P 16 g, C 54 g, F 14 g", "205 kcal, P 7 g, C 39 g, F 3 g"),
    )
    result = verify(tmp_path)
    verdicts = dict(zip(result.recipes["recipe_id"], result.recipes["verdict"], strict=True))
    assert verdicts == {"good.txt": "agrees", "bad.txt": "disagrees"}
    first = result.explanations[result.explanations["rank"] == 1].iloc[0]
    assert (first["kind"], first["line_no"]) == ("line_left_out", 2)


def test_the_python_door_is_the_same_run(tmp_path: Path) -> None:
    put(tmp_path, "good.txt", GOOD)
    assert pipeline.verify(tmp_path).counts() == {
        "agrees": 1,
        "uncertain": 0,
        "disagrees": 0,
        "not_judged": 0,
    }


BAD: dict[str, str | bytes] = {
    "binary.txt": bytes(range(256)) * 20,
    "noise.json": b"{" + os.urandom(200_000),
    "page.html": "<html><body><h1>No recipe here</h1></body></html>",
    "tags.yaml": "title: !!python/object/apply:os.system ['true']\nservings: 2\ningredients: [2 eggs]\n",
    "bomb.yaml": "a: &a [x,x,x,x,x,x,x,x,x]\n" + "".join(
        f"{chr(98 + i)}: &{chr(98 + i)} [{','.join('*' + chr(97 + i) for _ in range(9))}]\n" for i in range(8)
    ),
    "zero.txt": GOOD.replace("Serves 1", "Serves 0"),
    "minus.yaml": "title: Minus\nservings: -2\ningredients: [2 eggs]\nstated: {kcal: 150}\n",
    "infinite.txt": GOOD.replace("50 g rolled oats", "∞ g rolled oats"),
    "unknown-unit.txt": GOOD.replace("1 tsp honey", "3 frumps honey"),
    "silent.txt": GOOD.split("Per serving")[0],
    "windows.txt": GOOD.replace("Porridge", "Crème").encode("cp1252"),
    "empty.txt": "",
    "deep.json": "[" * 50_000,
    "same-a.yaml": "id: twin\ntitle: A\nservings: 1\ningredients: [2 eggs]\n",
    "same-b.yaml": "id: twin\ntitle: B\nservings: 1\ningredients: [2 eggs]\n",
}  # fmt: skip


def test_bad_input_is_told_one_by_one_and_the_rest_runs(tmp_path: Path) -> None:
    put(tmp_path, "good.txt", GOOD)
    for name, content in BAD.items():
        put(tmp_path, name, content)
    result = verify(tmp_path)
    ids = set(result.recipes["recipe_id"])
    assert "good.txt" in ids
    assert {"twin", "twin~2"} <= ids
    told = set(result.problems["source"])
    for name in ("binary.txt", "noise.json", "page.html", "tags.yaml", "bomb.yaml", "zero.txt", "minus.yaml",
                 "infinite.txt", "windows.txt", "empty.txt", "deep.json", "same-b.yaml"):  # fmt: skip
        assert name in told, name
    assert (result.problems["what"].str.len() > 10).all()
    errors = result.problems[result.problems["severity"] == "error"]
    assert (errors["fix"].str.len() > 5).all()
    lines = result.lines.set_index(["recipe_id", "line_no"])
    honey = lines.loc[("unknown-unit.txt", 3)]
    assert honey["grams"] != honey["grams"]  # missing, never zero
    assert honey["weigh_reason"]
    assert result.recipes.set_index("recipe_id").loc["silent.txt", "verdict"] == "not_judged"


def test_a_recipe_used_by_another_is_added_up_and_a_ring_is_told(tmp_path: Path) -> None:
    put(
        tmp_path,
        "base.txt",
        "Base dressing\nServes 4\n\n80 ml olive oil\n2 tbsp lemon juice\n\nPer serving: 165 kcal\n",
    )
    put(
        tmp_path,
        "salad.txt",
        "Deck salad\nServes 1\n\n100 g rocket\n1 portion of the base dressing\n\nPer serving: 190 kcal\n",
    )
    put(
        tmp_path,
        "a.yaml",
        "id: a\ntitle: Ring one\nservings: 1\ningredients: [1 portion ring two]\nstated: {kcal: 1}\n",
    )
    put(
        tmp_path,
        "b.yaml",
        "id: b\ntitle: Ring two\nservings: 1\ningredients: [1 portion ring one]\nstated: {kcal: 1}\n",
    )
    result = verify(tmp_path)
    wide = result.recipes.set_index("recipe_id")
    base, salad = wide.loc["base.txt", "kcal_computed"], wide.loc["salad.txt", "kcal_computed"]
    assert salad == pytest.approx(base + 25, rel=0.02)  # SR28 11959 arugula: 25 kcal per 100 g
    assert any(
        "ring" in str(w).lower() or "cycle" in str(c)
        for w, c in zip(result.problems["what"], result.problems["code"], strict=True)
    )


def test_an_empty_folder_is_one_problem(tmp_path: Path) -> None:
    result = verify(tmp_path)
    assert result.recipes.empty
    assert len(result.problems) == 1
    assert result.counts() == {"agrees": 0, "uncertain": 0, "disagrees": 0, "not_judged": 0}


@pytest.mark.soak
def test_fifty_megabytes_of_noise_do_not_hold_the_run_up(tmp_path: Path) -> None:
    put(tmp_path, "good.txt", GOOD)
    block = os.urandom(1 << 20)
    with (tmp_path / "noise.csv").open("wb") as out:
        for _ in range(50):
            out.write(block)
    result = verify(tmp_path)
    assert list(result.recipes["recipe_id"]) == ["good.txt"]
    assert "noise.csv" in set(result.problems["source"])


def test_the_whole_of_something_made_before_is_no_small_line(tmp_path: Path) -> None:
    (tmp_path / "cake.txt").write_text(
        "Layer cake\nServes 12\n\n- 1 recipe chocolate sponge\n- 600 g strawberries\n- 150 g sugar\n"
        "- 225 g heavy cream\n- 50 g butter\n- 2 eggs\n- 10 g cornstarch\n- 1 recipe buttercream\n\n"
        "per serving: 419 kcal\n",
        encoding="utf-8",
    )
    (recipe,) = pipeline.verify(tmp_path).recipes.to_dict("records")
    assert recipe["verdict"] == "not_judged"  # the sponge and its cream may well be what is missing
    assert recipe["coverage"] < 0.75


def test_a_recipe_is_used_by_its_title_in_another_spelling(tmp_path: Path) -> None:
    (tmp_path / "breads.txt").write_text(
        "Yogurt flatbreads\nMakes 4\n\n- 200 g self-raising flour\n- 200 g yogurt\n\n"
        "Per flatbread: 230 kcal\n", encoding="utf-8",
    )  # fmt: skip
    for name, line in (("lamb", "2 yoghurt flatbreads"), ("eggs", "2 of my flatbreads")):
        (tmp_path / f"{name}.txt").write_text(
            f"Wraps with {name}\nServes 2\n\n- {line}\n- 200 g cheddar\n\nPer serving: 620 kcal\n",
            encoding="utf-8",
        )
    lines = pipeline.verify(tmp_path).lines.set_index("text")
    assert lines.at["2 yoghurt flatbreads", "food_id"] == "recipe:breads.txt"
    assert lines.at["2 of my flatbreads", "food_id"] == "recipe:breads.txt"


def test_each_behind_a_food_is_so_much_for_each_who_eats(tmp_path: Path) -> None:
    (tmp_path / "toast.txt").write_text(
        "Beans on toast\nServes 3\n\n- 2 slices toast each\n- 400 g baked beans\n"
        "- 4 eggs, 60 g each\n- red chili flakes\n\nPer serving: 330 kcal\n", encoding="utf-8",
    )  # fmt: skip
    lines = pipeline.verify(tmp_path).lines.set_index("text")
    assert lines.at["2 slices toast each", "grams"] == pytest.approx(132, rel=0.2)
    assert lines.at["4 eggs, 60 g each", "grams"] == pytest.approx(240, rel=0.02)
    assert lines.at["red chili flakes", "grams"] < 5


def test_single_creators_count_by_conventions_of_their_own(tmp_path: Path) -> None:
    lines = "400 g cooked kidney beans\n20 g butter\n100 g cheddar"
    for name in ("Ann", "Ben", "Cyd"):
        card = f"Bean pot\nby {name}\nServes 2\n\n{lines}\n\nPer serving: 499 kcal, protein 30 g, carbs 60 g, fat 26 g\n"
        put(tmp_path, f"{name}.txt", card)
    own = '[creators.Ann]\nenergy = "atwater"\ncarbohydrate = "available"\n[creators.Cyd]\nenergy = "without fibre"\n'
    put(tmp_path, "steelyard.toml", f'energy = "table"\ncarbohydrate = "total"\n{own}')
    result = verify(tmp_path)
    rows = result.recipes.set_index("source")
    ann, ben, cyd = (rows.loc[f"{name}.txt"] for name in ("Ann", "Ben", "Cyd"))
    macros = 4 * ann["protein_g_computed"] + 4 * ann["carbs_g_computed"] + 9 * ann["fat_g_computed"]
    assert ann["kcal_computed"] == pytest.approx(macros, abs=0.1)
    without = ben["kcal_computed"] - 4 * ben["fiber_g_computed"]
    assert cyd["kcal_computed"] == pytest.approx(without, abs=0.1)
    corrected = corrected_numbers(result).set_index("recipe_id")["carbs_g"]
    fibre = ben["fiber_g_computed"]
    assert corrected["Ann.txt"] == pytest.approx(corrected["Ben.txt"] - fibre, abs=1)


def test_a_tolerance_profile_may_be_given_to_the_run(tmp_path: Path) -> None:
    put(tmp_path, "good.txt", GOOD)
    assert verify(tmp_path, profile="us").settings.profile == "us"
    with pytest.raises(SteelyardError, match="moon"):
        verify(tmp_path, profile="moon")


def test_a_line_that_no_recipe_can_hold_is_not_weighed(tmp_path: Path) -> None:
    put(tmp_path, "good.txt", GOOD.replace("50 g rolled oats", "999999999 kg rolled oats"))
    lines = verify(tmp_path).lines
    assert lines["grams"].isna().tolist() == [True, False, False]
    assert "more than any line can mean" in lines["weigh_reason"].iloc[0]
