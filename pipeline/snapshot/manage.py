"""What the ``snapshot`` commands do; the commands only print what comes back."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline.problems import Problem, SteelyardError, failure, input_problem
from pipeline.snapshot import home as homes
from pipeline.snapshot.builder import Progress, build_embedded, inputs_sha256
from pipeline.snapshot.model import SCHEMA_VERSION, Snapshot
from pipeline.snapshot.sources import Sr28

if TYPE_CHECKING:
    from pipeline.snapshot.gate import GateResult


def _usable(home: Path) -> Snapshot | None:
    """The live snapshot as ``current.json`` names it, unless it is broken, of another schema, or outdated."""
    pointer = homes.pointer(home)
    found = None if pointer.fault else homes.manifest(home, pointer.snapshot_id)
    if found is None or not _current(found, pinned=pointer.pinned):
        return None
    return homes.as_snapshot(home, found, notes=_standing_in(pointer))


def _current(found: homes.Manifest, *, pinned: bool = False) -> bool:
    """Whether this program reads a snapshot, and the embedded table is the one it comes with."""
    if found.schema_version != SCHEMA_VERSION:
        return False
    return found.kind != "embedded" or pinned or found.input_sha256 == inputs_sha256([Sr28()])


def open_snapshot(home: Path | None = None, *, progress: Progress | None = None) -> Snapshot:
    """The live snapshot; the embedded table is built when there is none that can be used.

    Takes milliseconds when a snapshot is there and whole (its size and checksum are compared with
    its manifest). It is built again when the embedded source, the shared measure tables or the
    schema changed with an update of the program. Of refreshed tables with an older schema it takes
    the place until the next ``refresh``, which brings them back.

    What is broken is never passed over in silence: ``Snapshot.notes`` says which snapshot stands in
    for which, and why. A broken embedded table is set aside and built again; for a broken refreshed
    one the newest whole one of the same tables is taken, and without one the command ends.

    Args:
        home: the data directory; default ``STEELYARD_HOME`` or the platform's.
        progress: called with (what, share done) while building.

    Raises:
        SteelyardError: the directory cannot be written (exit code 74), the embedded source is
            damaged, the gate failed, or it is not known which tables are to answer (65).
    """
    place = homes.home_dir(home)
    if (found := _usable(place)) is not None:
        return found
    with homes.locked(place, on_wait=lambda: progress and progress("waiting for another run", 0)):
        if (found := _usable(place)) is not None:  # another run built it while this one waited
            return found
        with homes.disk_faults(place):
            return _repaired(place, progress)


def _repaired(place: Path, progress: Progress | None) -> Snapshot:
    """The snapshot to use where the live one cannot be. Hold the lock."""
    pointer = homes.pointer(place)
    if not pointer.snapshot_id:
        return _without_pointer(place, pointer.fault, progress)
    live, why = homes.state(place, pointer.snapshot_id)
    notes = [_pointer_unreadable(pointer)] if pointer.fault else []
    if live is None:
        return _in_place_of(place, pointer, why, notes, progress)
    if _current(live, pinned=pointer.pinned):  # by the copy of the pointer
        homes.point_to(place, live, pinned=pointer.pinned)
        return homes.as_snapshot(place, live, notes=tuple(notes))
    # Built by another version of the program. Refreshed tables: `refresh` builds them again.
    stands_in = (pointer.instead_of, pointer.why)
    if live.kind != "embedded":
        why = "it was built by another version of the program; steelyard refresh builds it again"
        stands_in = (live.snapshot_id, why)
    built = build_embedded(place, progress, live.recipe or None, stands_in)
    return replace(built, notes=(*notes, *_standing_in(homes.pointer(place))))


def _in_place_of(
    place: Path, pointer: homes.Pointer, why: str, notes: list[Problem], progress: Progress | None
) -> Snapshot:
    """What answers in place of a live snapshot that is broken or gone."""
    lost = pointer.snapshot_id
    folder = homes.snapshots_dir(place) / lost
    source = pointer.source or ("sr28" if lost.startswith("sr28-") else "")
    other = next((m for m in homes.manifests(place) if m.source == source and _current(m)), None)
    if source != "sr28" and other is None:
        raise _choose(place, f'the nutrient table "{lost}" cannot be used', why)
    aside = f", set aside as {homes.set_aside(place, folder)}" if folder.is_dir() else ""
    made = _first_of([other] if other is not None else [], place, progress)
    instead = "the embedded table was built again"
    if other is not None:
        instead = f"{other.snapshot_id}, the newest whole one of the same tables, is used"
    note = input_problem(
        "snapshot-broken/replaced", lost=lost, why=why, aside=aside, instead=instead
    )
    return replace(made, notes=(*notes, note))


def _first_of(known: list[homes.Manifest], place: Path, progress: Progress | None) -> Snapshot:
    """The first of some snapshots made live; where there is none, the embedded table built again."""
    if not known:
        return build_embedded(place, progress)
    homes.point_to(place, known[0])
    return homes.as_snapshot(place, known[0])


def _without_pointer(place: Path, fault: str, progress: Progress | None) -> Snapshot:
    """What answers where nothing tells which snapshot was live."""
    whole = [m for m in homes.manifests(place) if m.schema_version == SCHEMA_VERSION]
    tables = {m.source for m in whole}
    refreshed = any(not name.startswith("sr28-") for name in homes.published(place))
    if len(tables) > 1 or (not whole and fault and refreshed):
        raise _choose(
            place, "it is not known which nutrient table was live", f"{homes.POINTER}: {fault}"
        )
    made = _first_of([m for m in whole if _current(m)], place, progress)
    return replace(made, notes=(_pointer_unreadable(homes.Pointer(fault=fault)),) if fault else ())


def _choose(place: Path, what: str, why: str) -> SteelyardError:
    ids = ", ".join(m.snapshot_id for m in homes.manifests(place)) or "none"
    return failure("snapshot-none-of-the-same", source=str(place), what=what, why=why, ids=ids)


def _pointer_unreadable(pointer: homes.Pointer) -> Problem:
    chosen = "its copy was used" if pointer.snapshot_id else "the newest whole snapshot is used"
    return input_problem(
        "snapshot-pointer-unreadable", file=homes.POINTER, why=pointer.fault, chosen=chosen
    )


def _standing_in(pointer: homes.Pointer) -> tuple[Problem, ...]:
    """Said by every run as long as one table stands in for another."""
    if not pointer.instead_of:
        return ()
    return (
        input_problem(
            "snapshot-stands-in", snapshot_id=pointer.snapshot_id, instead_of=pointer.instead_of,
            why=pointer.why,
        ),
    )  # fmt: skip


def build(
    force: bool = False, home: Path | None = None, *, progress: Progress | None = None
) -> Snapshot:
    """Build the embedded snapshot and make it live; without ``force`` only when needed."""
    place = homes.home_dir(home)
    if not force:
        return open_snapshot(place, progress=progress)
    with homes.locked(place), homes.disk_faults(place):
        return build_embedded(place, progress)


def live(home: Path | None = None) -> Snapshot:
    """The live snapshot, never built.

    Raises:
        SteelyardError: there is none yet (exit code 3), or it is broken (65).
    """
    place = homes.home_dir(home)
    pointer = homes.pointer(place)
    found, why = homes.state(place, pointer.snapshot_id)
    if found is None and (pointer.snapshot_id or pointer.fault):
        what = f'the nutrient table "{pointer.snapshot_id}" cannot be used'
        if not pointer.snapshot_id:
            what, why = "it is not known which nutrient table is live", pointer.fault
        raise failure("snapshot-broken", source=str(place), what=what, why=why)
    if found is None:
        raise failure("snapshot-none", home=place)
    return homes.as_snapshot(place, found)


def show(home: Path | None = None) -> dict[str, Any]:
    """Facts of the live snapshot: what it holds and where it came from.

    Returns:
        ``snapshot_id``, ``path``, ``kind``, ``built_at``, ``release``, ``foods``, ``amounts``,
        ``measures``, ``nutrients``, ``size_mb``, ``input_sha256``, ``sources`` (one dict a
        composition table) and ``checks`` (passed, failed and warned counts).
    """
    return facts_of(live(home))


def facts_of(snapshot: Snapshot) -> dict[str, Any]:
    """Facts of an opened snapshot, wherever it lies; see :func:`show`."""
    found, _ = homes.manifest_alone(snapshot.folder.parents[1], snapshot.snapshot_id)
    if found is None:
        raise failure("snapshot-gone", snapshot_id=snapshot.snapshot_id, folder=snapshot.folder)
    with snapshot.connect() as con:
        counted = con.execute(
            "select (select count(*) from food where not reference) as foods, (select count(*) "
            "from food_nutrient join food using (food_id) where not reference) as amounts, "
            "(select count(*) from measure) as measures, (select count(*) from nutrient) as nutrients"
        )
        names = [column[0] for column in counted.description or ()]
        counts = dict(zip(names, counted.fetchall()[0], strict=True))
    try:
        checks = json.loads((snapshot.folder / "checks.json").read_text(encoding="utf-8"))["checks"]
    except (OSError, ValueError, KeyError):
        checks = []
    return {
        "snapshot_id": found.snapshot_id,
        "path": str(snapshot.path),
        "kind": found.kind,
        "built_at": found.built_at,
        "release": found.release,
        **counts,
        "size_mb": round(snapshot.path.stat().st_size / 1e6, 1),
        "input_sha256": found.input_sha256,
        "sources": found.sources,
        "checks": {
            "passed": sum(c["success"] for c in checks),
            "failed": sum(not c["success"] and c["severity"] == "critical" for c in checks),
            "warned": sum(not c["success"] and c["severity"] != "critical" for c in checks),
        },
    }


def check(home: Path | None = None, pages: Path | None = None) -> GateResult:
    """Sum the live snapshot's file and run the gate over it again; changes nothing of it.

    Args:
        pages: folder for the result as pages, None for none.

    Raises:
        SteelyardError: the file is not what was written (exit code 65).
    """
    from pipeline.snapshot.gate import check_file

    place = homes.home_dir(home)
    snapshot = live(place)
    found, why = homes.state(place, snapshot.snapshot_id, full=True)
    if found is None:
        raise _choose(place, f'the nutrient table "{snapshot.snapshot_id}" is broken', why)
    return check_file(snapshot.path, docs=pages)


def named(snapshot_id: str, home: Path | None = None) -> Snapshot:
    """A published snapshot by its id, or by the beginning of it when only one begins so.

    Raises:
        SteelyardError: none or several.
    """
    place = homes.home_dir(home)
    known = homes.manifests(place)
    exact = [m for m in known if m.snapshot_id == snapshot_id]
    begun = exact or [m for m in known if m.snapshot_id.startswith(snapshot_id)]
    if len(begun) == 1:
        return homes.as_snapshot(place, begun[0])
    ids = ", ".join(m.snapshot_id for m in (begun or known)) or "none"
    which = "these begin so" if begun else "published ones"
    raise failure("snapshot-unknown", snapshot_id=snapshot_id, which=which, ids=ids)


def list_snapshots(home: Path | None = None) -> list[dict[str, Any]]:
    """Published snapshots, newest first.

    Returns:
        One dict a snapshot: ``snapshot_id``, ``live``, ``pinned``, ``kind``, ``source``,
        ``release``, ``built_at``, ``foods``, ``size_mb``, ``usable`` (false when it was built by
        another version of the program and would have to be built again).
    """
    place = homes.home_dir(home)
    pointer = homes.pointer(place)
    told = ("snapshot_id", "kind", "source", "release", "built_at", "foods")
    return [
        {
            **{name: getattr(m, name) for name in told},
            "live": m.snapshot_id == pointer.snapshot_id,
            "pinned": m.snapshot_id == pointer.snapshot_id and pointer.pinned,
            "size_mb": round(homes.as_snapshot(place, m).path.stat().st_size / 1e6, 1),
            "usable": m.schema_version == SCHEMA_VERSION,
        }
        for m in homes.manifests(place)
    ]


def use(snapshot_id: str, home: Path | None = None) -> Snapshot:
    """Make a published snapshot the live one and stay with it.

    Args:
        snapshot_id: its id, or a beginning that only one has.

    Raises:
        SteelyardError: there is none of that name, or this program cannot read it.
    """
    place = homes.home_dir(home)
    with homes.locked(place):
        chosen = named(snapshot_id, place)
        again = "build it again: steelyard snapshot build, or steelyard refresh"
        found = readable(place, chosen.snapshot_id, again)
        with homes.disk_faults(place):
            homes.point_to(place, found, pinned=True)
    return chosen


def readable(place: Path, snapshot_id: str, fix: str) -> homes.Manifest:
    """The manifest of a snapshot that this program can read.

    Raises:
        SteelyardError: another version built it; ``fix`` says what to do.
    """
    found = homes.manifest(place, snapshot_id)
    if found is None or found.schema_version != SCHEMA_VERSION:
        raise failure("snapshot-other-schema", snapshot_id=snapshot_id, fix=fix)
    return found


def rollback(home: Path | None = None) -> Snapshot:
    """Go back to the snapshot that was live before, and stay with it.

    Raises:
        SteelyardError: there is none to go back to.
    """
    place = homes.home_dir(home)
    pointer = homes.pointer(place)
    known = homes.manifests(place)
    ids = [m.snapshot_id for m in known if m.schema_version == SCHEMA_VERSION]
    if pointer.previous in ids:
        return use(pointer.previous, place)
    if pointer.snapshot_id in ids:
        older = ids[ids.index(pointer.snapshot_id) + 1 :]
        if older:
            return use(older[0], place)
    raise failure("snapshot-nothing-before", ids=", ".join(m.snapshot_id for m in known) or "none")


def prune(keep: int = 3, home: Path | None = None) -> list[str]:
    """Remove all but the newest snapshots; the live one and the one before it always stay.

    Args:
        keep: how many to keep, the live one counted; at least 1.

    Returns:
        Ids of the snapshots removed. Archives that no remaining snapshot was built from go too.
    """
    if keep < 1:
        raise failure("snapshot-keep-none", keep=keep)
    place = homes.home_dir(home)
    with homes.locked(place):
        return prune_locked(place, keep)


def prune_locked(place: Path, keep: int) -> list[str]:
    """:func:`prune` for a caller that holds the lock."""
    pointer = homes.pointer(place)
    staying = {pointer.snapshot_id, pointer.previous} if keep > 1 else {pointer.snapshot_id}
    known = homes.manifests(place)
    for m in known:
        if len(staying - {""}) < keep:
            staying.add(m.snapshot_id)
    removed = []
    for m in known:
        if m.snapshot_id not in staying:
            folder = homes.snapshots_dir(place) / m.snapshot_id
            (folder / "manifest.json").unlink(missing_ok=True)  # first: it is listed no more
            shutil.rmtree(folder, ignore_errors=True)
            removed.append(m.snapshot_id)
    used = {
        entry.get("archive", "")
        for m in homes.manifests(place)
        for entry in m.recipe.get("sources", [])
        if isinstance(entry, dict)
    }
    downloads = place / "downloads"
    for path in downloads.iterdir() if downloads.is_dir() else ():
        if path.name not in used and path.suffix == ".zip":
            path.unlink(missing_ok=True)
        elif path.name not in used and path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
    return removed
