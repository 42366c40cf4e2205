"""Corrected copies stand by themselves: judged in their folder as in the collection."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from click.testing import CliRunner

import pipeline
from pipeline.cli import app
from pipeline.publish.beside import as_toml, write_beside
from pipeline.settings import Conventions, Settings, checked

PANTRY = """\
food_name,aliases,serving_name,serving_g,kcal,protein_g,carbs_g,fat_g,fiber_g
Zoomwhey,,1 scoop,30,117,23.4,2.1,1.8,0
"""
DECISIONS = """\
text,food_id,grams,applies_to,decided_on,note
1 lump of grey matter,sr28:01001,20,line,,
1 line of nobody,sr28:01001,20,line,,
"""
SHAKE = """\
Night shake
Serves 2

2 scoops zoomwhey
400 ml semi-skimmed milk
1 lump of grey matter
200 g tower base

Per serving: 120 kcal, P 10 g, C 10 g, F 3 g
"""
BASE = "Tower base\nServes 4\n\n300 g banana\n100 g rolled oats\n\nPer serving: 161 kcal\n"
OTHER = "Plain banana\nServes 1\n\n118 g banana\n\nPer serving: 105 kcal\n"


@pytest.fixture
def collection(tmp_path: Path) -> Path:
    folder = tmp_path / "mine"
    folder.mkdir()
    for name, text in {
        "shake.txt": SHAKE, "tower.txt": BASE, "other.txt": OTHER, "pantry.csv": PANTRY,
        "decisions.csv": DECISIONS, "steelyard.toml": 'spoons = "uk"\nenergy = "atwater"\n',
    }.items():  # fmt: skip
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def test_copies_are_judged_in_their_folder_as_the_originals_would_be(
    collection: Path, tmp_path: Path
) -> None:
    before = {p: p.read_bytes() for p in collection.rglob("*") if p.is_file()}
    fixed = tmp_path / "fixed"
    for _ in range(2):  # the second time into a folder that holds them already
        arguments = ["verify", str(collection), "--write-corrected", str(fixed), "--quiet"]
        assert CliRunner().invoke(app, arguments).exit_code == 0
    assert {p: p.read_bytes() for p in before} == before
    names = {str(p.relative_to(fixed)) for p in fixed.rglob("*") if p.is_file()}
    own = {"pantry.csv", "decisions.csv", "steelyard.toml"}
    assert names == {"shake.txt", "tower.txt", *own}

    first, again = pipeline.verify(collection), pipeline.verify(fixed)
    shakes = [r.recipes.set_index("title").loc["Night shake"] for r in (first, again)]
    assert [s["verdict"] for s in shakes] == ["disagrees", "agrees"]
    assert shakes[1]["kcal_computed"] == pytest.approx(shakes[0]["kcal_computed"])
    assert again.settings.spoons == "uk"
    assert again.convention.energy == first.convention.energy == "atwater"
    assert not again.problems["code"].str.startswith("decision").any()


def test_nothing_is_laid_into_the_collection_itself(collection: Path) -> None:
    result = pipeline.verify(collection)
    before = {p: p.read_bytes() for p in collection.rglob("*") if p.is_file()}
    assert write_beside(result, result.recipes["recipe_id"], collection) == []
    assert {p: p.read_bytes() for p in collection.rglob("*") if p.is_file()} == before


def test_nothing_is_laid_beside_where_no_copy_is_made(collection: Path, tmp_path: Path) -> None:
    (collection / "shake.txt").unlink()
    fixed = tmp_path / "fixed"
    arguments = ["verify", str(collection), "--write-corrected", str(fixed)]
    assert CliRunner().invoke(app, arguments).exit_code == 0
    assert not fixed.exists()


def test_settings_are_written_as_they_are_read() -> None:
    creators = {'Ann "A" O': Conventions("available", None), "b": Conventions(None, "atwater")}
    settings = Settings("percent", 5.5, "uk", "eu", "eu", "available", creators=creators)
    assert checked(tomllib.loads(as_toml(settings))) == settings
    assert as_toml(Settings()) == ""
