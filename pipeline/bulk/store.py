"""Where a run keeps its work: a folder, or any fsspec address. A file is there whole or not at all.

Every step writes a file beside its place and renames it when it is complete, so what exists is
done and a run that was killed goes on from there.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline.safe_files import replacing


def is_url(path: str | Path) -> bool:
    """Whether a path names a store of fsspec rather than a place on this machine's disks."""
    return "://" in str(path)


@dataclass(frozen=True, slots=True)
class Store:
    """Files below one address; picklable, so that workers elsewhere reach the same files.

    Args:
        root: a folder, or a URL such as ``s3://bucket/run`` that fsspec knows.
    """

    root: str

    @property
    def remote(self) -> bool:
        """Whether the files lie behind fsspec."""
        return is_url(self.root)

    def _fs(self) -> tuple[Any, str]:
        import fsspec

        return fsspec.core.url_to_fs(self.root)  # type: ignore[no-any-return]

    def path(self, name: str) -> Path:
        """Place of a file of a local store."""
        return Path(self.root) / name

    def exists(self, name: str) -> bool:
        """Whether the file (or folder) is there, which means: whole."""
        if not self.remote:
            return self.path(name).exists()
        fs, root = self._fs()
        return bool(fs.exists(f"{root}/{name}"))

    def names(self, folder: str) -> list[str]:
        """Files directly below ``folder``, as names for this store, in name order."""
        if not self.remote:
            place = self.path(folder)
            found = place.iterdir() if place.is_dir() else iter(())
            return sorted(f"{folder}/{p.name}" for p in found if not p.name.startswith("."))
        fs, root = self._fs()
        if not fs.exists(f"{root}/{folder}"):
            return []
        listed = (str(entry).rpartition("/")[2] for entry in fs.ls(f"{root}/{folder}", False))
        return sorted(f"{folder}/{name}" for name in listed if name and not name.startswith("."))

    @contextmanager
    def reading(self, *names: str) -> Iterator[list[Path]]:
        """Local copies of files; for a local store the files themselves."""
        if not self.remote:
            yield [self.path(name) for name in names]
            return
        fs, root = self._fs()
        with tempfile.TemporaryDirectory(prefix="steelyard-") as folder:
            local = [Path(folder) / f"{n}-{Path(name).name}" for n, name in enumerate(names)]
            for name, path in zip(names, local, strict=True):
                fs.get_file(f"{root}/{name}", str(path))
            yield local

    @contextmanager
    def writing(self, name: str) -> Iterator[Path]:
        """A path to write to; on a clean exit the file takes its place in one step."""
        if self.remote:
            fs, root = self._fs()
            with tempfile.TemporaryDirectory(prefix="steelyard-") as folder:
                path = Path(folder) / Path(name).name
                yield path
                fs.makedirs(f"{root}/{name}".rpartition("/")[0], exist_ok=True)
                fs.put_file(str(path), f"{root}/{name}")
            return
        with replacing(self.path(name)) as path:
            yield path

    def write_text(self, name: str, text: str) -> None:
        """Write a small file whole."""
        with self.writing(name) as path:
            path.write_text(text, encoding="utf-8", newline="\n")

    def read_text(self, name: str) -> str:
        """Text of a small file.

        Raises:
            FileNotFoundError: it is not there.
        """
        with self.reading(name) as (path,):
            return path.read_text(encoding="utf-8")

    def remove(self, folder: str = "") -> None:
        """Remove a folder and all below it; nothing to remove is no fault."""
        if not self.remote:
            shutil.rmtree(self.path(folder) if folder else Path(self.root), ignore_errors=True)
            return
        fs, root = self._fs()
        place = f"{root}/{folder}" if folder else root
        if fs.exists(place):
            fs.rm(place, recursive=True)
