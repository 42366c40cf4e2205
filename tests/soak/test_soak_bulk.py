"""Many random collections through the bulk run and the plain run. Run by ``make soak``."""

from __future__ import annotations

import random
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "bulk"))

from bulk_cases import digests, rows, write

from pipeline.bulk.schedule import verify_bulk
from pipeline.run import verify

pytestmark = pytest.mark.soak


@pytest.mark.parametrize("seed", range(8))
def test_any_cut_says_what_the_plain_run_says(tmp_path, snapshot, seed):
    dice = random.Random(seed)
    kind = dice.choice(["tidy", "wide", "parquet", "jsonl"])
    path = write(kind, rows(dice.randint(18, 60), seed=seed), tmp_path / "in")
    plain = verify(path)
    first = verify_bulk(
        path, tmp_path / "one", part_recipes=dice.randint(1, 12), workers=1, small_bytes=0
    )
    assert first.verdicts == plain.counts()
    told = {row["recipe_id"] for row in first.biggest}
    off = plain.recipes["verdict"].isin(["disagrees", "uncertain"])
    assert told <= set(plain.recipes.loc[off, "recipe_id"])


def test_workers_and_repetition_change_no_byte(tmp_path, snapshot):
    path = write("tidy", rows(200, seed=5), tmp_path / "in")
    found = []
    for n, workers in enumerate((1, 2, 3)):
        verify_bulk(path, tmp_path / str(n), part_recipes=20, workers=workers, small_bytes=0)
        found.append(digests(tmp_path / str(n) / "bulk"))
    assert found[0] == found[1] == found[2]
