"""A bulk run says what a plain run says, however the collection is cut and whoever does the work."""

from __future__ import annotations

import gc
import json
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pytest
from bulk_cases import rows, write

from pipeline.bulk import schedule, source, tasks
from pipeline.bulk.pool import workers
from pipeline.bulk.schedule import verify_bulk
from pipeline.bulk.source import should_stream
from pipeline.bulk.store import Store
from pipeline.compute.convention import Convention
from pipeline.intake import read_collection
from pipeline.kept import SELDOM
from pipeline.report.tables import LAYOUT, tables
from pipeline.resources import ROOT
from pipeline.run import verify


def in_bulk(folder: Path, name: str) -> pd.DataFrame:
    """One table of a bulk run."""
    with duckdb.connect() as con:
        return con.execute(
            f"select * from read_parquet('{folder}/{name}/*.parquet', union_by_name = true)"
        ).df()


def same(one: pd.DataFrame, other: pd.DataFrame, keys: list[str]) -> None:
    """Equal in all but the order of rows."""
    other = other[list(one.columns)]
    made = [
        f.astype(object).where(f.notna(), None).sort_values(keys, ignore_index=True)
        for f in (one, other)
    ]
    pd.testing.assert_frame_equal(*made, check_dtype=False, rtol=1e-9)


RECIPES = 40
KEYS = {
    "recipes": ["recipe_id"], "findings": ["recipe_id", "nutrient"],
    "lines": ["recipe_id", "line_no"], "explanations": ["recipe_id", "rank"],
    "to_review": ["recipe_id", "line_no"], "corrected": ["recipe_id", "basis"],
    "claims": ["recipe_id", "claim", "jurisdiction"], "habits": ["key"],
    "problems": ["code", "recipe_id", "line_no", "what"],
}  # fmt: skip


#: Where the recipes of one collection stand, in every streamed form; of two forms a file is cut.
FORMS = {"tidy": (0, 20), "wide": (20, 28), "parquet": (28, 36), "jsonl": (36, 56)}


@pytest.fixture(scope="module")
def both(tmp_path_factory, snapshot):
    """The same collection through the plain run and through the bulk run."""
    folder = tmp_path_factory.mktemp("both")
    drawn = rows(56)
    for form, (first, end) in FORMS.items():
        write(form, drawn[first:end], folder / "in" / form)
    bulk = verify_bulk(folder / "in", folder / "out", part_recipes=12, workers=1, small_bytes=0)
    return verify(folder / "in"), bulk


@pytest.mark.parametrize("name", list(LAYOUT))
def test_every_table_is_the_same(both, name):
    plain, bulk = both
    expected = next(t.frame for t in tables(plain) if t.name == name)
    got = in_bulk(Path(bulk.folder), name)
    if expected.empty:
        assert got.empty
        return
    if "source_line" in expected:
        # a recipe on one line stands on that line; the plain run looks its strings up in the text
        of_json = plain.recipes.loc[plain.recipes["source"].str.endswith(".jsonl"), "recipe_id"]
        ours, theirs = (f["recipe_id"].isin(of_json) for f in (expected, got))
        assert got.loc[theirs, "source_line"].dropna().between(1, 20).all()
        expected = expected.assign(source_line=expected["source_line"].mask(ours))
        got = got.assign(source_line=got["source_line"].mask(theirs))
    same(expected, got, KEYS[name])


def test_it_was_really_cut_and_recipes_of_other_parts_were_used(both):
    plain, bulk = both
    assert bulk.parts == 6
    used = plain.lines[plain.lines["origin"] == "recipe"]
    assert used["recipe_id"].nunique() > 3
    assert set(used["food_id"]) == {"recipe:r5", "recipe:r17"}
    assert bulk.verdicts == plain.counts()
    assert bulk.recipes == len(plain.recipes)


@pytest.mark.parametrize("text", ["", "id,title,servings,line,kcal\n", "\n\n\n"])
def test_nothing_to_read_is_told_and_is_no_fault(tmp_path, snapshot, text):
    (tmp_path / "in").mkdir()
    if text:
        (tmp_path / "in" / "empty.csv").write_text(text)
    done = verify_bulk(tmp_path / "in", tmp_path / "out", workers=1, small_bytes=0, csv=True)
    assert (done.recipes, done.lines, done.texts) == (0, 0, 0)
    assert sum(done.problems.values()) == 1
    assert (tmp_path / "out" / "bulk" / "report.html").is_file()


@pytest.mark.soak
def test_other_encodings_quoted_breaks_and_bad_rows(tmp_path, snapshot):
    """What a spreadsheet of another country writes comes out as in a plain run."""
    head = "title;servings;ingredients;kcal\n"
    body = 'Crème;2;"100 g rice\n50 g purée of peas";200\nbad;"1;2\nTorte;4;"200 g Butter";900\n'
    for name, encoding, ending in (
        ("one", "cp1252", "\n"),
        ("two", "utf-16", "\n"),
        ("one", "utf-8", "\r\n"),
    ):
        (tmp_path / name).mkdir(exist_ok=True)
        text = (head + body.replace('bad;"1;2\n', "")).replace("\n", ending)
        (tmp_path / name / f"{encoding}.csv").write_bytes(text.encode(encoding))
    for name, parts in (("one", 9), ("two", 1)):
        plain = verify(tmp_path / name)
        bulk = verify_bulk(
            tmp_path / name, tmp_path / "out", workers=1, small_bytes=0, part_recipes=parts
        )
        keys = ["recipe_id", "text", "source_line"]
        got = in_bulk(Path(bulk.folder), "lines")[keys].astype(object)
        same(plain.lines[keys].astype(object), got, keys)
        assert bulk.verdicts == plain.counts()
        assert bulk.problems.get("not-utf-8", 0) == (name == "one")


