"""``steelyard refresh``: from the publisher's page to a live snapshot, or nothing changed.

find the release → fetch it → unpack → build beside the live snapshot → gates → switch → tidy up.
Whatever fails on the way, the live snapshot stays as it is.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import time
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pipeline.problems import failure
from pipeline.refresh import archive as archives
from pipeline.refresh import fetch
from pipeline.refresh.everyday import everyday_checks
from pipeline.refresh.faults import read_toml, unreachable
from pipeline.refresh.fdc import FILE_NAMES, KINDS, FdcBundle, load_order, release_of
from pipeline.refresh.national import read_mapping
from pipeline.resources import shared_path
from pipeline.snapshot import home as homes
from pipeline.snapshot.builder import Progress, build, inputs_sha256, quiet
from pipeline.snapshot.manage import prune_locked
from pipeline.snapshot.model import SCHEMA_VERSION, Snapshot
from pipeline.snapshot.sources import Source, Sr28, sha256_of


@dataclass(frozen=True, slots=True)
class SourceConfig:
    """One table of ``sources.toml``."""

    key: str
    title: str = ""
    page: str = ""
    pattern: str = ""
    url: str = ""
    sha256: str = ""
    kinds: tuple[str, ...] = ()
    on_request: bool = False
    note: str = ""


@dataclass(frozen=True, slots=True)
class Config:
    """``shared/sources.toml``, or the file that ``STEELYARD_SOURCES`` names."""

    sources: dict[str, SourceConfig]
    default: tuple[str, ...]
    base: str


def load_config(path: Path | None = None) -> Config:
    """Read the sources file.

    Raises:
        SteelyardError: it is no TOML or a source lacks page and url.
    """
    told_path = os.environ.get("STEELYARD_SOURCES", "")
    path = path or (Path(told_path) if told_path else shared_path("sources.toml"))
    content, fault = read_toml(path, "sources-invalid")
    known = SourceConfig.__dataclass_fields__
    sources = {}
    for key, row in content.items():
        if not isinstance(row, dict):
            continue
        strange = [name for name in row if name not in known]
        if strange:
            raise fault(
                f'gives [{key}] the unknown key "{strange[0]}"', f"known: {', '.join(known)}"
            )
        config = SourceConfig(key=key, **{**row, "kinds": tuple(row.get("kinds", (key,)))})
        if not config.url and not (config.page and "(?P<date>" in config.pattern):
            raise fault(f"gives [{key}] neither url nor page and pattern", "one of them is needed")
        load_order(config.kinds)
        sources[key] = config
    return Config(sources, tuple(content.get("default", ())), str(content.get("base", "")))


@dataclass(frozen=True, slots=True)
class RefreshResult:
    """What a refresh did.

    Attributes:
        status: ``published`` (a new snapshot is live), ``unchanged`` (nothing new), or ``kept``
            (there is a newer snapshot, but a person chose another and it stays).
        snapshot: the live snapshot afterwards; None when there was none and nothing was built.
        previous: id of the snapshot that was live before, "" for none.
        message: one line to print.
        sources: one dict a source asked: key, url, release, status, sha256, size.
        removed: snapshots pruned.
        seconds: how long it took.
        notes: what the gate found that does not stop publication, a sentence each.
    """

    status: str
    snapshot: Snapshot | None
    previous: str
    message: str
    sources: list[dict[str, Any]] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    seconds: float = 0.0
    notes: list[str] = field(default_factory=list)

    @property
    def changed(self) -> bool:
        """A new snapshot is live."""
        return self.status == "published"


def refresh(
    sources: Sequence[str] = (),
    from_: str = "",
    *,
    sha256: str = "",
    only: bool = False,
    keep: int = 3,
    wait_s: float = 0.0,
    home: Path | None = None,
    config: Config | None = None,
    patience: fetch.Patience | None = None,
    progress: Progress | None = None,
) -> RefreshResult:
    """Look for newer releases and make a snapshot with them the live one.

    Args:
        sources: keys of ``sources.toml``, preferred first; default: those of the live snapshot in
            their order, else the file's own default. The embedded table always comes last, so
            that foods the releases lack stay known.
        from_: a local zip, a folder of extracted CSV files, a mapping (``.toml``) of a national
            table, or an https address of a zip, instead of asking the publisher's page. What is
            named, here or in ``sources``, is preferred to what is live already.
        sha256: what the archive of ``from_`` must sum to.
        only: answer lines from this table alone: the live snapshot's other sources are left out,
            and the embedded table is loaded for reference, for its household measures. A later
            refresh that names nothing leaves it so.
        keep: snapshots to keep afterwards.
        wait_s: how long to wait for another run; 0 leaves at once with exit code 75.
        config: the sources; default :func:`load_config`.
        progress: called with (what, share done).

    Raises:
        SteelyardError: with an exit code of this module; the live snapshot is what it was.
    """
    started = time.monotonic()
    place = homes.home_dir(home)
    tell = progress or quiet
    config = config or load_config()
    for key in sources:
        if key not in config.sources and not from_:
            raise failure("source-unknown", name=key, known=", ".join(config.sources))
    with homes.locked(place, wait_s=wait_s, on_wait=lambda: tell("waiting for another run", 0.0)):
        work = _Work(place, config, patience or fetch.Patience(), tell)
        try:
            with homes.disk_faults(place):
                result = work.run(tuple(sources), from_, sha256, only=only, keep=keep)
        finally:
            shutil.rmtree(place / "unpacked", ignore_errors=True)
    return replace(result, seconds=round(time.monotonic() - started, 3))


@dataclass
class _Work:
    """One refresh, the lock held."""

    home: Path
    config: Config
    patience: fetch.Patience
    tell: Progress
    stale: list[str] = field(default_factory=list)

    def run(
        self, keys: tuple[str, ...], from_: str, sha256: str, *, only: bool, keep: int
    ) -> RefreshResult:
        shutil.rmtree(self.home / "unpacked", ignore_errors=True)
        pointer = homes.pointer(self.home)
        live = homes.manifest(self.home, pointer.snapshot_id)
        recipe: list[dict[str, Any]] = [
            entry for entry in (live.recipe.get("sources", []) if live else ())
            if isinstance(entry, dict)
        ]  # fmt: skip
        if from_:
            asked = [self._handed_in(from_, keys, sha256)]
        else:
            asked = [
                self._as_known(*self._newest(key), recipe) for key in keys or self._usual(recipe)
            ]
        entries = [entry for entry, _ in asked]
        alone = only
        if recipe and not (from_ or keys or only):  # what is live, brought up to date
            newer = {entry["key"]: entry for entry in entries}
            entries = [newer.get(entry["key"], entry) for entry in recipe]
            alone = live is not None and "sr28" not in live.recipe["sources"]
        elif not only:
            names = {entry["key"] for entry in entries}
            entries += [entry for entry in recipe if entry["key"] not in names]
        planned = self._sources(entries, alone=alone)
        asked_for = [{**entry, "status": status} for entry, status in asked]
        there = self._there_already(live, pointer.pinned, inputs_sha256(planned), asked_for)
        if there is not None:
            return there
        unpacked = self._unpack(entries, planned)
        return self._published(live, entries, unpacked, asked_for, alone=alone, keep=keep)

    def _there_already(
        self,
        live: homes.Manifest | None,
        pinned: bool,
        inputs: str,
        asked_for: list[dict[str, Any]],
    ) -> RefreshResult | None:
        """The answer where nothing has to be built: what would be is live, or waits to be chosen."""
        same = [
            m for m in (live, *(homes.manifests(self.home) if pinned else ()))
            if m is not None and (m.input_sha256, m.schema_version) == (inputs, SCHEMA_VERSION)
        ]  # fmt: skip
        if live is None or not same:
            return None
        now, known = homes.as_snapshot(self.home, live), live.snapshot_id
        if same[0] is live:
            said = f"nothing new: {known} holds the newest release ({live.release})"
            return RefreshResult("unchanged", now, known, said, asked_for, notes=self.stale)
        said = (
            f"{same[0].snapshot_id} is there already, but {known} was chosen by "
            f"hand; to switch: steelyard snapshot use {same[0].snapshot_id}"
        )
        return RefreshResult("kept", now, known, said, asked_for)

    def _published(
        self,
        live: homes.Manifest | None,
        entries: list[dict[str, Any]],
        unpacked: list[Source],
        asked_for: list[dict[str, Any]],
        *,
        alone: bool,
        keep: int,
    ) -> RefreshResult:
        """Build the new snapshot, hold it against the live one, and make it live."""
        comparable = None
        if live is not None and live.schema_version == SCHEMA_VERSION:
            comparable = homes.as_snapshot(self.home, live)
        snapshot = build(
            self.home,
            unpacked,
            kind="refresh",
            recipe={"sources": [*entries, *(["sr28"] if not alone else [])]},
            progress=self.tell,
            previous=comparable.path if comparable is not None else None,
            also=everyday_checks(comparable, alone=alone) if comparable is not None else None,
        )
        before = live.snapshot_id if live is not None else ""
        said = f"{snapshot.snapshot_id} is live: {snapshot.source}, release {snapshot.release}"
        removed = prune_locked(self.home, keep)
        return RefreshResult(
            "published", snapshot, before, said, asked_for, removed, notes=_notes(snapshot)
        )

    def _as_known(
        self, entry: dict[str, Any], status: str, recipe: list[dict[str, Any]]
    ) -> tuple[dict[str, Any], str]:
        """The entry of the live recipe when the publisher gives its file again under a newer name."""
        known = next(
            (e for e in recipe if e["key"] == entry["key"] and e["sha256"] == entry["sha256"]), None
        )
        if known is None or known["release"] == entry["release"]:
            return entry, status
        self.stale.append(
            f"{entry['url']} is called the release {entry['release']}, and is to the byte the file "
            f"of {known['release']}; nothing was built from it. Try again later"
        )
        return known, "stale"

    def _usual(self, recipe: list[dict[str, Any]]) -> tuple[str, ...]:
        """Keys to ask the publisher for; a national table is a file that the user hands in."""
        live = tuple(
            entry["key"] for entry in recipe
            if entry["kinds"] != ["national"] and entry["key"] in self.config.sources
        )  # fmt: skip
        return live if recipe else self.config.default

    # --- finding and fetching -------------------------------------------------------------
    def _newest(self, key: str) -> tuple[dict[str, Any], str]:
        """The recipe entry of a source's newest release, fetched; and whether it is new."""
        source = self.config.sources[key]
        url, release = source.url, release_of(source.url)
        if not url:
            self.tell(f"asking for {source.title or key}", 0.0)
            found = fetch.newest_release(
                source.page, source.pattern, self.config.base, self.home / "http-cache",
                self.patience,
            )  # fmt: skip
            if found.stale_since:
                raise unreachable(
                    source.page,
                    f'"{source.page}" does not answer',
                    f"its last good answer is of {found.stale_since} and named the release "
                    f"{found.date}",
                )
            url, release = found.url, found.date
        got = fetch.download(
            url, self.home / "downloads", sha256=source.sha256, patience=self.patience,
            progress=self.tell,
        )  # fmt: skip
        return _of_archive(key, source.kinds, got.archive, release), got.status

    def _handed_in(
        self, from_: str, keys: tuple[str, ...], sha256: str
    ) -> tuple[dict[str, Any], str]:
        """The recipe entry of what ``--from`` names; local files are copied to be kept."""
        kinds = tuple(
            kind for key in keys
            for kind in (self.config.sources[key].kinds if key in self.config.sources else (key,))
        )  # fmt: skip
        load_order(kinds)
        if re.match(r"^[a-z]+://", from_):
            got = fetch.download(
                from_, self.home / "downloads", sha256=sha256, patience=self.patience,
                progress=self.tell,
            )  # fmt: skip
            archive, status = got.archive, got.status
        else:
            path = Path(from_).expanduser()
            if path.suffix == ".toml" and path.is_file():
                return self._national(path)
            if path.is_dir():
                return self._folder(path, kinds, keys), "new"
            archive, status = self._copied(path, sha256), "new"
        kinds = kinds or self._kinds_in(self.home / "downloads" / archive.path)
        key = keys[0] if keys else "_".join(kinds)
        return _of_archive(key, kinds, archive), status

    def _copied(self, path: Path, sha256: str) -> fetch.Archive:
        if not path.is_file():
            raise failure("source-file-missing", source=str(path), path=path)
        found = sha256_of(path)
        if sha256 and found != sha256.lower():
            raise failure(
                "archive-wrong-sum", source=str(path), name=path.name, found=found,
                expected=sha256.lower(),
            )  # fmt: skip
        with path.open("rb") as handle:
            if not handle.read(4).startswith(fetch.ZIP):
                raise archives.refused(path, "is no zip archive", "it does not begin as one")
        downloads = self.home / "downloads"
        downloads.mkdir(parents=True, exist_ok=True)
        name = re.sub(r"[^\w.-]", "_", path.name)
        target = downloads / f"{found[:12]}-{name}"
        if not target.is_file():
            part = target.with_suffix(".copying")
            shutil.copyfile(path, part)
            part.replace(target)
        return fetch.Archive(str(path), target.name, found, target.stat().st_size)

    def _folder(self, path: Path, kinds: tuple[str, ...], keys: tuple[str, ...]) -> dict[str, Any]:
        """Extracted files are read where they lie; their sum is over names and contents."""
        files = sorted(
            p for p in [*path.glob("*.csv"), *path.glob("*/*.csv")] if p.name.lower() in FILE_NAMES
        )
        if not files:
            raise archives.refused(path, "holds none of the tables of a release", "no such CSV")
        kinds = kinds or _kinds_of(p.name.lower() for p in files)
        digest = hashlib.sha256()
        for file in files:
            digest.update(f"{file.name} {sha256_of(file)}\n".encode())
        where = str(path.resolve())
        size = sum(file.stat().st_size for file in files)
        key, sha256 = keys[0] if keys else "_".join(kinds), digest.hexdigest()
        return _entry(key, kinds, release_of(where), sha256, size, where, folder=where)

    def _national(self, path: Path) -> tuple[dict[str, Any], str]:
        """A mapping and its files are copied, so that a later rebuild finds them unchanged."""
        table = read_mapping(path)
        facts, files = table.facts, table.files
        target = self.home / "downloads" / f"{facts.source}-{facts.sha256[:12]}"
        if not target.is_dir():
            part = target.with_suffix(".copying")
            shutil.rmtree(part, ignore_errors=True)
            for file in files:
                copy = part / file.relative_to(path.parent)
                copy.parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(file, copy)
            shutil.copyfile(path, part / "mapping.toml")
            part.replace(target)
        size = files[0].stat().st_size
        kinds, own = ("national",), target.name
        entry = _entry(
            facts.source, kinds, facts.release, facts.sha256, size, str(path), archive=own
        )
        return entry, "new"

    def _kinds_in(self, path: Path) -> tuple[str, ...]:
        try:
            with zipfile.ZipFile(path) as packed:
                return _kinds_of(n.rpartition("/")[2].lower() for n in packed.namelist())
        except zipfile.BadZipFile as fault:
            raise archives.refused(path, "is damaged or cut short", str(fault)) from fault

    # --- building -------------------------------------------------------------------------
    def _sources(self, entries: list[dict[str, Any]], *, alone: bool) -> list[Source]:
        """Sources as planned, before anything is unpacked; their facts are known already.

        The embedded table comes last; ``alone``: for reference only.
        """
        planned: list[Source] = []
        for entry in entries:
            if entry["kinds"] == ["national"]:
                planned.append(read_mapping(self._kept(entry) / "mapping.toml"))
            else:
                folder = Path(entry.get("folder") or self.home / "unpacked" / entry["sha256"][:12])
                told = (entry[name] for name in ("release", "sha256", "url"))
                planned.append(FdcBundle(folder, tuple(entry["kinds"]), *told))
        return [*planned, Sr28(reference=alone)]

    def _kept(self, entry: dict[str, Any]) -> Path:
        """The archive or folder of an entry, which a rebuild needs."""
        file = entry.get("folder") or entry["archive"]
        path = Path(file) if entry.get("folder") else self.home / "downloads" / file
        if not path.exists():
            raise failure("source-archive-gone", source=entry["url"], key=entry["key"], file=file)
        return path

    def _unpack(self, entries: list[dict[str, Any]], planned: list[Source]) -> list[Source]:
        for entry in entries:
            path = self._kept(entry)
            if path.is_dir():
                continue
            target = self.home / "unpacked" / entry["sha256"][:12]
            target.parent.mkdir(parents=True, exist_ok=True)
            archives.unpack(path, target, FILE_NAMES, progress=self.tell)
        for source in planned:
            if isinstance(source, FdcBundle):
                source.check_headers()
        return planned


