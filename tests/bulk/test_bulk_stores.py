"""The same bytes through an fsspec store and from a Dask cluster, a worker's death included."""

from __future__ import annotations

from pathlib import Path

import psutil
import pytest
from bulk_cases import digests, rows, write

from pipeline.bulk import schedule
from pipeline.bulk.schedule import verify_bulk
from pipeline.bulk.store import Store
from pipeline.problems import SteelyardError


@pytest.fixture(scope="module", autouse=True)
def same_program():
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(schedule, "program_digest", lambda: "one")
        yield


@pytest.fixture(scope="module")
def collection(tmp_path_factory) -> Path:
    return write("parquet", rows(20), tmp_path_factory.mktemp("stores"))


def bulk(collection: Path, out: str | Path, **more):
    return verify_bulk(collection, out, part_recipes=8, small_bytes=0, **{"workers": 1, **more})


@pytest.fixture(scope="module")
def local(collection, tmp_path_factory, snapshot) -> dict[str, str]:
    out = tmp_path_factory.mktemp("local")
    bulk(collection, out)
    return digests(out / "bulk")


@pytest.mark.soak
def test_a_store_behind_fsspec_holds_the_same_bytes(collection, local, tmp_path):
    pytest.importorskip("fsspec")
    out = tmp_path / "far"
    out.mkdir()
    done = bulk(collection, f"file://{out}")
    assert done.folder == f"file://{out}/results"
    assert digests(out / "results") == local
    assert bulk(collection, f"file://{out}", resume=True).resumed_parts == done.parts


@pytest.mark.parametrize("scheme", ["", "file://"])
def test_a_file_of_a_store_is_there_whole_or_not_at_all(tmp_path, scheme):
    if scheme:
        pytest.importorskip("fsspec")
    store = Store(f"{scheme}{tmp_path}")

    def stopped() -> None:
        with store.writing("a/b") as path:
            path.write_text("half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        stopped()
    assert not store.exists("a/b")
    assert store.names("a") == []
    store.write_text("a/b", "whole")
    assert store.names("a") == ["a/b"]
    assert store.read_text("a/b") == "whole"
    store.remove("a")
    assert not store.exists("a/b")


@pytest.mark.soak
def test_a_cluster_of_two_gives_the_same_bytes(collection, local, tmp_path):
    pytest.importorskip("distributed")
    bulk(collection, tmp_path, cluster="local", workers=2)
    assert digests(tmp_path / "bulk") == local


@pytest.mark.soak
def test_the_death_of_a_worker_is_survived(collection, local, tmp_path):
    pytest.importorskip("distributed")
    killed: list[int] = []

    def progress(stage: str, done: int, _total: int) -> None:
        if stage.startswith("adding up") and done and not killed:
            workers = [
                p for p in psutil.Process().children(recursive=True)
                if "spawn_main" in " ".join(p.cmdline())
            ]  # fmt: skip
            victim = workers[-1]
            killed.append(victim.pid)
            victim.kill()

    bulk(collection, f"file://{tmp_path}/far", cluster="local", workers=2, progress=progress)
    assert killed
    assert digests(tmp_path / "far" / "results") == local


def test_a_scheduler_that_does_not_answer_is_told(collection, tmp_path):
    pytest.importorskip("distributed")
    with pytest.MonkeyPatch.context() as patch:
        import distributed

        def refuses(address, timeout):
            raise OSError(f"Timed out trying to connect to {address}")

        patch.setattr(distributed, "Client", refuses)
        with pytest.raises(SteelyardError) as told:
            bulk(collection, tmp_path, cluster="tcp://127.0.0.1:1")
    assert told.value.problem.code == "cluster-unreachable"
