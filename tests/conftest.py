"""What every test may use: one built snapshot a machine run, shared by the workers."""

from __future__ import annotations

import functools
import gc
import os
import pickle
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from examples import TABLE, examples
from hypothesis import HealthCheck, settings
from national_tables import FOUNDATION, leave_out_gate, load_table

if TYPE_CHECKING:
    from pipeline.snapshot import Snapshot

settings.register_profile(
    "steelyard",
    deadline=None,
    max_examples=examples(),
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=bool(os.environ.get("CI")),
)
settings.load_profile("steelyard")

# The stages make many small objects and no cycles, and a long run keeps many: looking for cycles as
# often as Python does by itself costs a tenth.
gc.set_threshold(100_000, 20, 50)

#: Files that take longest, the longest first: whichever worker is free takes the next file, so
#: these must not be left for the end. All others follow as they come. Order and nothing else.
LONGEST = (
    "refresh/test_refresh_run.py",
    "browser/test_review_browser.py",
    "bulk/test_bulk_stopped.py",
    "web/test_web_session.py",
    "bulk/test_bulk_same.py",
    "refresh/test_refresh_several.py",
    "browser/test_paged_browser.py",
    "refresh/test_refresh_everyday.py",
    "web/test_web_script.py",
    "web/test_web_recipe.py",
    "browser/test_report_browser.py",
    "browser/test_script_browser.py",
    "browser/test_habits_browser.py",
    "test_hostile.py",
    "snapshot/test_snapshot_gate.py",
    "intake/test_intake_spoken_parts.py",
    "hostile/test_hostile_values.py",
    "test_tables_demo.py",
    "hostile/test_hostile_home.py",
    "web/test_web_habits.py",
    "web/test_web_app.py",
    "test_cli.py",
    "bulk/test_bulk_stores.py",
    "refresh/test_refresh_fdc.py",
    "habits/test_habits_found.py",
    "snapshot/test_snapshot_home.py",
    "habits/test_habits_settled.py",
    "refresh/test_refresh_drift.py",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long files first; within a file the tests keep their order."""
    here = Path(__file__).parent
    place = {str(here / name): n for n, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(str(item.path), len(LONGEST)))


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """Take what a worker of pytest-xdist has for the end."""
    if told := getattr(node, "workeroutput", {}).get("table"):
        node.config.stash[TABLE] = told


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """The table of the soak, when there is one."""
    if told := terminalreporter.config.stash.get(TABLE, ""):
        terminalreporter.section("generated hostile inputs")
        terminalreporter.write_line(told)


def shared_root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The temporary folder that all workers of one test run have in common."""
    root = tmp_path_factory.getbasetemp()
    return root.parent if os.environ.get("PYTEST_XDIST_WORKER") else root


@pytest.fixture(scope="session", autouse=True)
def _home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A data directory of the test run's own, so that nobody's snapshot is touched."""
    home = shared_root(tmp_path_factory) / "steelyard-home"
    before = os.environ.get("STEELYARD_HOME")
    os.environ["STEELYARD_HOME"] = str(home)
    yield home
    if before is None:
        os.environ.pop("STEELYARD_HOME", None)
    else:
        os.environ["STEELYARD_HOME"] = before


@pytest.fixture(scope="session")
def embedded_home(_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data directory with the embedded snapshot and its index, for tests to copy.

    Made once a test run, whichever worker comes first, from the snapshot of the run's own data
    directory. Nobody writes into it afterwards, so a copy never meets a file that is being replaced.
    """
    from pipeline.match import load_index
    from pipeline.safe_files import held
    from pipeline.snapshot import open_snapshot
    from pipeline.snapshot.home import POINTER, POINTER_COPY

    root = shared_root(tmp_path_factory)
    ready, made = root / "embedded-home", root / "embedded-home.new"
    with held(root / "embedded-home.lock", wait_s=300):
        if ready.exists():
            return ready
        source = open_snapshot()
        folder = made / "snapshots" / source.snapshot_id
        shutil.copytree(source.folder, folder, ignore=shutil.ignore_patterns("index-*", ".*"))
        for name in (POINTER, POINTER_COPY):
            shutil.copyfile(_home / name, made / name)
        with open_snapshot(made).connect() as con:
            load_index(con, folder)
        for index in folder.glob("index-*.bin"):
            shutil.copy2(index, source.folder / ".index")
            (source.folder / ".index").replace(source.folder / index.name)
        made.rename(ready)
    return ready


@pytest.fixture(scope="session")
def snapshot(embedded_home: Path, _home: Path):
    """The embedded snapshot, built once."""
    from pipeline.snapshot import open_snapshot

    return open_snapshot()


def published_once(
    root: Path, name: str, publish: Callable[[Path], object], base: Path | None = None
) -> Snapshot:
    """The live snapshot of a data directory that the first worker to ask for it publishes into.

    Args:
        root: of :func:`shared_root`.
        name: of the directory.
        publish: called with the directory, once a test run.
        base: a data directory that the new one begins as a copy of.
    """
    from pipeline.match import load_index
    from pipeline.safe_files import held
    from pipeline.snapshot import open_snapshot

    home, done = root / name, root / f"{name}.done"
    with held(root / f"{name}.lock", wait_s=300):
        if not done.exists():
            shutil.rmtree(home, ignore_errors=True)  # half made by a worker that was stopped
            if base is not None:
                shutil.copytree(base, home)
            publish(home)
            found = open_snapshot(home)
            with found.connect() as con:
                load_index(con, found.folder)
            done.touch()
    return open_snapshot(home)


@pytest.fixture(scope="session")
def harbour_beside(embedded_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Snapshot:
    """The invented national table before SR28, for tests that only read it."""
    return published_once(
        shared_root(tmp_path_factory), "harbour-beside", load_table, base=embedded_home
    )


@pytest.fixture(scope="session")
def harbour_alone(tmp_path_factory: pytest.TempPathFactory) -> Snapshot:
    """The invented national table alone, looked at by the gate, for tests that only read it."""
    return published_once(
        shared_root(tmp_path_factory),
        "harbour-alone",
        lambda home: load_table(home, only=True, gated=True),
    )


@pytest.fixture(scope="session")
def foundation_beside(embedded_home: Path, tmp_path_factory: pytest.TempPathFactory) -> Snapshot:
    """USDA's Foundation release before SR28, looked at by the gate; skips where it is not at hand."""
    from pipeline.refresh import refresh

    if not FOUNDATION.is_file():
        pytest.skip("the Foundation release is not at hand")
    return published_once(
        shared_root(tmp_path_factory),
        "foundation-beside",
        lambda home: refresh(from_=str(FOUNDATION), home=home),
        base=embedded_home,
    )


@pytest.fixture
def no_gate(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lets every table pass unlooked at, for tests about what stands before or after the gate.

    The gate takes most of the time of a refresh; whether it holds is tested by
    ``tests/snapshot/test_snapshot_gate.py``, ``tests/refresh/test_refresh_everyday.py`` and the
    whole refreshes of ``test_refresh_run.py``.
    """
    leave_out_gate(monkeypatch)


@pytest.fixture(scope="session", autouse=True)
def _weights_read_once() -> Iterator[None]:
    """Runs over one snapshot share what the weigher reads from it and nobody writes to.

    A run of the suite holds some hundred small collections, and reading the weights is a fifth of
    what each costs.
    """
    import pipeline.weigh

    made: dict[tuple[Path, int, str], pipeline.weigh.Weigher] = {}

    def weigher(
        snapshot: Snapshot, *, pantry: object = None, spoons: str = "us"
    ) -> pipeline.weigh.Weigher:
        key = (snapshot.path, snapshot.path.stat().st_mtime_ns, spoons)
        if key not in made:
            made[key] = pipeline.weigh.weigher.Weigher(snapshot, spoons=spoons)
        return made[key].with_pantry(pantry)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pipeline.weigh, "Weigher", weigher)
        yield


@pytest.fixture(scope="session", autouse=True)
def _profiles_read_once() -> Iterator[None]:
    """Builds of one table share the profiles of its foods, which follow from its rows alone.

    A run of the suite builds some fifty tables, nearly all with the foods of SR28 among them, and
    reading their names is a third of what each costs.
    """
    from pipeline.snapshot import food_profile

    made: dict[tuple[object, ...], dict[str, Any]] = {}
    read = food_profile.profile_columns

    def columns(rows: list[tuple[str, ...]], composition: dict[str, Any]) -> dict[str, Any]:
        key = (tuple(rows), *(values.tobytes() for values in composition.values()))
        if key not in made:
            made[key] = read(rows, composition)
        return made[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(food_profile, "profile_columns", columns)
        yield


@pytest.fixture(scope="session", autouse=True)
def _indexes_built_once() -> Iterator[None]:
    """Tables of equal foods share the index over them, and all of them the names tables.

    An index follows from the foods and the names tables alone; building one takes as long as three
    runs over a small collection.
    """
    from pipeline.match import build, knowledge

    made: dict[tuple[bytes, str], Any] = {}
    build_index = build.build_index

    def built(foods: Any, names: Any) -> Any:
        key = (pickle.dumps(foods), names.digest)
        if key not in made:
            made[key] = build_index(foods, names)
        return made[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(build, "build_index", built)
        patch.setattr(knowledge, "load_knowledge", functools.cache(knowledge.load_knowledge))
        yield


@pytest.fixture(scope="session", autouse=True)
def _tables_written_once(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Builds from equal inputs share the file that the first of them wrote.

    What stands in it follows from the inputs, its name and its time apart. A run of the suite builds
    a few tables over and over, to see what becomes of them before and after; whoever writes a file by
    ``load_tables``, and every other process, writes it anew.
    """
    import duckdb

    from pipeline.snapshot import builder

    kept = tmp_path_factory.mktemp("tables")
    made: dict[tuple[str, ...], list[Any]] = {}
    write = builder._write_file

    def written(path, sources, snapshot_id, inputs, built_at, tell):
        key = (inputs, *(repr(one) for one in sources if isinstance(one, builder.Sr28)))
        copy = kept / f"{abs(hash(key))}.duckdb"
        if key not in made:
            made[key] = write(path, sources, snapshot_id, inputs, built_at, tell)
            shutil.copyfile(path, copy)
        else:
            shutil.copyfile(copy, path)
            with duckdb.connect(str(path)) as con:
                con.execute(
                    "update snapshot set snapshot_id = ?, built_at = ?",
                    [snapshot_id, built_at.replace(tzinfo=None)],
                )
                con.execute("checkpoint")
        return made[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(builder, "_write_file", written)
        yield


@pytest.fixture(scope="session")
def demo_result(snapshot, demo: Path):
    """One run over the demo collection on the embedded snapshot, for tests that only read it."""
    import pipeline

    return pipeline.verify(demo, snapshot=snapshot)


@pytest.fixture(scope="session")
def index(snapshot):
    """The match index of the embedded snapshot."""
    from pipeline.match import load_index

    with snapshot.connect() as con:
        return load_index(con, snapshot.folder)


@pytest.fixture(scope="session")
def demo() -> Path:
    """The invented demo collection."""
    from pipeline.resources import data_path

    return data_path("demo")
