"""One bad row of a table costs itself: in a collection, whole or in parts, in pantry and decisions."""

from __future__ import annotations

import pytest

from pipeline.bulk.schedule import verify_bulk
from pipeline.memory import Decision, load_decisions, load_pantry, save_decision
from pipeline.problems import SteelyardError
from pipeline.run import verify

pytestmark = pytest.mark.soak

#: A tidy table of 42 recipes; a quote in the second of them is never closed.
TIDY = "title,servings,line,kcal\n" + "".join(
    f"Dish {n},2,{chr(34) if n == 1 else ''}100 g rice,180\nDish {n},2,10 g butter,180\n"
    for n in range(42)
)
#: The same, one row a recipe.
WIDE = "title,servings,ingredients,kcal\n" + "".join(
    f"Dish {n},2,{chr(34) if n == 1 else ''}100 g rice; 10 g butter,180\n" for n in range(42)
)


def test_an_unclosed_quote_loses_no_row_after_it(tmp_path, snapshot):
    (tmp_path / "all.csv").write_text(TIDY)
    result = verify(tmp_path)
    assert len(result.recipes) == 42
    told = result.problems[result.problems["code"] == "csv-row-invalid"]
    assert told["source_line"].tolist() == [4]
    assert told["severity"].tolist() == ["error"]


def test_a_recipe_with_an_unreadable_row_is_not_known_in_full(tmp_path, snapshot):
    (tmp_path / "all.csv").write_text(TIDY)
    result = verify(tmp_path)
    recipes = result.recipes.set_index("title")
    assert recipes.loc["Dish 0", "coverage"] == 1
    assert recipes.loc["Dish 1", "coverage"] < 0.9
    assert recipes.loc["Dish 1", "verdict"] in ("not_judged", "uncertain")
    assert len(result.lines) == 84  # the row is there, as one that cannot be read


def test_a_table_with_one_row_a_recipe_loses_that_recipe_alone(tmp_path, snapshot):
    (tmp_path / "all.csv").write_text(WIDE)
    result = verify(tmp_path)
    assert set(result.recipes["title"]) == {f"Dish {n}" for n in range(42) if n != 1}
    told = result.problems[result.problems["code"] == "csv-row-invalid"]
    assert told["source_line"].tolist() == [3]


@pytest.mark.parametrize("text", [TIDY, WIDE], ids=["tidy", "wide"])
def test_in_parts_the_same_rows_are_read(tmp_path, snapshot, text):
    text = text.replace("Dish 7", "\nDish 7", 1) + 'Dish 99,2,4" tin of beans,1,\n'
    path = tmp_path / "all.csv"
    path.write_text(text)
    plain = verify(path)
    verify_bulk(path, tmp_path / "out", part_recipes=5, workers=1, small_bytes=0)
    import duckdb

    with duckdb.connect() as con:
        folder = tmp_path / "out" / "bulk"
        found = con.execute(
            f"select recipe_id, line_no, text, source_line from '{folder}/lines/*.parquet'"
            " order by all"
        ).fetchall()
        told = con.execute(
            f"select source_line from '{folder}/problems/*.parquet' where code = 'csv-row-invalid'"
        ).fetchall()
    columns = ["recipe_id", "line_no", "text", "source_line"]
    assert found == sorted(plain.lines[columns].itertuples(index=False, name=None))
    bad = plain.problems[plain.problems["code"] == "csv-row-invalid"]
    assert [row[0] for row in told] == bad["source_line"].tolist() != []


DECISIONS = 'text,food_id,grams\n"1 egg,none,\n' + "".join(f"{n} eggs,none,\n" for n in range(2, 9))


def test_answers_after_a_bad_row_are_obeyed_and_the_row_is_told(tmp_path):
    path = tmp_path / "decisions.csv"
    path.write_text(DECISIONS)
    answers, problems = load_decisions(path)
    assert len(answers) == 7
    assert [(p.code, p.source_line, p.severity) for p in problems] == [
        ("csv-row-invalid", 2, "error")
    ]


def test_a_file_with_a_row_that_cannot_be_read_is_never_written_over(tmp_path):
    path = tmp_path / "decisions.csv"
    path.write_text(DECISIONS)
    with pytest.raises(SteelyardError) as refused:
        save_decision(path, Decision("1 fig", "none"))
    assert refused.value.problem.source_line == 2
    assert "left as it is" in refused.value.problem.why
    assert path.read_text() == DECISIONS


def test_pantry_foods_after_a_bad_row_are_there(tmp_path):
    path = tmp_path / "pantry.csv"
    path.write_text('food_name,serving_g,kcal\n"Oats,40,150\nRye,40,140\nSpelt,40,145\n')
    pantry, problems = load_pantry(path)
    assert [food.name for food in pantry.foods] == ["Rye", "Spelt"]
    assert [(p.code, p.source_line) for p in problems] == [("csv-row-invalid", 2)]
