"""The user's data directory: which snapshots there are, which one is live, who may write.

Layout, below ``STEELYARD_HOME`` or the platform's data directory::

    current.json                 the live snapshot's id; moved atomically, the only mutable file
    lock                         held while something is built, published or removed
    snapshots/ID/snapshot.duckdb the data; never changed once published
    snapshots/ID/manifest.json   what it was built from, and when
    snapshots/ID/checks.json     the result of its checks
    snapshots/ID/docs/           the same as pages
    building/                    half-built snapshots; swept by the next builder
    downloads/                   archives fetched by refresh
"""

from __future__ import annotations

import json
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.problems import Problem, SteelyardError
from pipeline.snapshot.model import SCHEMA_VERSION, Snapshot

FILE_NAME = "snapshot.duckdb"


@dataclass(frozen=True, slots=True)
class Manifest:
    """What one snapshot was built from; ``manifest.json`` beside it.

    Attributes:
        kind: ``embedded`` for the table that travels with the program, ``refresh`` for releases
            fetched or handed in later.
        input_sha256: over everything the build read; equal inputs need no second build.
        sources: one row a composition table, as in the snapshot's ``source`` table.
        recipe: what a rebuild needs: the source keys in order of preference and their archives.
    """

    snapshot_id: str
    kind: str
    source: str
    release: str
    built_at: str
    schema_version: int
    input_sha256: str
    source_sha256: str
    sources: list[dict[str, Any]] = field(default_factory=list)
    recipe: dict[str, Any] = field(default_factory=dict)
    seconds: float = 0.0
    foods: int = 0


def home_dir(home: Path | None = None) -> Path:
    """``home``, else ``STEELYARD_HOME``, else the platform's place for user data."""
    if home is not None:
        return home
    told = os.environ.get("STEELYARD_HOME", "").strip()
    if told:
        return Path(told).expanduser()
    from platformdirs import user_data_path

    return user_data_path("steelyard", appauthor=False)


def snapshots_dir(home: Path) -> Path:
    """Where published snapshots lie, one folder an id."""
    return home / "snapshots"


def write_atomic(path: Path, text: str) -> None:
    """Replace ``path`` so that a reader sees the old text or the new, whatever happens."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _read_json(path: Path) -> dict[str, Any]:
    """The object in a JSON file; empty when there is none or it cannot be read."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def manifest(home: Path, snapshot_id: str) -> Manifest | None:
    """The manifest of one published snapshot; None when it is not (or no longer) there."""
    folder = snapshots_dir(home) / snapshot_id
    if not snapshot_id or not (folder / FILE_NAME).is_file():
        return None
    found = _read_json(folder / "manifest.json")
    known = {k: v for k, v in found.items() if k in Manifest.__dataclass_fields__}
    try:
        return Manifest(**known)
    except TypeError:
        return None


def manifests(home: Path) -> list[Manifest]:
    """Every published snapshot, newest first."""
    folder = snapshots_dir(home)
    names = [entry.name for entry in folder.iterdir()] if folder.is_dir() else []
    found = [m for m in (manifest(home, name) for name in names) if m is not None]
    return sorted(found, key=lambda m: (m.built_at, m.snapshot_id), reverse=True)


@dataclass(frozen=True, slots=True)
class Pointer:
    """What ``current.json`` says.

    Attributes:
        snapshot_id: the live snapshot, "" when none is published yet.
        previous: the one that was live before.
        pinned: a person chose it; an update of the program or a refresh does not move on from it
            to what was there already.
    """

    snapshot_id: str = ""
    previous: str = ""
    pinned: bool = False


def pointer(home: Path) -> Pointer:
    """The live snapshot as ``current.json`` tells it; empty when it cannot be read."""
    told = _read_json(home / "current.json")
    return Pointer(
        str(told.get("snapshot_id", "")), str(told.get("previous", "")), bool(told.get("pinned"))
    )


def current_id(home: Path) -> str:
    """Id of the live snapshot, "" when none is published yet."""
    return pointer(home).snapshot_id


