"""Values that cannot be: each costs the line, row or recipe it stands in, and is told."""

from __future__ import annotations

import json
import math

import duckdb
import pytest

from pipeline import run as runs
from pipeline.memory import load_pantry
from pipeline.report import FORMATS, write
from pipeline.run import verify

GOOD = "Soup\nServes 2\n\n100 g rice\n10 g butter\n\nPer serving: 217 kcal\n"


@pytest.fixture
def good(tmp_path):
    """A folder with one good card in it."""
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "good.txt").write_text(GOOD)
    return tmp_path / "in"


def judged(result, title="Soup"):
    row = result.recipes.set_index("title").loc[title]
    return row["verdict"]


def test_half_a_character_in_json_costs_nothing_else(good, tmp_path, snapshot):
    (good / "half.json").write_text(
        '{"title": "Pie \\ud83d", "servings": 2, "creator": "\\udc00 A", "ingredients":'
        ' ["100 g rice \\ud83d", "10 g butter"], "stated": {"kcal": "217 \\ud83d"}}'
    )
    result = verify(good)
    assert judged(result) == "agrees"
    assert "Pie \ufffd" in set(result.recipes["title"])
    assert "characters-broken" in set(result.problems["code"])
    write(result, tmp_path / "out", formats=FORMATS)


ABSURD = {
    "X,1e-300,5,1,1,1": "pantry-value-impossible", "X,1e300,5,1,1,1": "pantry-value-impossible",
    "X,30,1e308,1,1,1": "pantry-value-impossible", "X,30,5,1e300,1,1": "pantry-value-impossible",
    "X,1e-320,1,1,1,1": "pantry-value-impossible", "X,nan,1,1,1,1": "pantry-value-unreadable",
    "X,inf,1,1,1,1": "pantry-value-unreadable", "X,-1,1,1,1,1": "pantry-value-unreadable",
}  # fmt: skip


def write_pantry(folder, *rows):
    lines = ["food_name,serving_g,kcal,protein_g,carbs_g,fat_g", *rows, "Oats bran,40,150,5,27,3"]
    (folder / "pantry.csv").write_text("\n".join(lines) + "\n")
    return folder / "pantry.csv"


@pytest.mark.parametrize(("row", "code"), ABSURD.items())
def test_a_pantry_row_with_absurd_values_is_left_out_and_told(tmp_path, row, code):
    pantry, problems = load_pantry(write_pantry(tmp_path, row))
    assert [food.name for food in pantry.foods] == ["Oats bran"]
    assert code in [p.code for p in problems]


def test_pantry_rows_with_absurd_values_change_no_recipe(good, snapshot):
    rows = [row.replace("X", f"X{n}") for n, row in enumerate(ABSURD)]
    write_pantry(good, *rows)
    for n in range(len(rows)):
        (good / f"x{n}.txt").write_text(
            GOOD.replace("Soup", f"Mush {n}").replace("10 g butter", f"10 g butter\n10 g X{n}")
        )
    result = verify(good)
    assert judged(result) == "agrees"
    named = result.lines[result.lines["text"].str.startswith("10 g X")]
    assert len(named) == len(rows)
    assert named["food_id"].fillna("").eq("").all()
    assert set(ABSURD.values()) <= set(result.problems["code"])


def test_servings_of_any_size_in_parquet_cost_their_recipe_alone(good, tmp_path, snapshot):
    odd = [1.7e38, -1.7e38, 1e308, 5e-324, math.inf, -math.inf, math.nan, 0.0, 2.0**63]
    with duckdb.connect() as con:
        con.execute(
            "create table made (title varchar, servings double, ingredients varchar, kcal double)"
        )
        rows = [(f"Odd {n}", n, f"{100 + at} g rice", n) for at, n in enumerate(odd)]
        con.executemany(
            "insert into made values (?, ?, ?, ?)", [*rows, ("Even", 1, "100 g rice", 360)]
        )
        con.execute(f"copy made to '{good / 'a.parquet'}' (format parquet)")
    result = verify(good)
    assert judged(result) == "agrees"
    assert judged(result, "Even") == "agrees"
    assert set(result.recipes["title"]) == {"Soup", "Even", *(title for title, *_ in rows)}
    for title, *_ in rows:
        assert judged(result, title) != "agrees", title
    write(result, tmp_path / "out", formats=FORMATS)


