"""What is kept beside a snapshot: read back as it was, or not at all."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline import kept
from pipeline.match import load_index
from pipeline.match.index import Index
from pipeline.match.store import read_index
from pipeline.reconcile.foods import _kept_foods, _read_foods
from pipeline.snapshot import Snapshot
from pipeline.weigh.food import Foods as WeighFoods

PLAIN = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False) | st.text() | st.binary(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=10,
)


@given(body=st.dictionaries(st.text(), PLAIN))
def test_what_was_kept_is_read_back(tmp_path_factory: pytest.TempPathFactory, body: dict) -> None:
    path = tmp_path_factory.mktemp("kept") / "thing-1.bin"
    kept.save(path, body)
    assert kept.read(path) == body


def test_a_damaged_file_counts_for_nothing(tmp_path: Path) -> None:
    path = tmp_path / "thing-1.bin"
    kept.save(path, {"a": list(range(100))})
    whole = path.read_bytes()
    assert kept.read(tmp_path / "none-1.bin") is None
    for damaged in (b"", whole[:-1], whole[:60] + b"x" + whole[61:], b"other" + whole[5:]):
        path.write_bytes(damaged)
        assert kept.read(path) is None


def test_an_older_file_goes_and_others_stay(tmp_path: Path) -> None:
    for name in ("thing-1.bin", "other-1.bin", "thing-2.bin"):
        kept.save(tmp_path / name, {"name": name})
    assert sorted(p.name for p in tmp_path.iterdir()) == ["other-1.bin", "thing-2.bin"]


def test_a_folder_that_cannot_be_written_is_no_fault(tmp_path: Path) -> None:
    kept.save(tmp_path / "absent" / "thing-1.bin", {})
    assert not (tmp_path / "absent").exists()


def test_the_key_follows_data_and_code(tmp_path: Path) -> None:
    code = tmp_path / "a.py"
    code.write_text("1")
    first = kept.key(["x"], [code])
    assert first == kept.key(["x"], [code]) != kept.key(["y"], [code])
    code.write_text("2")
    assert kept.key(["x"], [code]) != first


def test_values_are_made_when_asked_for() -> None:
    made: list[int] = []

    def make(value: int) -> int:
        made.append(value)
        return value + 1

    lazily = kept.Lazily({"a": 1, "b": 2}, make)
    assert "a" in lazily
    assert made == []
    assert lazily["a"] == lazily["a"] == lazily.get("a") == 2
    assert made == [1]
    assert lazily.get("c") is None
    assert dict(lazily.items()) == {"a": 2, "b": 3}
    assert list(lazily.values()) == [2, 3]
    with pytest.raises(KeyError):
        lazily["c"]


def _senses(index: Index) -> dict:
    """Names with their senses; a fat that is not said is no number, which equals nothing."""
    return {
        name: [s._replace(fat_pct=str(s.fat_pct)) for s in index.columns.senses(at)]
        for name, at in index.names.items()
    }


def test_the_index_kept_is_the_index_built(snapshot: Snapshot) -> None:
    with snapshot.connect() as con:
        load_index(con, snapshot.folder)
        built = load_index(con)
    (path,) = snapshot.folder.glob("index-*.bin")
    index = read_index(path)
    assert index is not None
    assert index.foods.ids == built.foods.ids
    assert np.array_equal(index.foods.macros, built.foods.macros, equal_nan=True)
    assert _senses(index) == _senses(built)
    assert index.postings.keys() == built.postings.keys()
    for word, (foods, values) in built.postings.items():
        assert np.array_equal(index.postings[word][0], foods)
        assert np.array_equal(index.postings[word][1], values)
    for name in ("vocabulary", "name_list", "by_words", "names_but_state"):
        assert getattr(index, name) == getattr(built, name)
    for name, values in vars(built.columns).items():
        got = getattr(index.columns, name)
        if isinstance(values, np.ndarray):
            assert np.array_equal(got, values, equal_nan=values.dtype.kind == "f"), name
        else:
            assert list(got) == list(values), name


def test_the_foods_of_the_search_kept_are_those_read(snapshot: Snapshot) -> None:
    with snapshot.connect() as con:
        read = _read_foods(con)
        for _ in range(2):  # written, then read back
            got = _kept_foods(con, snapshot.snapshot_id)
            assert got.variants.food_ids == read.variants.food_ids
            assert np.array_equal(got.values, read.values, equal_nan=True)
            assert np.array_equal(got.alcohol, read.alcohol, equal_nan=True)
            assert np.array_equal(got.variants.state, read.variants.state)
            for index in range(0, len(read.variants.food_ids), 611):
                assert got.variants.packed_otherwise(index) == read.variants.packed_otherwise(index)
                assert got.variants.kinds_like(index) == read.variants.kinds_like(index)
                assert got.variants.of(index) == read.variants.of(index)
                assert np.array_equal(got.variants.similar(index), read.variants.similar(index))
            assert vars(got.variants).keys() == vars(read.variants).keys()


def test_the_foods_to_weigh_kept_are_those_read(snapshot: Snapshot) -> None:
    for old in snapshot.folder.glob("foods-*.bin"):
        old.unlink()
    built, kept_ = WeighFoods(snapshot), WeighFoods(snapshot)
    (path,) = snapshot.folder.glob("foods-*.bin")
    got = kept.read(path)
    assert got is not None
    with snapshot.connect() as con:
        ids = [row[0] for row in con.execute("select food_id from food order by 1").fetchall()]
        measures = con.execute("select count(*) from measure").fetchone()
    assert measures == (sum(len(built.food(i, "", "").rows) for i in ids),)
    for food_id in ids[::97]:
        one, other = built.food(food_id, "", ""), kept_.food(food_id, "", "")
        assert (one.rows, one.description, one.refuse) == (
            other.rows,
            other.description,
            other.refuse,
        )
        assert built.kcal(food_id, 80) == kept_.kcal(food_id, 80)
