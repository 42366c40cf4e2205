"""The worked examples of docs/adding.md, run as they stand there."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import duckdb
import pytest

from pipeline.lines import parse
from pipeline.match.build import build_index
from pipeline.match.index import Index
from pipeline.match.knowledge import load_knowledge
from pipeline.match.matcher import Matcher
from pipeline.refresh.national import read_mapping
from pipeline.resources import ROOT, shared_path
from pipeline.run import verify
from pipeline.snapshot.builder import load_tables

PAGE = (ROOT / "docs" / "adding.md").read_text(encoding="utf-8")


def example(name: str) -> str:
    """The block of the page that is marked with a name."""
    (found,) = re.findall(rf"^```{name}\n(.*?)^```", PAGE, re.MULTILINE | re.DOTALL)
    return str(found)


def function(name: str, block: str) -> Any:
    """A function that a block defines."""
    space: dict[str, Any] = {}
    exec(example(block), space)
    return space[name]


@pytest.fixture(scope="module")
def matcher(index: Index, tmp_path_factory: pytest.TempPathFactory) -> Matcher:
    """Over the words files with the word and the concept of the page added."""
    folder = tmp_path_factory.mktemp("shared")
    shutil.copytree(shared_path("words"), folder / "words")
    shutil.copyfile(shared_path("spelling_variants.csv"), folder / "spelling_variants.csv")
    path = folder / "words" / "en.csv"
    with path.open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    known, new = example("words").strip().split(" -> ")
    for row in rows:
        if known in row["words"].split(";"):
            row["words"] += f";{new}"
    (cells,) = csv.reader([example("concept").strip()])
    rows.append(dict(zip(rows[0], cells, strict=True)))
    with path.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.DictWriter(handle, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return Matcher(build_index(index.foods, load_knowledge(folder)))


@pytest.mark.soak
def test_the_word_finds_the_food_of_its_row(matcher: Matcher, index: Index) -> None:
    known, new = example("words").strip().split(" -> ")
    meant = matcher.match_one(parse(f"100 g {known}s"))
    found = matcher.match_one(parse(f"100 g {new}s"))
    assert meant.food_id is not None
    assert found.food_id == meant.food_id
    assert Matcher(index).match_one(parse(f"100 g {new}s")).confidence < found.confidence


def test_the_concept_finds_the_food_that_its_words_describe(matcher: Matcher, index: Index) -> None:
    names, concept, *_ = example("concept").split(",")
    for name in names.split(";"):
        found = matcher.match_one(parse(f"30 g {name}s"))
        assert found.food_id is not None
        described = index.foods.descriptions[index.foods.ids.index(found.food_id)].lower()
        assert all(word in described for word in concept.split()), described


def test_the_table_loads_and_means_what_its_mapping_says(tmp_path: Path) -> None:
    (tmp_path / "quay.csv").write_text(example("table"), encoding="utf-8")
    (tmp_path / "quay.toml").write_text(example("mapping"), encoding="utf-8")
    with duckdb.connect() as con:
        load_tables(con, [read_mapping(tmp_path / "quay.toml")])
        rows = con.sql(
            "select food_id, kcal, protein_g, carbs_g from food join food_macros using (food_id) "
            "order by food_id"
        ).fetchall()
    assert rows == [
        ("quay:Q1", pytest.approx(950 / 4.184), 7.1, 45.0),
        ("quay:Q2", pytest.approx(3060 / 4.184), 0.6, 0.0),  # a trace counts as none
    ]


def test_the_reader_gives_recipes_and_tells_what_it_could_not_read() -> None:
    read = function("read_log", "reader")(example("log"), "pilot.log")
    (recipe,) = read.recipes
    assert recipe.title == "Pilot soup"
    assert [(line.text, line.source_line) for line in recipe.lines] == [
        ("200 g split peas", 2), ("1 onion", 4)
    ]  # fmt: skip
    assert [(p.code, p.source_line) for p in read.problems] == [("log-line-unread", 3)]


def test_the_output_has_a_line_a_recipe(snapshot: object, tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text(
        "Pilot rice\nServes 1\n\n100 g white rice\n\nPer serving: 365 kcal\n", encoding="utf-8"
    )
    assert function("render", "output")(verify(tmp_path / "a.txt")) == "agrees: Pilot rice\n"


@pytest.mark.parametrize("commit", re.findall(r"`([0-9a-f]{7})`", PAGE))
def test_a_commit_named_is_there(commit: str) -> None:
    if not (ROOT / ".git").exists() or shutil.which("git") is None:
        pytest.skip("no history beside this copy")
    git = ["git", "-C", str(ROOT)]
    shallow = subprocess.run(
        [*git, "rev-parse", "--is-shallow-repository"], check=False, capture_output=True, text=True
    )
    if shallow.stdout.strip() != "false":
        pytest.skip("the history is cut short here")
    found = subprocess.run([*git, "cat-file", "-e", f"{commit}^{{commit}}"], check=False)
    assert found.returncode == 0
