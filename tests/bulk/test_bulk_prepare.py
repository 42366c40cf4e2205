"""Workers load what lines are read with while the rows are cut, where there is work for all of them."""

from __future__ import annotations

import gc

import pytest
from bulk_cases import rows, write

from pipeline.bulk import pool, schedule, tasks
from pipeline.bulk.schedule import verify_bulk
from pipeline.kept import SELDOM


@pytest.mark.usefixtures("snapshot")
@pytest.mark.parametrize(("small", "asked"), [(0, 1), (1 << 20, 0)])
def test_only_a_large_collection_has_its_workers_load_ahead(tmp_path, monkeypatch, small, asked):
    write("tidy", rows(4), tmp_path / "in")
    loaded: list[bool] = []

    def prepare(_self: pool.Here, job: tasks.Job) -> None:
        tasks.load(job)
        loaded.append(tasks._loaded[job]._tools is not None)
        assert gc.get_threshold()[0] >= SELDOM[0]

    monkeypatch.setattr(pool.Here, "prepare", prepare)
    monkeypatch.setattr(schedule, "SMALL_BYTES", small)
    found = verify_bulk(tmp_path / "in", tmp_path / "out", workers=1, small_bytes=0)
    assert found.recipes == 4
    assert loaded == [True] * asked


@pytest.mark.usefixtures("snapshot")
def test_what_workers_cannot_load_ahead_is_told_where_it_is_needed(tmp_path, monkeypatch):
    write("tidy", rows(4), tmp_path / "in")
    monkeypatch.setattr(schedule, "SMALL_BYTES", 0)
    plain = verify_bulk(tmp_path / "in", tmp_path / "plain", workers=1, small_bytes=0)
    monkeypatch.setattr(pool, "load", len)  # no job has a length
    found = verify_bulk(tmp_path / "in", tmp_path / "out", workers=2, small_bytes=0)
    assert found.verdicts == plain.verdicts
