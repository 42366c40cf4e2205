"""The user's data directory: which snapshots there are, which one is live, who may write.

Layout, below ``STEELYARD_HOME`` or the platform's data directory::

    current.json                 the live snapshot's id; moved atomically
    current.copy.json            the same, for when that one cannot be read
    lock                         held while something is built, published or removed
    snapshots/ID/snapshot.duckdb the data; never changed once published
    snapshots/ID/manifest.json   what it was built from, and when
    snapshots/ID/checks.json     the result of its checks
    building/                    half-built snapshots; swept by the next builder
    broken/                      what could not be read any more, set aside
    downloads/                   archives fetched by refresh
    spoken-KEY.bin, expressions-KEY.bin  worked out by the program, see kept.py; may be thrown away
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import MISSING, asdict, dataclass, field, fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from pipeline.problems import Problem, failure, is_of_the_disk
from pipeline.safe_files import held, write_atomically
from pipeline.snapshot.model import Snapshot

FILE_NAME = "snapshot.duckdb"


@dataclass(frozen=True, slots=True)
class Manifest:
    """What one snapshot was built from; ``manifest.json`` beside it.

    Attributes:
        kind: ``embedded`` for the table that travels with the program, ``refresh`` for releases
            fetched or handed in later.
        input_sha256: over everything the build read; equal inputs need no second build.
        sources: one row per composition table, as in the snapshot's ``source`` table.
        recipe: what a rebuild needs: the source keys in order of preference and their archives.
        file_size, file_digest: of the data file, BLAKE2b; 0 and "" in snapshots of earlier versions.
        pages_digest: over ``SAMPLED`` pages of it, cheap for a file of any size.
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
    file_size: int = 0
    file_digest: str = ""
    pages_digest: str = ""


def home_dir(home: Path | None = None) -> Path:
    """``home``, else ``STEELYARD_HOME``, else the platform's place for user data."""
    if home is not None:
        return home
    given = os.environ.get("STEELYARD_HOME", "").strip()
    if given:
        return Path(given).expanduser()
    from platformdirs import user_data_path

    return user_data_path("steelyard", appauthor=False)


def snapshots_dir(home: Path) -> Path:
    """Where published snapshots lie, one folder per id."""
    return home / "snapshots"


def published(home: Path) -> list[str]:
    """Ids of what was published there, whole or not."""
    folder = snapshots_dir(home)
    return [entry.name for entry in folder.iterdir()] if folder.is_dir() else []


