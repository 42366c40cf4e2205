"""Unpacking an archive that came from somewhere else: only what is wanted, never outside."""

from __future__ import annotations

import shutil
import stat
import zipfile
import zlib
from pathlib import Path, PurePosixPath

from pipeline.problems import SteelyardError, failure
from pipeline.snapshot.builder import Progress, quiet

_CHUNK = 1 << 20


#: An honest release stays below these with room: files in the archive (some 40), bytes unpacked of what
#: is wanted (some 3 GB in all), unpacked to packed size of one file (CSV packs 5 to 25 times).
MOST_FILES, MOST_BYTES, MOST_RATIO = 2_000, 20 << 30, 200.0


def refused(path: Path, what: str, why: str, fix: str = "") -> SteelyardError:
    """The archive is not used; nothing of it was unpacked outside its folder."""
    fix = fix or "download it again from the publisher and compare its sha256"
    return failure("archive-refused", source=path.name, name=path.name, what=what, why=why, fix=fix)


def unpack(
    path: Path,
    folder: Path,
    wanted: frozenset[str],
    *,
    progress: Progress = quiet,
) -> Path:
    """Unpack the wanted files of a zip, flat, into ``folder``.

    Args:
        folder: made; only files named in ``wanted`` are written, under that name.
        wanted: base names, lower case.
        progress: called with (what, share done).

    Returns:
        ``folder``.

    Raises:
        SteelyardError: it is no whole zip; names a path outside, a link or a file twice; is
            encrypted; or would unpack to more than the limits allow.
    """
    try:
        with zipfile.ZipFile(path) as packed:
            members = _checked(path, packed, wanted)
            total = sum(member.file_size for member in members.values())
            free = shutil.disk_usage(folder.parent).free
            if total * 1.5 > free:
                raise refused(
                    path, "does not fit on the disk",
                    f"it unpacks to {total / 1e9:.1f} GB and {free / 1e9:.1f} GB are free",
                    "free disk space or set STEELYARD_HOME to another disk",
                )  # fmt: skip
            folder.mkdir(parents=True, exist_ok=True)
            written = 0
            for name, member in members.items():
                progress(f"unpacking {name}", written / max(total, 1))
                written += _copy(path, packed, member, folder / name)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError) as fault:
        raise refused(
            path, "is damaged or cut short", str(fault) or type(fault).__name__
        ) from fault
    return folder


def _checked(
    path: Path, packed: zipfile.ZipFile, wanted: frozenset[str]
) -> dict[str, zipfile.ZipInfo]:
    infos = packed.infolist()
    if len(infos) > MOST_FILES:
        raise refused(path, f"holds {len(infos)} files", f"more than {MOST_FILES} is no release")
    found: dict[str, zipfile.ZipInfo] = {}
    for info in infos:
        name = info.filename.replace("\\", "/")
        place = PurePosixPath(name)
        if place.is_absolute() or ".." in place.parts or (place.parts and ":" in place.parts[0]):
            raise refused(
                path, f'names a path outside itself: "{info.filename}"',
                "such an archive can overwrite other files",
            )  # fmt: skip
        if stat.S_ISLNK(info.external_attr >> 16):
            raise refused(path, f'holds a link: "{info.filename}"', "links may lead outside")
        if info.is_dir() or place.name.lower() not in wanted:
            continue
        if info.flag_bits & 0x1:
            raise refused(path, f'is encrypted: "{info.filename}"', "releases are not")
        if info.file_size > _CHUNK and info.file_size > MOST_RATIO * max(info.compress_size, 1):
            raise refused(
                path, f'packs "{info.filename}" {info.file_size // max(info.compress_size, 1)} '
                "times smaller", f"more than {MOST_RATIO:g} times is no table but a zip bomb",
            )  # fmt: skip
        if place.name.lower() in found:
            raise refused(path, f'holds "{place.name}" twice', "it is not clear which one is meant")
        found[place.name.lower()] = info
    total = sum(info.file_size for info in found.values())
    if total > MOST_BYTES:
        raise refused(
            path, f"unpacks to {total / 1e9:.1f} GB",
            f"more than {MOST_BYTES / 1e9:.1f} GB is no release",
        )  # fmt: skip
    if not found:
        raise refused(path, "holds none of the tables of a release", _listing(infos))
    return found


def _listing(infos: list[zipfile.ZipInfo]) -> str:
    names = [info.filename for info in infos[:8]]
    return f"it holds: {', '.join(names) or 'nothing'}{' ...' if len(infos) > 8 else ''}"


def _copy(path: Path, packed: zipfile.ZipFile, member: zipfile.ZipInfo, target: Path) -> int:
    """Write one file, counting: a header may lie about the size. The check sum is verified."""
    written = 0
    with packed.open(member) as source, target.open("wb") as sink:
        while block := source.read(_CHUNK):
            written += len(block)
            if written > member.file_size:
                raise refused(path, f'lies about the size of "{member.filename}"', "a zip bomb")
            sink.write(block)
    return written
