"""Several tables at once: preference, a table alone, foods for reference only, gaps."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from fdc_layout import write_bundle
from national_tables import ids, leave_out_everyday_lines, load_table, write_table

from pipeline.lines import parse
from pipeline.problems import SteelyardError
from pipeline.refresh import refresh
from pipeline.refresh.drift import drift
from pipeline.snapshot import Snapshot, list_snapshots, open_snapshot, show
from pipeline.weigh import Weigher


def fruits(published: Snapshot, folder: Path, name: str, change: str = "amount") -> Path:
    """SR28's fruits as an extracted release of the given name, each amount changed in SQL."""
    return write_bundle(
        published.path, folder / f"FoodData_Central_{name}", kinds=(name.split("_food_")[0],),
        foods="category = 'Fruits and Fruit Juices'", change=change,
    )  # fmt: skip


@pytest.mark.soak
def test_a_table_alone_answers_with_its_own_foods_only(harbour_alone: Snapshot) -> None:
    alone = harbour_alone
    home = alone.folder.parents[1]
    assert alone.source == "harbour"
    told = show(home)
    assert told["foods"] == list_snapshots(home)[0]["foods"] == len(ids())
    assert [(s["source"], s["reference"]) for s in told["sources"]] == [
        ("harbour", False), ("sr28", True)
    ]  # fmt: skip
    with alone.connect() as con:
        answers = con.sql("select food_id from food where not reference order by 1").fetchall()
        assert [food_id for (food_id,) in answers] == sorted(ids().values())
        rows = con.sql(
            "select source, reference, count(*), max(preference) from food group by all order by 4"
        ).fetchall()
        assert rows == [("harbour", False, len(ids()), 1), ("sr28", True, 8789, 2)]
        # Measures and composition of the reference foods are there.
        assert con.sql("select count(*) > 15000 from measure").fetchall() == [(True,)]
        assert con.sql("select kcal from food_macros where food_id = 'sr28:09040'").fetchall() == [
            (89.0,)
        ]


def test_beside_the_embedded_table_the_new_one_is_preferred(harbour_beside: Snapshot) -> None:
    both = harbour_beside
    assert both.source == "harbour, sr28"
    assert show(both.folder.parents[1])["foods"] == len(ids()) + 8789
    with both.connect() as con:
        rows = con.sql("select source, preference, reference from source order by 2").fetchall()
    assert rows == [("harbour", 1, False), ("sr28", 2, False)]


@pytest.mark.usefixtures("no_gate")
def test_a_plain_refresh_keeps_the_tables_and_their_order(home: Path, site: object) -> None:
    load_table(home, only=True)
    done = refresh(home=home, config=site.config())  # type: ignore[attr-defined]
    assert done.status == "unchanged"  # a table handed in as a file has no page to ask
    assert done.snapshot is not None
    assert done.snapshot.source == "harbour"


@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_after_an_update_of_the_program_a_refresh_brings_the_tables_back(
    home: Path, site: object
) -> None:
    before = load_table(home, only=True)
    manifest = before.folder / "manifest.json"
    told = json.loads(manifest.read_text(encoding="utf-8"))
    manifest.write_text(json.dumps({**told, "schema_version": 1}), encoding="utf-8")
    assert open_snapshot(home).source == "sr28"
    done = refresh(home=home, config=site.config())  # type: ignore[attr-defined]
    assert done.status == "published"
    assert done.snapshot is not None
    assert done.snapshot.source == "harbour"
    with done.snapshot.connect() as con:
        rows = con.sql("select source, reference from source order by preference").fetchall()
    assert rows == [("harbour", False), ("sr28", True)]