def read_json(path: Path) -> tuple[dict[str, Any], str]:
    """The object in a JSON file, and why there is none: "" when it could be read."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}, "it is missing"
    except OSError as fault:
        return {}, fault.strerror or str(fault)
    except (ValueError, RecursionError) as fault:
        return {}, f"it is not JSON ({str(fault)[:80]})"
    return (found, "") if isinstance(found, dict) else ({}, "it holds no JSON object")


def state(home: Path, snapshot_id: str, *, full: bool = False) -> tuple[Manifest | None, str]:
    """The manifest of a published snapshot that is whole; else None, and what is wrong with it.

    Args:
        full: sum the whole data file, however large.
    """
    found, why = manifest_alone(home, snapshot_id)
    if found is not None:
        why = file_fault(snapshots_dir(home) / snapshot_id / FILE_NAME, found, full=full)
    return (None, why) if why else (found, "")


def manifest_alone(home: Path, snapshot_id: str) -> tuple[Manifest | None, str]:
    """The manifest of a published snapshot, its data file not looked at; else None, and why."""
    folder = snapshots_dir(home) / snapshot_id
    if not snapshot_id or "/" in snapshot_id or not folder.is_dir():
        return None, "it is not there"
    values, why = read_json(folder / "manifest.json")
    if why:
        return None, f"its manifest.json cannot be read: {why}"
    found = _manifest_of(values)
    if isinstance(found, str):
        return None, f"its manifest.json is damaged: {found}"
    if found.snapshot_id != snapshot_id:
        return None, f'its manifest.json is of "{found.snapshot_id}"'
    return found, ""


def _manifest_of(given: dict[str, Any]) -> Manifest | str:
    """The manifest that an object holds, or which field is not as it has to be."""
    values: dict[str, Any] = {}
    for item in fields(Manifest):
        if item.name not in given:
            if item.default is MISSING and item.default_factory is MISSING:
                return f'"{item.name}" is missing'
            continue
        value = given[item.name]
        wanted = _TYPES[str(item.type).partition("[")[0]]
        if not isinstance(value, wanted) or isinstance(value, bool):
            return f'"{item.name}" cannot be {str(value)[:40]!r}'
        values[item.name] = value
    try:
        datetime.fromisoformat(values["built_at"])
    except ValueError:
        return f'"built_at" cannot be {values["built_at"][:40]!r}'
    if not all(isinstance(row, dict) for row in values.get("sources", [])):
        return '"sources" is no list of tables'
    return Manifest(**values)


_TYPES: dict[str, tuple[type, ...]] = {
    "str": (str,), "int": (int,), "float": (int, float), "list": (list,), "dict": (dict,),
}  # fmt: skip

#: Up to this size a data file is summed whole when it is opened: some milliseconds.
FULL_UP_TO = 32 << 20
#: Pages of a larger one that are summed then, and their size.
SAMPLED, PAGE = 256, 4096


def digests(path: Path) -> tuple[int, str, str]:
    """Size of a data file, the digest of all of it, and that of some pages."""
    size = path.stat().st_size
    return size, _whole_digest(path), _pages_digest(path, size)


def _whole_digest(path: Path) -> str:
    with path.open("rb") as handle:
        return hashlib.file_digest(handle, lambda: hashlib.blake2b(digest_size=16)).hexdigest()


def _pages_digest(path: Path, size: int) -> str:
    """Digest of the first and the last pages and of some between, evenly spread."""
    made = hashlib.blake2b(digest_size=16)
    with path.open("rb") as handle:
        for n in range(SAMPLED):
            handle.seek((size - PAGE) * n // (SAMPLED - 1) if size > PAGE else 0)
            made.update(handle.read(PAGE))
    return made.hexdigest()


def file_fault(path: Path, given: Manifest, *, full: bool = False) -> str:
    """What is wrong with a data file, held against its manifest; "" when nothing is."""
    try:
        size = path.stat().st_size
        if not path.is_file() or not size:
            return f"its {FILE_NAME} is empty or no file"
        if not given.file_digest:  # built by an earlier version
            return ""
        if size != given.file_size:
            return f"its {FILE_NAME} has {size:,} bytes, not {given.file_size:,}"
        if not full and size > FULL_UP_TO:
            right = _pages_digest(path, size) == given.pages_digest
        else:
            right = _whole_digest(path) == given.file_digest
    except OSError as fault:
        return f"its {FILE_NAME} cannot be read: {fault.strerror or fault}"
    return "" if right else f"its {FILE_NAME} is not what was written: its checksum is another"


def manifest(home: Path, snapshot_id: str) -> Manifest | None:
    """The manifest of one published snapshot that is whole; None when it is not."""
    return state(home, snapshot_id)[0]


def manifests(home: Path) -> list[Manifest]:
    """Every published snapshot that is whole, newest first."""
    found = [m for m in (manifest(home, name) for name in published(home)) if m is not None]
    return sorted(found, key=lambda m: (m.built_at, m.snapshot_id), reverse=True)


@dataclass(frozen=True, slots=True)
class Pointer:
    """What ``current.json`` says.

    Attributes:
        snapshot_id: the live snapshot, "" when none is published yet or it is not known.
        previous: the one that was live before.
        pinned: a person chose it; an update of the program or a refresh does not move on from it
            to what was there already.
        source: its tables, so that another of the same can be found; "" in earlier versions.
        instead_of: the snapshot with other tables that it stands in for, "" for none; ``why``.
        fault: why ``current.json`` cannot be read, "" when it could or nothing was published yet.
    """

    snapshot_id: str = ""
    previous: str = ""
    pinned: bool = False
    source: str = ""
    instead_of: str = ""
    why: str = ""
    fault: str = ""


POINTER, POINTER_COPY = "current.json", "current.copy.json"


def pointer(home: Path) -> Pointer:
    """The live snapshot, by ``current.json`` or, when that cannot be read, by its copy."""
    first = ""
    for name in (POINTER, POINTER_COPY):
        given, fault = read_json(home / name)
        if not fault and not (isinstance(given.get("snapshot_id"), str) and given["snapshot_id"]):
            fault = "it names no snapshot"
        first = first or fault
        if not fault:
            texts = {
                key: given[key]
                for key in ("snapshot_id", "previous", "source", "instead_of", "why")
                if isinstance(given.get(key), str)
            }
            return Pointer(**texts, pinned=given.get("pinned") is True, fault=first)
    nothing = not (home / POINTER).exists() and not published(home)
    return Pointer(fault="" if nothing else first)


def as_snapshot(
    home: Path, found: Manifest, *, just_built: bool = False, notes: tuple[Problem, ...] = ()
) -> Snapshot:
    """The handle that readers get."""
    return Snapshot(
        snapshot_id=found.snapshot_id,
        path=snapshots_dir(home) / found.snapshot_id / FILE_NAME,
        source=found.source,
        release=found.release,
        built_at=datetime.fromisoformat(found.built_at),
        just_built=just_built,
        notes=notes,
    )


def point_to(
    home: Path, found: Manifest, *, pinned: bool = False, instead_of: str = "", why: str = ""
) -> None:
    """Make a published snapshot the live one. Hold the lock.

    Args:
        pinned: a person chose it.
        instead_of, why: the snapshot of other tables that it stands in for, and why; kept until
            another is made live, and reported by every run.
    """
    before = pointer(home)
    other = before.snapshot_id != found.snapshot_id
    given = {
        "snapshot_id": found.snapshot_id,
        "previous": before.snapshot_id if other else before.previous,
        "pinned": pinned,
        "source": found.source,
        "switched_at": datetime.now(UTC).isoformat(timespec="seconds"),
    }
    if instead_of:
        given |= {"instead_of": instead_of, "why": why}
    for name in (POINTER, POINTER_COPY):
        if (home / name).is_dir():
            set_aside(home, home / name)
        write_atomically(home / name, json.dumps(given, indent=2) + "\n")


def set_aside(home: Path, path: Path) -> Path:
    """Move what cannot be used any more into ``broken/``; where it lies then. Hold the lock."""
    place = home / "broken"
    place.mkdir(exist_ok=True)
    number = 1
    while (target := place / f"{path.name}-{number}").exists():
        number += 1
    path.rename(target)
    return target


@contextmanager
def disk_faults(home: Path) -> Iterator[None]:
    """Report a full or failing disk in words; whatever was live before is live still.

    Raises:
        SteelyardError: exit code 74, for an ``OSError`` or DuckDB's own of that kind.
    """
    try:
        yield
    except Exception as fault:
        if not is_of_the_disk(fault):
            raise
        why = getattr(fault, "strerror", None) or str(fault).partition("\n")[0][:200]
        raise failure("snapshot-write-failed", source=str(home), home=home, said=why) from fault


def publish(home: Path, built: Path, found: Manifest, stands_in: tuple[str, str]) -> Snapshot:
    """Move a checked, half-built folder among the published ones and point to it.

    Two steps, each atomic: a stop between them leaves the old snapshot live and the new one
    listed. Hold the lock. ``stands_in``: ``instead_of`` and ``why`` of :func:`point_to`.
    """
    size, whole, pages = digests(built / FILE_NAME)
    found = replace(found, file_size=size, file_digest=whole, pages_digest=pages)
    write_atomically(built / "manifest.json", json.dumps(asdict(found), indent=2) + "\n")
    target = snapshots_dir(home) / found.snapshot_id
    target.parent.mkdir(parents=True, exist_ok=True)
    os.rename(built, target)
    point_to(home, found, instead_of=stands_in[0], why=stands_in[1])
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
        said = fault.strerror or fault
        raise failure("snapshot-home-unwritable", source=str(home), home=home, said=said) from fault


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
        SteelyardError: exit code 75 when the lock stays taken.
    """
    make_home(home)
    lock = home / "lock"
    with contextlib.ExitStack() as stack:
        try:
            stack.enter_context(held(lock))
        except TimeoutError:
            if on_wait is not None and wait_s:
                on_wait()
            try:
                stack.enter_context(held(lock, wait_s))
            except TimeoutError as fault:
                raise failure(
                    "snapshot-locked", source=str(lock), lock=lock, seconds=wait_s
                ) from fault
        yield