def test_an_unreadable_entry_keeps_a_recipe_from_being_known_in_full(good, snapshot):
    (good / "a.json").write_text(
        json.dumps({"title": "Pie", "servings": 2, "ingredients": ["100 g rice", True, 5e300]})
    )
    result = verify(good)
    assert result.recipes.set_index("title").loc["Pie", "coverage"] < 1


def test_a_line_over_which_a_stage_stumbles_costs_itself(good, snapshot, monkeypatch):
    from pipeline.match.matcher import Matcher

    match = Matcher.match

    def stumbles(self, parsed):
        if any("butter" in line.text for line in parsed):
            raise OverflowError("no such number")
        return match(self, parsed)

    monkeypatch.setattr(Matcher, "match", stumbles)
    result = verify(good)
    assert result.recipes["coverage"].tolist() < [1]
    (told,) = result.problems.loc[result.problems["code"] == "line-unreadable", "text"]
    assert told == "10 g butter"


def test_a_recipe_over_which_the_reckoning_stumbles_costs_itself(good, snapshot, monkeypatch):
    for n in range(6):
        (good / f"{n}.txt").write_text(GOOD.replace("Soup", f"Dish {n}"))
    judge = runs._judge_read

    def stumbles(collection, *more):
        if "Dish 3" in set(collection.recipe["title"]) and len(collection.stated) and (
            "3.txt" in set(collection.stated["recipe_id"])
        ):  # fmt: skip
            raise ZeroDivisionError("no such recipe")
        return judge(collection, *more)

    monkeypatch.setattr(runs, "_judge_read", stumbles)
    result = verify(good)
    verdicts = result.recipes.set_index("title")["verdict"].to_dict()
    assert verdicts.pop("Dish 3") == "not_judged"
    assert set(verdicts.values()) == {"agrees"}
    (told,) = result.problems.loc[result.problems["code"] == "recipe-not-reckoned", "recipe_id"]
    assert told == "3.txt"


def test_a_fault_that_no_recipe_is_to_blame_for_is_told_as_it_is(good, snapshot, monkeypatch):
    def fails(*_):
        raise ZeroDivisionError("even of no recipes")

    monkeypatch.setattr(runs, "_judge_read", fails)
    with pytest.raises(ZeroDivisionError, match="even of no recipes"):
        verify(good)


def test_a_fault_of_the_machine_is_no_fault_of_a_recipe(good, snapshot, monkeypatch):
    def fails(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(runs, "_judge_read", fails)
    with pytest.raises(OSError, match="No space"):
        verify(good)


def test_a_card_whose_title_begins_like_a_tag_is_a_card(good, snapshot):
    (good / "tag.txt").write_text(GOOD.replace("Soup", "<script>alert(1)</script> soup"))
    (good / "page.txt").write_text("<html><body><p>Nothing to cook</p></body></html>")
    result = verify(good)
    assert result.recipes["verdict"].tolist() == ["agrees", "agrees"]
    assert "page.txt" in set(result.problems["source"])


@pytest.mark.parametrize("text", ["profile = ", 'profile = "grobnak"', "a" * 300_000, "[[[["])
def test_settings_that_break_while_the_page_is_open_are_told_and_the_old_ones_hold(
    good, snapshot, text
):
    from pipeline.web.session import ReviewSession
    from pipeline.web.state import ReviewState

    (good / "steelyard.toml").write_text('profile = "us"')
    session = ReviewSession(ReviewState(good, snapshot=snapshot))
    try:
        (good / "steelyard.toml").write_text(text)
        session.state.refresh(now=True)
        assert session.state.settings.profile == "us"
        (told,) = [
            p for p in session.state.problems() if p.code in ("settings-invalid", "profile-unknown")
        ]
        assert "read before are in force" in told.why
        (good / "steelyard.toml").write_text('profile = "eu"')
        session.state.refresh(now=True)
        assert session.state.settings.profile == "eu"
        assert session.state.problems() == []
    finally:
        session.close()