def test_lines_of_json_that_are_none_are_told_with_their_line(tmp_path, snapshot):
    good = json.dumps({"title": "A", "servings": "1", "ingredients": ["100 g rice"]})
    path = tmp_path / "some.jsonl"
    path.write_text(f"{good}\n\n{{broken\n[1, 2]\n{good.replace('A', 'B')}\n")
    done = verify_bulk(path, tmp_path / "out", workers=1, small_bytes=0)
    problems = in_bulk(tmp_path / "out" / "bulk", "problems").set_index("code")["source_line"]
    assert done.recipes == 2
    assert problems["json-invalid"] == 3
    assert problems["no-recipe"] == 4


def test_only_large_tables_are_streamed_unasked(tmp_path, monkeypatch):
    small, large = tmp_path / "small.csv", tmp_path / "large.jsonl"
    small.write_text("title,line\nA,1 egg\n")
    assert not should_stream(small)
    assert not should_stream([tmp_path, "-", tmp_path / "missing"])
    line = json.dumps({"title": "A", "ingredients": ["1 egg"]}) + "\n"
    large.write_text(line * 110_000)
    assert should_stream(large)
    assert should_stream(tmp_path)
    monkeypatch.setattr(source, "STREAM_RECIPES", 200_000)
    assert not should_stream(large)
    monkeypatch.setattr(source, "STREAM_BYTES", 1_000_000)
    assert should_stream(large)


def test_results_beside_the_recipes_are_not_taken_for_recipes(tmp_path, snapshot):
    write("wide", rows(4), tmp_path)
    for _ in range(2):
        done = verify_bulk(tmp_path, tmp_path / "checked", workers=1)
        assert done.recipes == 4
    assert len(read_collection(tmp_path).recipe) == 4


def test_cards_beside_a_spoken_script_stand_for_it(tmp_path, snapshot):
    from pipeline.intake.spoken.cards import cards_path
    from pipeline.publish.script_cards import write_out

    folder = tmp_path / "galley"
    folder.mkdir()
    script = folder / "talk.srt"
    script.write_bytes((ROOT / "tests" / "intake" / "scripts" / "muffins.srt").read_bytes())
    cards = write_out(read_collection(folder), script.name)
    cards_path(script).write_text(cards, encoding="utf-8")
    whole = read_collection(folder)
    done = verify_bulk(folder, tmp_path / "out", workers=1)
    found = in_bulk(Path(done.folder), "recipes")
    assert sorted(found["recipe_id"]) == sorted(whole.recipe["recipe_id"])
    assert set(found["source"]) == {cards_path(script).name}
    assert "talk.srt" in set(found["recipe_id"])


def test_all_parts_take_the_convention_that_the_first_settles(tmp_path, monkeypatch):
    available = Convention(carbohydrate="available")
    monkeypatch.setattr(tasks, "PATIENCE", 0.0)
    work = Store(str(tmp_path))
    with pytest.raises(tasks._NotAgreed):
        tasks._agreed(work, 1, _nobody)
    assert tasks._agreed(work, 0, lambda: available) == available
    assert tasks._agreed(work, 1, _nobody) == available


def _nobody() -> Convention:
    raise AssertionError("the first part alone looks at its recipes")


@pytest.mark.soak
def test_a_part_that_waited_in_vain_is_judged_later(tmp_path, monkeypatch, snapshot):
    path = write("jsonl", rows(RECIPES), tmp_path / "in")
    judged: list[int] = []

    def gives_back_once(job: Any, part: int) -> dict[str, Any] | None:
        judged.append(part)
        return None if part == 1 and judged.count(1) == 1 else tasks.judge_part(job, part)

    monkeypatch.setattr(schedule, "judge_part", gives_back_once)
    done = verify_bulk(path, tmp_path / "out", part_recipes=15, workers=1, small_bytes=0)
    assert judged == [0, 1, 2, 3, 1]
    assert done.recipes == RECIPES


def test_one_worker_leaves_the_search_for_cycles_as_its_caller_set_it() -> None:
    before = gc.get_threshold()
    with workers(1, ""):
        assert gc.get_threshold() == SELDOM != before
    assert gc.get_threshold() == before


def test_a_table_read_by_its_content_is_read_by_both_doors(tmp_path, snapshot):
    path = tmp_path / "in" / "sheet.csv"
    path.parent.mkdir()
    path.write_text(
        "Nr;What we cook;Feeds;Bits that go in;kcals pp\n"
        '1;Ridge stew;4;"500 g beef mince\n2 onions\nsalt";410\n'
        '2;Gully slaw;6;"½ white cabbage\n3 carrots\n4 tbsp mayonnaise";120\n',
        encoding="utf-8",
    )
    bulk = verify_bulk(path, tmp_path / "out", workers=1, small_bytes=0)
    plain = verify(path)
    assert len(plain.recipes) == 2
    for table in tables(plain):
        if table.name in ("recipes", "lines", "problems"):
            same(table.frame, in_bulk(Path(bulk.folder), table.name), KEYS[table.name])
