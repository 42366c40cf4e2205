"""What the ``snapshot`` commands do; the doors only print what comes back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from pipeline.problems import Problem, SteelyardError
from pipeline.snapshot import home as homes
from pipeline.snapshot.builder import Progress, build_embedded, inputs_sha256
from pipeline.snapshot.gate import GateResult, check_file
from pipeline.snapshot.model import SCHEMA_VERSION, Snapshot
from pipeline.snapshot.sources import Sr28


def _usable(home: Path) -> homes.Manifest | None:
    """The live snapshot, unless it is gone, of another schema, or an outdated embedded one."""
    pointer = homes.pointer(home)
    found = homes.manifest(home, pointer.snapshot_id)
    if found is None or found.schema_version != SCHEMA_VERSION:
        return None
    if (
        found.kind == "embedded"
        and not pointer.pinned
        and found.input_sha256 != inputs_sha256([Sr28()])
    ):
        return None
    return found


def open_snapshot(home: Path | None = None, *, progress: Progress | None = None) -> Snapshot:
    """The live snapshot; the embedded table is built when there is none that can be used.

    Takes milliseconds when a snapshot is there. It is built again when the embedded source, the
    shared measure tables or the schema changed with an update of the program. Of refreshed tables
    with an older schema it takes the place until the next ``refresh``, which brings them back.

    Args:
        home: the data directory; default ``STEELYARD_HOME`` or the platform's.
        progress: told (what, share done) while building.

    Raises:
        SteelyardError: the directory cannot be written, the embedded source is damaged, or the
            gate failed.
    """
    place = homes.home_dir(home)
    found = _usable(place)
    if found is not None:
        return homes.as_snapshot(place, found)
    with homes.locked(place, on_wait=lambda: progress and progress("waiting for another run", 0)):
        found = _usable(place)  # another run may have built it while this one waited
        if found is not None:
            return homes.as_snapshot(place, found)
        # Tables refreshed by another version of the program: `refresh` builds them again.
        outdated = homes.manifest(place, homes.current_id(place))
        return build_embedded(place, progress, outdated.recipe if outdated else None)


def build(
    force: bool = False, home: Path | None = None, *, progress: Progress | None = None
) -> Snapshot:
    """Build the embedded snapshot and make it live; without ``force`` only when needed."""
    place = homes.home_dir(home)
    if not force:
        return open_snapshot(place, progress=progress)
    with homes.locked(place):
        return build_embedded(place, progress)


def live(home: Path | None = None) -> Snapshot:
    """The live snapshot, never built.

    Raises:
        SteelyardError: there is none yet.
    """
    place = homes.home_dir(home)
    found = homes.manifest(place, homes.current_id(place))
    if found is None:
        raise SteelyardError(
            Problem(
                "snapshot-none",
                "there is no nutrient snapshot yet",
                f"none is published in {place}",
                "run: steelyard snapshot build",
            )
        )
    return homes.as_snapshot(place, found)


def show(home: Path | None = None, snapshot_id: str = "") -> dict[str, Any]:
    """Facts of one snapshot, the live one by default: what it holds and where it came from.

    Returns:
        ``snapshot_id``, ``path``, ``kind``, ``built_at``, ``release``, ``foods``, ``amounts``,
        ``measures``, ``nutrients``, ``size_mb``, ``input_sha256``, ``sources`` (one dict a
        composition table) and ``checks`` (passed, failed and warned counts).
    """
    place = homes.home_dir(home)
    return facts_of(_named(place, snapshot_id) if snapshot_id else live(place))


def facts_of(snapshot: Snapshot) -> dict[str, Any]:
    """Facts of an opened snapshot, wherever it lies; see :func:`show`."""
    import json

    found = homes.manifest(snapshot.folder.parents[1], snapshot.snapshot_id)
    if found is None:
        raise SteelyardError(
            Problem(
                "snapshot-gone",
                f'the snapshot "{snapshot.snapshot_id}" is no longer there',
                f"{snapshot.folder} was removed while it was in use",
                "run the command again",
            )
        )
    with snapshot.connect() as con:
        counts = con.sql(
            "select (select count(*) from food where not reference), "
            "(select count(*) from food_nutrient join food using (food_id) where not reference), "
            "(select count(*) from measure), (select count(*) from nutrient)"
        ).fetchall()[0]
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
        "foods": counts[0],
        "amounts": counts[1],
        "measures": counts[2],
        "nutrients": counts[3],
        "size_mb": round(snapshot.path.stat().st_size / 1e6, 1),
        "input_sha256": found.input_sha256,
        "sources": found.sources,
        "checks": {
            "passed": sum(c["success"] for c in checks),
            "failed": sum(not c["success"] and c["severity"] == "critical" for c in checks),
            "warned": sum(not c["success"] and c["severity"] != "critical" for c in checks),
        },
        "docs": str(snapshot.folder / "docs" / "index.html"),
    }


def check(home: Path | None = None, snapshot_id: str = "") -> GateResult:
    """Run the gate again over a published snapshot, the live one by default; changes nothing."""
    place = homes.home_dir(home)
    snapshot = _named(place, snapshot_id) if snapshot_id else live(place)
    return check_file(snapshot.path)


def named(snapshot_id: str, home: Path | None = None) -> Snapshot:
    """A published snapshot by its id, or by the beginning of it when only one begins so.

    Raises:
        SteelyardError: none or several.
    """
    return _named(homes.home_dir(home), snapshot_id)


def _named(home: Path, snapshot_id: str) -> Snapshot:
    """A published snapshot by its id, or by the beginning of it when only one begins so.

    Raises:
        SteelyardError: none or several.
    """
    known = homes.manifests(home)
    exact = [m for m in known if m.snapshot_id == snapshot_id]
    begun = exact or [m for m in known if m.snapshot_id.startswith(snapshot_id)]
    if len(begun) == 1:
        return homes.as_snapshot(home, begun[0])
    ids = ", ".join(m.snapshot_id for m in (begun or known)) or "none"
    raise SteelyardError(
        Problem(
            "snapshot-unknown",
            f'no single snapshot is called "{snapshot_id}"',
            f"{'these begin so' if begun else 'published ones'}: {ids}",
            "run: steelyard snapshot list",
        )
    )


def list_snapshots(home: Path | None = None) -> list[dict[str, Any]]:
    """Published snapshots, newest first.

    Returns:
        One dict a snapshot: ``snapshot_id``, ``live``, ``pinned``, ``kind``, ``source``,
        ``release``, ``built_at``, ``foods``, ``size_mb``, ``usable`` (false when it was built by
        another version of the program and would have to be built again).
    """
    place = homes.home_dir(home)
    pointer = homes.pointer(place)
    return [
        {
            "snapshot_id": m.snapshot_id,
            "live": m.snapshot_id == pointer.snapshot_id,
            "pinned": m.snapshot_id == pointer.snapshot_id and pointer.pinned,
            "kind": m.kind,
            "source": m.source,
            "release": m.release,
            "built_at": m.built_at,
            "foods": m.foods,
            "size_mb": round(homes.as_snapshot(place, m).path.stat().st_size / 1e6, 1),
            "usable": m.schema_version == SCHEMA_VERSION,
        }
        for m in homes.manifests(place)
    ]


def use(snapshot_id: str, home: Path | None = None) -> Snapshot:
    """Make a published snapshot the live one and stay with it.

    Args:
        snapshot_id: its id, or a beginning that only one has.
        home: the data directory.

    Raises:
        SteelyardError: there is none of that name, or this program cannot read it.
    """
    place = homes.home_dir(home)
    with homes.locked(place):
        chosen = _named(place, snapshot_id)
        found = homes.manifest(place, chosen.snapshot_id)
        if found is None or found.schema_version != SCHEMA_VERSION:
            raise SteelyardError(
                Problem(
                    "snapshot-other-schema",
                    f'the snapshot "{chosen.snapshot_id}" was built by another version',
                    "its tables differ from what this program reads",
                    "build it again: steelyard snapshot build, or steelyard refresh",
                )
            )
        homes.point_to(place, chosen.snapshot_id, pinned=True)
    return chosen


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
    raise SteelyardError(
        Problem(
            "snapshot-nothing-before",
            "there is no earlier snapshot to go back to",
            f"published: {', '.join(m.snapshot_id for m in known) or 'none'}",
            "run: steelyard snapshot list",
        )
    )


def prune(keep: int = 3, home: Path | None = None) -> list[str]:
    """Remove all but the newest snapshots; the live one and the one before it always stay.

    Args:
        keep: how many to keep, the live one counted; at least 1.
        home: the data directory.

    Returns:
        Ids of the snapshots removed. Archives that no remaining snapshot was built from go too.
    """
    if keep < 1:
        raise SteelyardError(
            Problem(
                "snapshot-keep-none",
                f'cannot keep "{keep}" snapshots',
                "the live one always stays",
                "give 1 or more",
            )
        )
    place = homes.home_dir(home)
    with homes.locked(place):
        return prune_locked(place, keep)


def prune_locked(place: Path, keep: int) -> list[str]:
    """:func:`prune` for a caller that holds the lock."""
    import shutil

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
