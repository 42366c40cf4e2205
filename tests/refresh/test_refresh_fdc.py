"""FoodData Central bundles: the embedded table laid out as one must come back as it was."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import duckdb
import pytest
from fdc_layout import write_bundle

from pipeline.problems import SteelyardError
from pipeline.refresh.fdc import FdcBundle
from pipeline.snapshot import Snapshot
from pipeline.snapshot.builder import load_tables
from pipeline.snapshot.sources import Sr28

FRUIT = "category = 'Fruits and Fruit Juices'"


def loaded(folder: Path, *kinds: str, base: bool = False) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    bundle = FdcBundle(folder, kinds, "2026-04-30", "0" * 64)
    load_tables(con, [bundle, *([Sr28()] if base else [])])
    return con


def rewrite(path: Path, change) -> None:
    """Change the rows of a CSV file in place; ``change`` gets and returns a dict, or None."""
    with path.open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    kept = [row for row in (change(dict(row)) for row in rows) if row is not None]
    with path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, list(kept[0]), quoting=csv.QUOTE_ALL, lineterminator="\n")
        writer.writeheader()
        writer.writerows(kept)


@pytest.fixture(scope="module")
def fruit(published: Snapshot, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Fruit as a Foundation release."""
    folder = tmp_path_factory.mktemp("fruit") / "b"
    return write_bundle(published.path, folder, kinds=("foundation",), foods=FRUIT)


@pytest.fixture
def foundation(fruit: Path, tmp_path: Path) -> Path:
    """A copy of it, to edit."""
    return shutil.copytree(fruit, tmp_path / "b")


def test_sr_legacy_comes_back_value_by_value(published: Snapshot, tmp_path: Path) -> None:
    folder = write_bundle(published.path, tmp_path / "b", kinds=("sr_legacy",))
    con = loaded(folder, "sr_legacy")
    con.execute(f"attach '{published.path}' as old (read_only)")
    differing = con.sql(
        "select count(*) from food_nutrient as new full join old.food_nutrient as old "
        "using (food_id, nutrient) where new.amount_per_100g is distinct from old.amount_per_100g"
    ).fetchall()
    assert differing == [(0,)]
    described = con.sql(
        "select count(*) from food as new join old.food as old using (food_id) where "
        "(new.description, new.category, new.survey, new.protein_factor, new.refuse) is not "
        "distinct from (regexp_replace(old.description, '\\s+', ' ', 'g'), old.category, old.survey, old.protein_factor, old.refuse)"
    ).fetchall()
    assert described == [(8789,)]
    assert con.sql("select distinct source from food").fetchall() == [("sr_legacy",)]


def test_every_data_type_and_the_base_in_one_snapshot(published: Snapshot, tmp_path: Path) -> None:
    folder = write_bundle(published.path, tmp_path / "b", foods=FRUIT)
    con = loaded(folder, "foundation", "sr_legacy", "survey", "branded", base=True)
    rows = con.sql(
        "select source, count(*), min(food_id) from food group by 1 order by 1"
    ).fetchall()
    assert rows == [
        ("branded", 360, "branded:909001000000"),
        ("fndds", 360, "fndds:10900100"),
        ("foundation", 360, "foundation:09001"),
        ("sr28", 8789 - 360, "sr28:01001"),
        ("sr_legacy", 360, "sr28:09001"),  # SR Legacy keeps SR numbers; the preferred source wins
    ]
    assert con.sql("select count(*), count(distinct food_id) from food").fetchall() == [
        (8789 + 3 * 360,) * 2
    ]
    assert con.sql(
        "select count(*) from (select food_id, nutrient from food_nutrient group by all "
        "having count(*) > 1)"
    ).fetchall() == [(0,)]
    texts = con.sql(
        "select unit, amount, grams from measure where food_id = 'foundation:09003' "
        "and size = 'medium'"
    ).fetchall()
    assert texts == [("piece", 1.0, 182.0)]
    assert con.sql(
        "select count(*) from measure where qualifier ilike '%not specified%' "
        "or unit ilike '%not specified%'"
    ).fetchall() == [(0,)]


