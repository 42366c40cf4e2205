"""The pantry: label foods read, checked, written safely."""

from __future__ import annotations

import threading
from pathlib import Path

import pytest

from pipeline.memory import load_pantry, save_pantry_food
from pipeline.memory.pantry import beyond_any_food, check_values

GOOD = "food_name,aliases,serving_name,serving_g,kcal,protein_g,carbs_g,fat_g,fiber_g\n"


def write(path: Path, text: str, encoding: str = "utf-8") -> Path:
    path.write_bytes(text.encode(encoding))
    return path


def test_values_come_out_per_100_g_and_missing_ones_stay_missing(tmp_path: Path) -> None:
    path = write(
        tmp_path / "pantry.csv",
        GOOD + "Quay pea powder,pea powder;pea,1 scoop,30,117,24,2.1,1.5,\n",
    )
    pantry, problems = load_pantry(path)
    food = pantry.by_id["pantry:quay-pea-powder"]
    assert not problems
    assert food.aliases == ("pea powder", "pea")
    assert food.per_100g["ENERC_KCAL"] == pytest.approx(390)
    assert food.per_100g["PROCNT"] == pytest.approx(80)
    assert "FIBTG" not in food.per_100g


def test_semicolons_decimal_commas_and_windows_text_are_read(tmp_path: Path) -> None:
    path = write(
        tmp_path / "pantry.csv",
        "food_name;serving_g;kcal;protein_g;carbs_g;fat_g\nPâté du quai;12,5;40;1,5;0,5;3,6\n", "cp1252",
    )  # fmt: skip
    pantry, problems = load_pantry(path)
    assert [p.code for p in problems] == ["not-utf-8"]
    assert pantry.foods[0].serving_g == 12.5
    assert pantry.foods[0].per_100g["FAT"] == pytest.approx(28.8)


@pytest.mark.parametrize(
    ("row", "code"),
    [
        ("Bar,,,45,,10,20,5,\n", "pantry-row-incomplete"),
        ("Bar,,,nought,180,10,20,5,\n", "pantry-value-unreadable"),
        ("Bar,,,0,180,10,20,5,\n", "pantry-value-unreadable"),
        ("Bar,,,45,-180,10,20,5,\n", "pantry-value-unreadable"),
        ("Bar,,,45,inf,10,20,5,\n", "pantry-value-unreadable"),
        ("Bar,,,45,900,10,20,5,\n", "pantry-value-impossible"),
        ("Bar,,,45,300,10,20,5,\n", "pantry-values-doubtful"),
        ("Bar,,,20,140,10,20,5,\n", "pantry-value-impossible"),
        ("Bar,,,100,1900,1,1,210,\n", "pantry-value-impossible"),
        ("Bar,,,100,1100,5,5,80,\n", "pantry-value-impossible"),
    ],
)
def test_a_bad_row_is_told_and_the_rest_stands(tmp_path: Path, row: str, code: str) -> None:
    path = write(tmp_path / "pantry.csv", GOOD + row + "Fine,,,50,200,10,20,9,\n")
    pantry, problems = load_pantry(path)
    assert code in [p.code for p in problems]
    assert problems[0].source_line == 2
    assert "pantry:fine" in pantry.by_id


@pytest.mark.parametrize(
    ("row", "serving_g"),
    [
        ({"kcal": 10, "protein_g": 0, "carbs_g": 1, "fat_g": 1}, 1.0),  # a pinch, all rounded up
        ({"kcal": 120, "fat_g": 14}, 13.5),  # a spoon of oil
        ({"kcal": 900, "protein_g": 0, "carbs_g": 0, "fat_g": 100}, 100.0),
        ({"sodium_mg": 590}, 1.5),  # salt
        ({"kcal": 3, "protein_g": 1, "carbs_g": 1, "fat_g": 1}, 2.0),
    ],
)
def test_what_a_label_may_say_of_pure_or_small_servings_is_no_fault(
    row: dict[str, float], serving_g: float
) -> None:
    assert not beyond_any_food(row, serving_g)


@pytest.mark.parametrize(
    ("row", "serving_g"),
    [({"fat_g": 210.0}, 100.0), ({"kcal": 1000.0}, 100.0), ({"sodium_mg": 200_000.0}, 100.0),
     ({"protein_g": 60.0, "carbs_g": 60.0}, 100.0)],
)  # fmt: skip
def test_more_than_the_serving_holds_cannot_be(row: dict[str, float], serving_g: float) -> None:
    assert beyond_any_food(row, serving_g)


def test_binary_and_bombs_are_one_problem(tmp_path: Path) -> None:
    for name, raw in (
        ("pantry.csv", b"\0\1\2"),
        ("pantry.yaml", b"a: &a [x]\nb: *a\n"),
        ("p.yaml", b"{{{"),
    ):
        pantry, problems = load_pantry(write(tmp_path / name, raw.decode("latin-1"), "latin-1"))
        assert not pantry.foods
        assert [p.code for p in problems] == ["file-unreadable"]


def test_yaml_pantry(tmp_path: Path) -> None:
    path = write(
        tmp_path / "pantry.yaml",
        "foods:\n  - food_name: Harbour crackers\n    aliases: [crackers]\n    serving_g: 10\n    kcal: 43\n",
    )
    assert load_pantry(path)[0].foods[0].aliases == ("crackers",)


def test_label_energy_accepts_both_fibre_conventions_and_flags_nonsense() -> None:
    us = {"kcal": 110, "protein_g": 3, "carbs_g": 20, "fat_g": 2, "fiber_g": 5}
    eu = {"kcal": 120, "protein_g": 3, "carbs_g": 20, "fat_g": 2, "fiber_g": 5}
    assert check_values(us, 30) == []
    assert check_values(eu, 30) == []
    assert check_values({**us, "kcal": 250}, 30)
    assert check_values({**us, "sugar_g": 25}, 30)


def test_saving_keeps_other_rows_and_replaces_the_same_name(tmp_path: Path) -> None:
    path = tmp_path / "pantry.csv"
    save_pantry_food(path, {"food_name": "A", "serving_g": "10", "kcal": "40"})
    save_pantry_food(path, {"food_name": "B", "serving_g": "10", "kcal": "30"})
    save_pantry_food(path, {"food_name": "a", "serving_g": "20", "kcal": "90"})
    pantry, problems = load_pantry(path)
    assert not problems
    assert sorted(pantry.by_id) == ["pantry:a", "pantry:b"]
    assert pantry.by_id["pantry:a"].serving_g == 20


def test_two_writers_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "pantry.csv"

    def add(start: int) -> None:
        for n in range(start, start + 10):
            save_pantry_food(path, {"food_name": f"food {n}", "serving_g": "10", "kcal": "40"})

    threads = [threading.Thread(target=add, args=(s,)) for s in (0, 100)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert len(load_pantry(path)[0].foods) == 20


def test_a_value_that_cannot_be_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    path = tmp_path / "pantry.csv"
    with pytest.raises(ValueError, match="serving_g"):
        save_pantry_food(path, {"food_name": "A", "kcal": "40"})
    assert not path.exists()