@pytest.mark.soak
def test_measures_are_asked_of_a_table_that_claims_them(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    leave_out_everyday_lines(monkeypatch)
    mapping = write_table(tmp_path / "t", portions=[("Banana raw", "1 banana", 120)])
    with load_table(home, mapping, only=True, gated=True).connect() as con:
        found = con.sql(
            "select unit, grams, source from measure where food_id like 'harbour:%'"
        ).fetchall()
    assert found == [("piece", 120.0, "harbour portions")]
    (mapping.parent / "portions.csv").write_text("code,text,grams\nnone,1 cup,200\n")
    with pytest.raises(SteelyardError) as fault:
        load_table(home, mapping, only=True, gated=True)
    assert "as many measures as expected" in fault.value.problem.what
    assert "harbour" in fault.value.problem.why


@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_energy_that_is_missing_is_computed_and_marked(home: Path, tmp_path: Path) -> None:
    mapping = write_table(
        tmp_path / "t",
        blank={"Banana raw": ["energy_kj"], "Apple peeled raw": ["energy_kj", "protein_g"],
               "Olive oil": ["fibre_g"]},
    )  # fmt: skip
    with load_table(home, mapping, only=True).connect() as con:
        rows = {
            name: values
            for name, *values in con.sql(
                "select description, complete, energy_from, kcal, protein_g, fat_g, carbs_g, "
                "fiber_g from food join food_macros using (food_id) where source = 'harbour'"
            ).fetchall()
        }
    complete, marked, kcal, protein, fat, carbs, fibre = rows["Banana raw"]
    assert complete
    assert marked == "energy computed from 4-9-4, 2 for fibre and 7 for alcohol"
    # FAO/INFOODS: protein 4, fat 9, available carbohydrate 4, fibre 2 kcal/g
    assert kcal == pytest.approx(4 * protein + 9 * fat + 4 * (carbs - fibre) + 2 * fibre)
    assert rows["Apple peeled raw"][:3] == [False, "", None]  # no protein: nothing is guessed
    assert rows["Olive oil"][0] is False  # carbohydrate is the sum of two parts, one unknown
    assert sum(not row[0] for row in rows.values()) == 2


@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_an_incomplete_food_does_not_take_the_place_of_a_complete_one(
    home: Path, published: Snapshot, tmp_path: Path
) -> None:
    folder = fruits(
        published, tmp_path, "sr_legacy_food_csv_2018-04",
        "if(source_code = '09040' and nutrient in ('ENERC_KCAL', 'FAT'), null, amount)",
    )  # fmt: skip
    both = refresh(from_=str(folder), home=home).snapshot
    assert both is not None
    with both.connect() as con:
        rows = con.sql(
            "select source, kcal, complete from food join food_macros using (food_id) "
            "where food_id in ('sr28:09040', 'sr28:09003') order by food_id"
        ).fetchall()
        assert rows == [("sr_legacy", 52.0, True), ("sr28", 89.0, True)]
        counted = con.sql("select source, foods from source order by preference").fetchall()
        assert counted == [("sr_legacy", 359), ("sr28", 8789 - 359)]
    alone = refresh(from_=str(folder), home=home, only=True).snapshot
    assert alone is not None
    with alone.connect() as con:
        rows = con.sql("select source, complete from food where food_id = 'sr28:09040'").fetchall()
        assert rows == [("sr_legacy", False)]  # alone, it is all there is


@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_a_release_without_portions_borrows_by_number(
    home: Path, published: Snapshot, tmp_path: Path
) -> None:
    folder = fruits(published, tmp_path, "foundation_food_csv_2026-04-30")
    (folder / "food_portion.csv").unlink()
    for only in (False, True):
        snapshot = refresh(from_=str(folder), home=home, only=only).snapshot
        assert snapshot is not None
        found = Weigher(snapshot).weigh_one(parse("2 medium bananas"), "foundation:09040")
        assert found.grams == 236
        assert found.reason.endswith("of Bananas, raw]")


@pytest.mark.usefixtures("no_gate")
def test_an_answer_that_is_for_reference_only_is_told_as_lost(home: Path, tmp_path: Path) -> None:
    decisions = tmp_path / "decisions.csv"
    decisions.write_text(
        "text,food_id,applies_to\n1 kettle spread,sr28:01001,line\n", encoding="utf-8"
    )
    (tmp_path / "r.txt").write_text("Toast\nServes 1\n\n1 kettle spread\n\n100 kcal\n")
    load_table(home, only=True)
    found = drift([tmp_path / "r.txt"], home=home, decisions=decisions)
    assert found.decisions["food_id"].tolist() == ["sr28:01001"]


@pytest.mark.soak
def test_the_official_foundation_release_beside_the_embedded_table(
    foundation_beside: Snapshot,
) -> None:
    snapshot = foundation_beside
    with snapshot.connect() as con:
        lacking = con.sql(
            "select count(*), count(kcal) from food join food_macros using (food_id) "
            "where source = 'foundation' and not complete"
        ).fetchall()
    assert lacking == [(30, 3)]  # salt and two butters have energy, and not all of the macros
    weigher = Weigher(snapshot)

    def grams(text: str, code: str) -> float | None:
        return weigher.weigh_one(parse(text), f"foundation:{code}").grams

    assert grams("2 large eggs", "01123") == pytest.approx(100.6)  # "large" counts once
    assert grams("2 cloves garlic", "11215") == 6  # SR28's: the release weighs no clove
    assert grams("1 cup grated carrot", "11124") == 110
    assert grams("2 large bananas", "09040") == 272