def as_snapshot(home: Path, found: Manifest, *, just_built: bool = False) -> Snapshot:
    """The handle that readers get."""
    return Snapshot(
        snapshot_id=found.snapshot_id,
        path=snapshots_dir(home) / found.snapshot_id / FILE_NAME,
        source=found.source,
        release=found.release,
        built_at=datetime.fromisoformat(found.built_at),
        just_built=just_built,
    )


def point_to(home: Path, snapshot_id: str, *, pinned: bool = False) -> None:
    """Make a published snapshot the live one. Hold the lock."""
    before = current_id(home)
    told = {
        "snapshot_id": snapshot_id,
        "previous": before if before != snapshot_id else pointer(home).previous,
        "pinned": pinned,
        "switched_at": datetime.now(UTC).isoformat(timespec="seconds"),
    }
    write_atomic(home / "current.json", json.dumps(told, indent=2) + "\n")


def publish(home: Path, built: Path, found: Manifest) -> Snapshot:
    """Move a checked, half-built folder among the published ones and point to it.

    Two steps, each atomic: a stop between them leaves the old snapshot live and the new one
    listed. Hold the lock.
    """
    write_atomic(built / "manifest.json", json.dumps(asdict(found), indent=2) + "\n")
    target = snapshots_dir(home) / found.snapshot_id
    target.parent.mkdir(parents=True, exist_ok=True)
    os.rename(built, target)
    point_to(home, found.snapshot_id)
    return as_snapshot(home, found, just_built=True)


def free_id(home: Path, wanted: str) -> str:
    """``wanted``, or with a counter when a snapshot of that id is already published."""
    taken, number = wanted, 1
    while (snapshots_dir(home) / taken).exists():
        number += 1
        taken = f"{wanted}-{number}"
    return taken


def building_dir(home: Path, snapshot_id: str) -> Path:
    """A fresh folder to build in; what a killed builder left is swept. Hold the lock."""
    place = home / "building"
    if place.is_dir():
        shutil.rmtree(place, ignore_errors=True)
    folder = place / snapshot_id
    folder.mkdir(parents=True, exist_ok=True)
    return folder


def make_home(home: Path) -> None:
    """Create the data directory.

    Raises:
        SteelyardError: it cannot be written.
    """
    try:
        home.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=home):
            pass
    except OSError as fault:
        raise SteelyardError(
            Problem(
                "snapshot-home-unwritable",
                f'the data directory "{home}" cannot be written',
                f"{fault.strerror or fault}; the nutrient snapshot is kept there",
                "set STEELYARD_HOME to a folder you may write to, or free the disk",
                source=str(home),
            )
        ) from fault


def _try_lock(handle: int) -> bool:
    """Take the lock without waiting; False when another process holds it."""
    try:
        if os.name == "nt":  # pragma: no cover - run on Windows only
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


@contextmanager
def locked(
    home: Path, *, wait_s: float = 300.0, on_wait: Callable[[], None] | None = None
) -> Iterator[None]:
    """Hold the data directory's lock; the system frees it when the process ends, however it ends.

    Args:
        home: the data directory, made when missing.
        wait_s: how long to wait for another process; 0 to leave at once.
        on_wait: called once when there is something to wait for.

    Raises:
        SteelyardError: exit code 75 (try again later) when the lock stays taken.
    """
    make_home(home)
    handle = os.open(home / "lock", os.O_RDWR | os.O_CREAT, 0o644)
    try:
        until = time.monotonic() + wait_s
        waited = False
        while not _try_lock(handle):
            if time.monotonic() >= until:
                raise SteelyardError(
                    Problem(
                        "snapshot-locked",
                        "another run is building or switching the nutrient snapshot",
                        f"its lock on {home / 'lock'} was still held after {wait_s:g} s",
                        "wait for it to end, then run the command again",
                        source=str(home / "lock"),
                    ),
                    exit_code=75,
                )
            if not waited and on_wait is not None:
                on_wait()
            waited = True
            time.sleep(0.05)
        yield
    finally:
        os.close(handle)  # closing frees the lock


__all__ = [
    "FILE_NAME", "SCHEMA_VERSION", "Manifest", "as_snapshot", "building_dir", "current_id",
    "free_id", "home_dir", "locked", "make_home", "manifest", "manifests", "point_to", "publish",
    "snapshots_dir", "write_atomic",
]  # fmt: skip