def _entry(
    key: str, kinds: tuple[str, ...], release: str, sha256: str, size: int, url: str, **place: str
) -> dict[str, Any]:
    """A source as the recipe of a snapshot keeps it; ``place`` names its archive or folder."""
    known = {"key": key, "kinds": list(kinds), "release": release, **place}
    return {**known, "sha256": sha256, "size": size, "url": url}


def _of_archive(
    key: str, kinds: tuple[str, ...], archive: fetch.Archive, release: str = ""
) -> dict[str, Any]:
    release = release or release_of(archive.path)
    sums = archive.sha256, archive.size, archive.url
    return _entry(key, kinds, release, *sums, archive=archive.path)


def _notes(snapshot: Snapshot) -> list[str]:
    """Warnings of the gate in words: what does not hold, how often, and the first rows."""
    try:
        text = (snapshot.folder / "checks.json").read_text(encoding="utf-8")
        checks = [c for c in json.loads(text)["checks"] if not c["success"]]
    except (OSError, ValueError, KeyError):
        return []
    return [
        f"not so: {c['says']} ({c['unexpected']} of the {c['table']} table"
        + (f"; {', '.join(c['rows'][:3])}" if c["rows"] else "")
        + ")"
        for c in checks
    ]


def _kinds_of(names: Any) -> tuple[str, ...]:
    """Data types a set of file names can be loaded as; Branded only on request."""
    own = {"foundation_food.csv": "foundation", "sr_legacy_food.csv": "sr_legacy",
           "survey_fndds_food.csv": "survey"}  # fmt: skip
    found = {own[name] for name in names if name in own}
    return tuple(kind for kind in KINDS if kind in found) or ("foundation",)
