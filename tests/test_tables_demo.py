"""A second table used by ``verify`` on the demo: preferred before SR28, alone, and Foundation.

The national table is invented (``tests/national``). The Foundation release is USDA's own, read where
it lies beside the checkout and skipped elsewhere.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from national_tables import load_table, write_table

import pipeline
from pipeline.habits.model import ids_of
from pipeline.lines import parse
from pipeline.match import load_index
from pipeline.match.matcher import Matcher
from pipeline.run import Result
from pipeline.snapshot import Snapshot


@pytest.fixture(scope="module")
def by_sr28(demo_result: Result) -> Result:
    return demo_result


def changed(before: Result, after: Result) -> list[str]:
    """Recipes whose verdict is another one."""
    old = before.recipes.set_index("recipe_id")["verdict"]
    new = after.recipes.set_index("recipe_id")["verdict"]
    return [r for r in old.index if old[r] != new[r]]


def reasons(result: Result, recipe_id: str) -> list[str]:
    """What the result says of the recipe's lines that could move it: asked ones, values apart."""
    lines = result.lines[result.lines.recipe_id == recipe_id]
    first = result.explanations[result.explanations["rank"] == 1]
    habit = first[(first["recipe_id"] == recipe_id) & (first["kind"] == "habit")]
    return [
        *habit["detail"],  # off under any table, more or less
        *(
            f"{line.text}: {line.reason}"
            for line in lines.itertuples()
            if line.status != "accepted" or "apart" in line.reason
        ),
    ]


@pytest.mark.parametrize("table", ["harbour_beside", "harbour_alone"])
def test_a_national_table_answers_the_demo(
    request: pytest.FixtureRequest, demo: Path, by_sr28: Result, table: str
) -> None:
    result = pipeline.verify(demo, snapshot=request.getfixturevalue(table))
    lines = result.lines
    foods = lines[lines.food_id.notna() & lines.names_food & (lines.origin != "decision")]
    own = foods.food_id.str.startswith("harbour:")
    assert own.mean() > 0.8
    if table == "harbour_alone":
        assert not foods.food_id.str.startswith("sr28:").any()
    # what the one habit moves hangs on how sure each table's pick of that product is
    habit = {r for cell in by_sr28.habits["recipe_ids"] for r in ids_of(cell)}
    moved = set(changed(by_sr28, result)) - habit
    for recipe_id in moved:
        assert reasons(result, recipe_id), recipe_id
    assert len(moved) <= 0.1 * len(by_sr28.recipes)


def _matcher(snapshot: Snapshot) -> Matcher:
    with snapshot.connect() as con:
        return Matcher(load_index(con, snapshot.folder))


@pytest.fixture(scope="module")
def odd_table(tmp_path_factory: pytest.TempPathFactory) -> Matcher:
    """The national table with a food under the number of another one in SR28, and one of its own."""
    folder = tmp_path_factory.mktemp("odd")
    mapping = write_table(folder / "table", codes={"Olive oil": "09040"})
    path = mapping.with_suffix(".csv")
    with path.open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    cheese = next(r for r in rows if r["food"].lower().startswith("feta"))
    rows.append({**cheese, "code": "H99-01", "food": "Halloumi"})
    with path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return _matcher(load_table(folder / "home", mapping))


def test_a_code_that_is_another_foods_in_sr28_means_nothing(odd_table: Matcher) -> None:
    bananas = odd_table.match_one(parse("2 medium bananas"))
    assert "banana" in bananas.description.lower()
    oil = odd_table.match_one(parse("1 tbsp olive oil"))
    assert oil.food_id == "harbour:09040"


def test_a_food_that_only_the_national_table_has_is_found(odd_table: Matcher) -> None:
    found = odd_table.match_one(parse("100 g halloumi"))
    assert found.food_id == "harbour:H99-01"
    assert found.status == "accepted"


def test_foundation_beside_sr28_moves_no_verdict_without_a_reason(
    foundation_beside: Snapshot, demo: Path, by_sr28: Result
) -> None:
    result = pipeline.verify(demo, snapshot=foundation_beside)
    foods = result.lines[result.lines.food_id.notna()]
    used = set(foods.food_id)
    with foundation_beside.connect() as con:
        lacking = {
            row[0] for row in con.execute("select food_id from food where not complete").fetchall()
        }
    assert not used & lacking
    eggs = _matcher(foundation_beside).match_one(parse("2 large eggs"))
    assert eggs.food_id is not None
    for recipe_id in changed(by_sr28, result):
        assert reasons(result, recipe_id), recipe_id
    assert len(changed(by_sr28, result)) <= 0.1 * len(by_sr28.recipes)