def test_branded_is_loaded_only_when_asked(published: Snapshot, tmp_path: Path) -> None:
    folder = write_bundle(
        published.path, tmp_path / "b", kinds=("foundation", "branded"), foods=FRUIT
    )
    con = loaded(folder, "foundation")
    assert con.sql("select distinct source from food").fetchall() == [("foundation",)]


def test_samples_and_superseded_rows_are_no_foods(foundation: Path) -> None:
    with (foundation / "food.csv").open("a", encoding="utf-8") as handle:
        handle.write('"7","foundation_food","Apples, superseded","1","2020-01-01"\n')
    con = loaded(foundation, "foundation")
    assert con.sql("select count(*) from food").fetchall() == [(360,)]


def test_the_latest_release_of_a_code_wins(foundation: Path) -> None:
    for name, line in (
        ("food", '"7","foundation_food","Apple of last year","1","2025-04-24"\n'
                 '"8","foundation_food","Apple of tomorrow","1","2027-04-24"\n'),
        ("foundation_food", '"7","9003",""\n"8","9003",""\n'),
    ):  # fmt: skip
        with (foundation / f"{name}.csv").open("a", encoding="utf-8") as handle:
            handle.write(line)
    con = loaded(foundation, "foundation")
    found = con.sql("select description from food where source_code = '09003'").fetchall()
    assert found == [("Apple of tomorrow",)]


@pytest.mark.parametrize(
    ("given", "kcal", "says"),
    [
        ({"1008": 52, "2048": 60, "2047": 70}, 52, ""),
        ({"2048": 60, "2047": 70}, 60, "2048"),
        ({"2047": 70}, 70, "2047"),
        ({"1062": 209.2}, 50, "kJ"),
        ({}, 52.01, "own Atwater factors"),
        ({"208": 55}, 55, ""),  # the number in place of the id, as some full releases have it
    ],
)
def test_energy_stands_under_several_nutrients_or_none(
    foundation: Path, given: dict[str, float], kcal: float, says: str
) -> None:
    with (foundation / "foundation_food.csv").open(encoding="utf-8", newline="") as handle:
        apple = next(r["fdc_id"] for r in csv.DictReader(handle) if r["NDB_number"] == "9003")

    def without(row: dict[str, str]) -> dict[str, str] | None:
        return None if row["fdc_id"] == apple and row["nutrient_id"] == "1008" else row

    rewrite(foundation / "food_nutrient.csv", without)
    with (foundation / "food_nutrient.csv").open("a", encoding="utf-8") as handle:
        for nutrient, amount in given.items():
            handle.write(f'"1","{apple}","{nutrient}","{amount}"' + ',""' * 7 + "\n")
    con = loaded(foundation, "foundation")
    row = con.sql(
        "select kcal, energy_from from food join food_macros using (food_id) "
        "where source_code = '09003'"
    ).fetchall()[0]
    assert row[0] == pytest.approx(kcal, abs=0.01)
    assert says in row[1]
    assert bool(row[1]) == bool(says)


def test_carbohydrate_and_energy_are_computed_where_they_can_be(foundation: Path) -> None:
    with (foundation / "foundation_food.csv").open(encoding="utf-8", newline="") as handle:
        ids = {r["NDB_number"]: r["fdc_id"] for r in csv.DictReader(handle)}
    drop = {(ids["9040"], "1005"), (ids["9040"], "1008"), (ids["9037"], "1005"),
            (ids["9037"], "1008"), (ids["9037"], "1007")}  # fmt: skip
    rewrite(
        foundation / "food_nutrient.csv",
        lambda row: None if (row["fdc_id"], row["nutrient_id"]) in drop else row,
    )
    con = loaded(foundation, "foundation")
    banana = con.sql("select carbs_g, kcal from food_macros where food_id = 'foundation:09040'")
    assert banana.fetchall() == [(pytest.approx(22.84, abs=0.02), pytest.approx(88.65, abs=0.1))]
    told = con.sql(
        "select derivation from food_nutrient where food_id = 'foundation:09040' "
        "and nutrient = 'CHOCDF'"
    ).fetchall()
    assert "computed here" in told[0][0]
    avocado = con.sql("select carbs_g, kcal from food_macros where food_id = 'foundation:09037'")
    assert avocado.fetchall() == [(None, None)]  # ash unknown too: nothing is guessed


