"""The profiles a snapshot keeps are those of its own descriptions and amounts."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.cli import app
from pipeline.foods import profile, profiles
from pipeline.foods.vocabulary import SHARED_TABLES
from pipeline.snapshot.builder import inputs_sha256
from pipeline.snapshot.food_profile import load_profiles
from pipeline.snapshot.sources import Sr28

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from food_table import load_foods


@pytest.fixture(scope="module")
def kept(snapshot):
    with snapshot.connect() as con:
        return load_foods(con), load_profiles(con)


@pytest.mark.soak
def test_one_profile_a_food_and_the_same_as_read_anew(kept) -> None:
    table, found = kept
    assert list(found.keys()) != []
    assert set(found) == set(table.food_id)
    names = ("water_g", "protein_g", "fat_g", "carbs_g", "sugar_g", "fiber_g", "sodium_mg")
    anew = profiles(
        table.description, manufacturers=table.manufacturer, categories=table.category,
        composition={name: getattr(table, name) for name in names},
    )  # fmt: skip
    assert [found[food_id] for food_id in table.food_id] == anew


def test_nothing_contradicts_the_name(kept) -> None:
    table, found = kept
    for food_id, description, maker in zip(
        table.food_id, table.description, table.manufacturer, strict=True
    ):
        told = found[food_id]
        assert told.states - told.derived == profile(description, manufacturer=maker).states


def test_columns_can_be_asked_in_sql(snapshot) -> None:
    with snapshot.connect() as con:
        lean, fat = con.sql(
            "select lean_pct_low, fat_pct_low from food_profile join food using (food_id) "
            "where description = 'Beef, ground, 80% lean meat / 20% fat, raw'"
        ).fetchall()[0]
        assert (lean, fat) == (80.0, 20.0)
        (dry,) = con.sql(
            "select count(*) from food_profile join food_wide using (food_id) "
            "where list_contains(derived, 'dry') and water_g > 25"
        ).fetchall()[0]
        assert dry == 0
        (unsaid,) = con.sql(
            "select count(*) from food_profile where skin is null and salt_added is null"
        ).fetchall()[0]
        assert unsaid > 4000


def test_only_the_foods_asked_for(snapshot) -> None:
    with snapshot.connect() as con:
        assert set(load_profiles(con, ["sr28:20041", "sr28:nowhere"])) == {"sr28:20041"}


@pytest.mark.parametrize("name", SHARED_TABLES)
def test_a_changed_table_of_words_is_another_snapshot(name, monkeypatch, tmp_path) -> None:
    import pipeline.snapshot.builder as builder

    before = inputs_sha256([Sr28()])
    changed = tmp_path / name
    changed.write_bytes(builder.shared_path(name).read_bytes() + b"\n")
    real = builder.shared_path
    monkeypatch.setattr(builder, "shared_path", lambda n: changed if n == name else real(n))
    assert inputs_sha256([Sr28()]) != before


def test_the_command_prints_what_is_kept() -> None:
    got = CliRunner().invoke(app, ["foods", "sr28:20041", "--profile"])
    assert got.exit_code == 0, got.output
    assert "rice" in got.stdout
    assert "cooked" in got.stdout


def test_the_command_prints_json() -> None:
    got = CliRunner().invoke(app, ["foods", "sr28:16042", "--profile", "--format", "json"])
    assert got.exit_code == 0, got.output
    (food,) = json.loads(got.stdout)
    assert food["profile"]["head"][-1] == "bean"
    assert food["profile"]["skin"] is None
    assert food["profile"]["facets"]["C"] == ["C0133"]


def test_json_without_profiles_gives_values_only() -> None:
    got = CliRunner().invoke(app, ["foods", "sr28:16042", "--format", "json"])
    (food,) = json.loads(got.stdout)
    assert "profile" not in food
    assert food["kcal"] > 0
