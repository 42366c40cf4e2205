"""Columns of amounts whose unit stands in their name, or in a column that has none."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from pipeline.intake import read_collection


@pytest.mark.parametrize(
    "name", ["oz", "Amount (oz)", "oz.", "weight in oz", "kg", "ml", "lbs", "g"]
)
def test_a_column_named_by_a_unit_holds_amounts_in_it(tmp_path: Path, name: str) -> None:
    rows = [f"Dish,ingredient,{name},cal,feeds", "Soup,carrots,10,120,4", "Soup,onions,8,,"]
    rows += ["Stew,beef,20,300,4", "Stew,potatoes,30,,", "Stew,onions,8,,"]
    (tmp_path / "a.csv").write_text("\n".join(rows))
    unit = name.strip(".").removeprefix("Amount (").removeprefix("weight in ").rstrip(")")
    lines = read_collection(tmp_path).line["text"].tolist()
    assert lines == [
        f"10 {unit} carrots", f"8 {unit} onions", f"20 {unit} beef", f"30 {unit} potatoes",
        f"8 {unit} onions",
    ]  # fmt: skip


def test_units_in_a_column_without_a_name_stay_with_their_amounts(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for row in [
        ("Barley in the big pot",), ("feeds", 10), (), ("what", "how much", None, "who buys"),
        ("Pearl barley", 800, "g", "shed tin"), ("Full cream milk", 2000, "ml", "Col's run"),
        ("Honey", 120, "g", "Bev's bees"), (), ("PER BOWL",), ("Cal", "Prot g", "Carb g", "Fat g"),
        (574, 18.1, 102.8, 12),
    ]:  # fmt: skip
        book.active.append(row)
    book.save(tmp_path / "a.xlsx")
    collection = read_collection(tmp_path)
    assert collection.line["text"].tolist() == [
        "800 g Pearl barley", "2000 ml Full cream milk", "120 g Honey"
    ]  # fmt: skip
    assert collection.recipe["servings"].tolist() == [10]