def test_pure_oil_without_protein_gets_an_energy(foundation: Path) -> None:
    rewrite(
        foundation / "food_nutrient.csv",
        lambda row: (
            None if row["fdc_id"] == "100001" and row["nutrient_id"] not in ("1079",) else row
        ),
    )
    with (foundation / "food_nutrient.csv").open("a", encoding="utf-8") as handle:
        handle.write('"1","100001","1085","99.5"' + ',""' * 7 + "\n")
    con = loaded(foundation, "foundation")
    row = con.sql(
        "select fat_g, protein_g, kcal, energy_from from food join food_macros using (food_id) "
        "join (select food_id from food order by food_id limit 1) using (food_id)"
    ).fetchall()[0]
    assert row[0] == 99.5
    assert row[1] is None
    assert row[2] == pytest.approx(99.5 * 8.37, rel=0.1)
    assert "unreported macros as nothing" in row[3]


def test_columns_are_read_by_name_in_any_order_and_case(foundation: Path) -> None:
    before = loaded(foundation, "foundation").sql("select count(*), sum(kcal) from food_macros")
    expected = before.fetchall()

    def shuffled(row: dict[str, str]) -> dict[str, str]:
        turned = {f"{k.upper() if k == 'amount' else k}": row[k] for k in reversed(list(row))}
        return {"brand_new_column": "x", **turned, "loq": ""}

    rewrite(foundation / "food_nutrient.csv", shuffled)
    after = loaded(foundation, "foundation").sql("select count(*), sum(kcal) from food_macros")
    assert after.fetchall() == expected


def test_what_is_missing_is_listed_whole(foundation: Path) -> None:
    (foundation / "nutrient.csv").unlink()
    rewrite(
        foundation / "food_nutrient.csv",
        lambda row: {k: v for k, v in row.items() if k not in ("amount", "fdc_id")},
    )
    with pytest.raises(SteelyardError) as fault:
        loaded(foundation, "foundation")
    assert "nutrient.csv: no such file" in fault.value.problem.why
    assert "food_nutrient.csv: no column fdc_id, amount" in fault.value.problem.why


def test_missing_side_tables_cost_only_what_they_hold(foundation: Path) -> None:
    for name in ("food_portion", "measure_unit", "food_category", "food_calorie_conversion_factor"):
        (foundation / f"{name}.csv").unlink()
    con = loaded(foundation, "foundation")
    assert con.sql("select count(*), count(protein_factor) from food").fetchall() == [(360, 0)]


@pytest.mark.parametrize(("unit", "factor"), [("UG", 1e-3), ("G", 1e3), ("MG", 1.0)])
def test_units_are_the_bundles_own(foundation: Path, unit: str, factor: float) -> None:
    rewrite(
        foundation / "nutrient.csv",
        lambda row: {**row, "unit_name": unit} if row["id"] == "1093" else row,
    )
    con = loaded(foundation, "foundation")
    found = con.sql(
        "select sodium_mg from food_macros where food_id = 'foundation:09040'"
    ).fetchall()
    assert found == [(pytest.approx(1.0 * factor),)]


def test_repeated_rows_give_one_amount_whatever_their_order(foundation: Path) -> None:
    path = foundation / "food_nutrient.csv"
    rows = path.read_text(encoding="utf-8").splitlines(keepends=True)
    extra = [r for r in rows[1:] if ',"1003",' in r][:5]
    path.write_text(rows[0] + "".join(reversed(rows[1:] + extra)), encoding="utf-8")
    con = loaded(foundation, "foundation")
    assert con.sql("select count(*) from food_macros where protein_g is null").fetchall() == [(0,)]


def test_packs_in_millilitres_say_so(published: Snapshot, tmp_path: Path) -> None:
    folder = write_bundle(
        published.path, tmp_path / "b", kinds=("branded",), foods="category = 'Beverages'"
    )
    con = loaded(folder, "branded")
    assert con.sql("select distinct per from food").fetchall() == [("100 ml",)]
