"""A release is held against what it displaces: foods of the same number, and ten everyday lines."""

from __future__ import annotations

from pathlib import Path

import pytest
from fdc_layout import write_bundle
from national_tables import leave_out_everyday_lines

from pipeline.problems import SteelyardError
from pipeline.refresh import refresh
from pipeline.refresh.drift import drift
from pipeline.refresh.everyday import everyday_lines
from pipeline.resources import shared_rows
from pipeline.snapshot import Snapshot, open_snapshot

KINDS = ("foundation",)


def release(published: Snapshot, folder: Path, change: str, foods: str) -> str:
    place = folder / "FoodData_Central_foundation_food_csv_2026-04-30"
    return str(write_bundle(published.path, place, kinds=KINDS, foods=foods, change=change))


def test_ten_everyday_lines_have_answers_weights_and_energy(published: Snapshot) -> None:
    found = everyday_lines(published, published)
    assert len(found) == len(list(shared_rows("everyday_lines.csv"))) == 10
    assert found.notna().all().all()
    assert (found["kcal_ratio"] == 1).all()
    assert (found["grams_before"] > 5).all()


def refused(home: Path, published: Snapshot, folder: Path, change: str, foods: str) -> str:
    """Why a release is refused; what was live stays live."""
    with pytest.raises(SteelyardError) as fault:
        refresh(from_=release(published, folder, change, foods), home=home)
    assert fault.value.exit_code == 4
    assert open_snapshot(home).snapshot_id == published.snapshot_id
    return fault.value.problem.why


def test_a_release_that_moves_everyday_lines_is_refused_in_words(
    home: Path, published: Snapshot, tmp_path: Path
) -> None:
    # energies of two foods, too few for any other check to see
    change = "amount * if(nutrient in ('ENERC_KCAL', 'FAT') and source_code in ('01123', '08120'), 1.7, 1)"
    foods = "category in ('Dairy and Egg Products', 'Breakfast Cereals')"
    why = refused(home, published, tmp_path, change, foods)
    assert "everyday lines" in why
    assert "2 large eggs" in why


@pytest.fixture
def no_everyday_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    leave_out_everyday_lines(monkeypatch)


@pytest.mark.soak
@pytest.mark.usefixtures("no_everyday_lines")
def test_a_release_whose_energies_stand_elsewhere_is_refused(
    home: Path, published: Snapshot, tmp_path: Path
) -> None:
    why = refused(
        home, published, tmp_path, "amount * if(nutrient <> 'WATER', 1.4, 0.9)",
        "category = 'Vegetables and Vegetable Products'",
    )  # fmt: skip
    assert "three in four foods keep the energy" in why


@pytest.mark.soak
@pytest.mark.usefixtures("no_everyday_lines")
def test_what_does_not_stop_a_release_is_said(
    home: Path, published: Snapshot, tmp_path: Path
) -> None:
    change = "amount * if(nutrient = 'ENERC_KCAL' and source_code = '09003', 1.3, 1)"
    foods = "category = 'Fruits and Fruit Juices'"
    done = refresh(from_=release(published, tmp_path, change, foods), home=home)
    assert done.changed
    (told,) = [n for n in done.notes if "keeps the energy of the one it replaces" in n]
    assert "foundation:09003" in told


@pytest.mark.usefixtures("no_gate")
def test_a_food_without_energy_takes_no_place_and_its_recipe_never_disagrees(
    home: Path, published: Snapshot, tmp_path: Path
) -> None:
    from pipeline.run import verify

    change = "if(nutrient in ('ENERC_KCAL', 'FAT') and source_code = '09040', null, amount)"
    place = release(published, tmp_path, change, "category = 'Fruits and Fruit Juices'")
    beside = refresh(from_=place, home=home).snapshot
    assert beside is not None
    card = tmp_path / "a.txt"
    card.write_text("Bananas\nServes 1\n\n200 g banana\n\nPer serving: 178 kcal\n")
    assert verify(card, snapshot=beside).recipes["verdict"].tolist() == ["agrees"]
    alone = refresh(from_=place, home=home, only=True).snapshot
    assert alone is not None
    card.write_text("Bananas\nServes 1\n\n200 g banana\n100 g apple\n\nPer serving: 230 kcal\n")
    assert verify(card, snapshot=alone).recipes["verdict"].tolist()[0] in (
        "uncertain",
        "not_judged",
    )


@pytest.mark.usefixtures("no_gate")
@pytest.mark.soak
def test_a_replaced_food_is_told_with_its_values_before(
    home: Path, published: Snapshot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("STEELYARD_HOME", str(home))
    change = "amount * if(nutrient = 'ENERC_KCAL', 1.05, 1)"
    place = release(published, tmp_path, change, "category = 'Fruits and Fruit Juices'")
    refresh(from_=place, home=home)
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.txt").write_text(
        "Bananas\nServes 1\n\n200 g banana\n\nPer serving: 178 kcal\n"
    )
    found = drift([tmp_path / "in"], home=home)
    energy = found.foods[found.foods["nutrient"] == "kcal"].to_dict("records")
    assert [(r["food_id"], r["state"], r["replaces"], r["before"]) for r in energy] == [
        ("foundation:09040", "replaces", "sr28:09040", 89.0)
    ]
    assert energy[0]["after"] == pytest.approx(89 * 1.05, abs=0.01)
    assert found.foods["before"].notna().all()
