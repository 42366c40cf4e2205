"""Drift of an invented collection between the embedded table and one changed by hand."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest
from fdc_layout import write_bundle

from pipeline.problems import SteelyardError
from pipeline.refresh import refresh
from pipeline.refresh.drift import drift, say, write_drift
from pipeline.refresh.drift_model import DECISIONS, FOODS, LINES, RECIPES, Drift
from pipeline.resources import sql
from pipeline.snapshot import Snapshot, live, use

CARDS = """\
Invented lentil bowl
Serves 2
2 tbsp olive oil
200 g dried lentils
1 tbsp honey
Per serving: 470 kcal, P 25 g

---

Plain banana
Serves 1
118 g banana
Per serving: 105 kcal

---

Lentil jar

300 g dried lentils
50 g olive oil

Per 100 g: 400 kcal

---

Lentil pan

300 g dried lentils
50 g olive oil

Whole pan: 1450 kcal
"""


@pytest.fixture(scope="module")
def changed(published: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """SR Legacy laid out without honey, olive oil at nine tenths of its energy."""
    folder = tmp_path_factory.mktemp("changed") / "FoodData_Central_sr_legacy_food_csv_2018-04"
    return write_bundle(
        published.path, folder, kinds=("sr_legacy",), foods="food_id <> 'sr28:19296'",
        change="amount * if(nutrient = 'ENERC_KCAL' and source_code = '04053', 0.9, 1)",
    )  # fmt: skip


@pytest.fixture(scope="module")
def place(published: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A home for this module and, in it, the collection."""
    home = tmp_path_factory.mktemp("drift") / "home"
    shutil.copytree(published.folder.parents[1], home)
    folder = home.parent / "collection"
    folder.mkdir()
    for number, card in enumerate(CARDS.split("---\n")):
        (folder / f"{number}.txt").write_text(card.strip() + "\n", encoding="utf-8")
    (folder / "decisions.csv").write_text(
        "text,food_id,grams,applies_to,decided_on,note\n1 tbsp honey,sr28:19296,,line,,\n",
        encoding="utf-8",
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("STEELYARD_HOME", str(home))
        yield home.parent


@pytest.fixture(scope="module")
def found(place: Path, changed: Path) -> Drift:
    refresh(from_=str(changed), only=True, home=place / "home")
    return drift([place / "collection"], home=place / "home")


def test_foods_totals_verdicts_and_answers_that_moved(found: Drift, tmp_path: Path) -> None:
    assert list(found.foods.columns) == FOODS
    assert list(found.recipes.columns) == RECIPES
    assert list(found.lines.columns) == LINES
    assert list(found.decisions.columns) == DECISIONS
    oil = found.foods[found.foods["food_id"] == "sr28:04053"].to_dict("records")
    assert [(r["nutrient"], r["state"], r["before"], r["after"]) for r in oil] == [
        ("kcal", "changed", 884.0, pytest.approx(795.6))
    ]
    assert set(found.foods.loc[found.foods["food_id"] == "sr28:19296", "state"]) == {"vanished"}
    energy = found.recipes[found.recipes["nutrient"] == "kcal"]
    bowl = energy[energy["title"].str.contains("bowl")].to_dict("records")[0]
    # 27 g of oil in two servings: 13.5 g lose 88.4 kcal a 100 g; the honey's line may move too
    assert bowl["change"] <= -11
    assert not energy["title"].str.contains("banana").any()
    assert found.decisions.to_dict("records") == [
        {"text": "1 tbsp honey", "applies_to": "line", "food_id": "sr28:19296",
         "description": "Honey", "food_source": "USDA SR28"}
    ]  # fmt: skip
    assert found.summary()["recipes"] == 4
    text = "\n".join(say(found))
    assert "Invented lentil bowl" in text
    assert "19296" in text
    assert found.exit_code == (5 if len(found.flips) else 0)
    written = write_drift(found, tmp_path / "out")
    page = (tmp_path / "out" / "drift.html").read_text(encoding="utf-8")
    assert len(written) == 5
    assert "<script" not in page
    assert "http:" not in page.replace("http-equiv", "")
    assert "Oil, olive" in page
    text = re.sub(r"<[^>]+>", " ", page.split("</style>")[1])
    for raw in ("kcal_", "protein_g", "_g ", "change_pct", "sr_legacy", "verdict_before"):
        assert raw not in text, raw
    assert "470 kcal" in text.replace("\u00a0", " ")  # what is stated
    links = set(re.findall(r'href="([^#"]+)"', page))
    pages = ("invented-lentil-bowl", "lentil-jar", "lentil-pan")
    assert links == {"report.html", *(f"pages/{name}.html" for name in pages)}
    for link in links:
        assert (tmp_path / "out" / link).is_file()
    if len(found.flips):
        assert "Per serving: " in text  # the new numbers, ready to publish


def test_nothing_moved_is_said_in_one_line(found: Drift, place: Path, tmp_path: Path) -> None:
    home, collection = place / "home", place / "collection"
    same = drift([collection], from_=live(home).snapshot_id, to=live(home).snapshot_id, home=home)
    assert same.nothing or len(same.decisions)
    assert len(same.foods) == len(same.recipes) == len(same.lines) == 0
    assert same.exit_code == 0
    (tmp_path / "none.csv").write_text("text,food_id\n", encoding="utf-8")
    again = drift(
        [collection], from_=live(home).snapshot_id, to=live(home).snapshot_id, home=home,
        decisions=tmp_path / "none.csv",
    )  # fmt: skip
    assert len(say(again)) == 1
    write_drift(again, tmp_path / "none")
    assert "Nothing" in (tmp_path / "none" / "drift.html").read_text(encoding="utf-8")


def test_one_snapshot_cannot_drift(home: Path, tmp_path: Path) -> None:
    with pytest.raises(SteelyardError) as fault:
        drift([tmp_path], home=home)
    assert fault.value.problem.code == "drift-one-snapshot"


def test_the_other_way_round_has_the_opposite_sign(found: Drift, place: Path) -> None:
    home, collection = place / "home", place / "collection"
    use(found.before.snapshot_id, home)
    back = drift([collection], from_=found.after.snapshot_id, home=home)
    forth = found.recipes.set_index(["recipe_id", "nutrient"])["change"].dropna()
    turned = back.recipes.set_index(["recipe_id", "nutrient"])["change"].dropna()
    assert turned.to_dict() == pytest.approx({k: -v for k, v in forth.to_dict().items()})


def test_totals_move_on_the_basis_that_is_stated(found: Drift, tmp_path: Path) -> None:
    """Numbers per 100 g and of the whole move too, and are said to be such."""
    moved = found.recipes[found.recipes["nutrient"] == "kcal"].set_index("title")
    assert moved["basis"].to_dict() == {
        "Invented lentil bowl": "per_serving", "Lentil jar": "per_100g", "Lentil pan": "per_recipe",
    }  # fmt: skip
    jar, pan = moved["before"]["Lentil jar"], moved["before"]["Lentil pan"]
    assert pan == pytest.approx(3.5 * jar)
    said = "\n".join(say(found))
    assert "kcal per 100 g" in said
    assert "kcal for the whole recipe" in said
    write_drift(found, tmp_path)
    page = (tmp_path / "drift.html").read_text(encoding="utf-8")
    assert "Lentil jar (per 100 g)" in page
    assert "under 1" not in page.split('id="moved"')[1].split("</section>")[0]


def test_recipes_sql_on_rows_worked_by_hand() -> None:
    """Totals a (moved), b (rounding only), c (gone); verdict of a flips."""
    con = duckdb.connect()
    for name, rows in (
        ("total_before", "('a','A','f','per_100g','kcal',100.0),('b','B','f','per_100g','kcal',100.0),('c','C','f','per_100g','kcal',5.0)"),
        ("total_after", "('a','A','f','per_100g','kcal',110.0),('b','B','f','per_100g','kcal',100.01),('c','C','f','per_100g','kcal',null)"),
    ):  # fmt: skip
        con.execute(f"create table {name} as select * from (values {rows}) "
                    "as t(recipe_id, title, source, basis, nutrient, computed)")  # fmt: skip
    for name, rows in (
        ("verdict_before", "('a','','agrees'),('a','kcal','agrees'),('b','','agrees')"),
        ("verdict_after", "('a','','disagrees'),('a','kcal','disagrees'),('b','','agrees')"),
    ):
        con.execute(f"create table {name} as select * from (values {rows}) "
                    "as t(recipe_id, nutrient, verdict)")  # fmt: skip
    got = con.execute(sql("drift_recipes"), {"least": 0.0005}).fetchall()
    short = [(r[0], r[4], *r[7:12]) for r in got]
    assert {r[3] for r in got} == {"per_100g"}
    assert short == [
        ("a", "kcal", 10.0, 10.0, "agrees", "disagrees", True),
        ("a", "", None, None, "agrees", "disagrees", True),
        ("c", "kcal", None, None, "", "", False),
    ]
