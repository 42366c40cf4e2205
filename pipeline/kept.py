"""What is worked out once from a snapshot and kept beside it, so that a run starts at once.

A file is derived and may be thrown away at any time. Its name holds a digest of everything it
follows from, code included, and its head a checksum of the body; a file that is not exactly as
expected is worked out again. Bodies are plain lists, dicts, numbers and bytes (marshal), never code.
"""

from __future__ import annotations

import contextlib
import gc
import hashlib
import marshal
import mmap
import sys
import zlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import numpy as np

from pipeline.safe_files import write_atomically

_MAGIC = b"steelyard kept 2\n"

#: An array as plain values.
Packed = tuple[str, bytes]


def key(parts: Iterable[str], code: Iterable[Path]) -> str:
    """Digest of everything a kept file follows from.

    Args:
        parts: names and digests of the data.
        code: files of Python that work it out; one that cannot be read counts for nothing.
    """
    made_of = hashlib.sha256("\0".join([*parts, str(sys.version_info[:2])]).encode())
    for path in code:
        with contextlib.suppress(OSError):
            made_of.update(path.read_bytes())
    return made_of.hexdigest()[:16]


def packed(array: np.ndarray) -> Packed:
    """An array of one dimension as plain values."""
    return array.dtype.str, array.tobytes()


def unpacked(plain: Packed) -> np.ndarray:
    """The array; read-only, over the bytes as they are."""
    return np.frombuffer(plain[1], dtype=plain[0])


def state(thing: object, but: Iterable[str] = ()) -> dict[str, Any]:
    """What an object holds, arrays as plain values; ``restored`` makes the same of it.

    Args:
        thing: its attributes are arrays and plain values.
        but: attributes to leave out.
    """
    stored: dict[str, Any] = {}
    for name, value in vars(thing).items():
        if name in but:
            continue
        if not isinstance(value, np.ndarray):
            stored[name] = ("value", value)
        elif value.dtype == object:
            stored[name] = ("objects", value.tolist())
        else:
            stored[name] = ("array", packed(value.reshape(-1)), value.shape)
    return stored


def restored(thing: Any, stored: dict[str, Any]) -> None:
    """Give an object what ``state`` stored; arrays of numbers are read-only."""
    for name, (kind, value, *shape) in stored.items():
        if kind == "array":
            value = unpacked(value).reshape(*shape)
        elif kind == "objects":
            objects = np.empty(len(value), dtype=object)
            objects[:] = value
            value = objects
        setattr(thing, name, value)


def save(path: Path, body: dict[str, Any]) -> None:
    """Write a file in one step, in the place of older ones; a folder that cannot be written is no fault.

    Args:
        path: named ``STEM-KEY.bin``.
        body: plain values only.
    """
    if not path.parent.is_dir():
        return
    data = marshal.dumps(body)
    with contextlib.suppress(OSError):
        for old in path.parent.glob(f"{path.stem.rpartition('-')[0]}-*.bin"):
            old.unlink(missing_ok=True)
        write_atomically(path, _MAGIC + _checksum(data) + data, durable=False)


def read(path: Path) -> dict[str, Any] | None:
    """The body of a file written before; None when there is none to be trusted."""
    try:
        with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as raw:
            return _body(memoryview(raw))
    except (OSError, ValueError):  # an empty file cannot be mapped
        return None


def _body(raw: memoryview) -> dict[str, Any] | None:
    start = len(_MAGIC) + 4
    with raw, raw[:start] as head, raw[start:] as data:
        if head != _MAGIC + _checksum(data):
            return None
        with without_collecting():
            body: dict[str, Any] = marshal.loads(data)
        return body


def _checksum(data: bytes | memoryview) -> bytes:
    """Against writes cut short and damaged disks; a digest would take longer than reading does."""
    return zlib.crc32(data).to_bytes(4, "big")


@contextlib.contextmanager
def without_collecting() -> Iterator[None]:
    """No search for garbage in cycles: where many plain values are made it costs, and finds none."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


#: ``gc.set_threshold`` of a run: the stages make many small objects and next to no cycles, and
#: looking for cycles as often as Python does costs a fifth, and more the larger a collection is.
SELDOM = (200_000, 20, 50)


@contextlib.contextmanager
def collecting_seldom() -> Iterator[None]:
    """Search for garbage in cycles seldom; a caller who has set it to more seldom keeps that."""
    before = gc.get_threshold()
    if 0 < before[0] < SELDOM[0]:
        gc.set_threshold(*SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(*before)


class Lazily(dict[Any, Any]):
    """A dict whose values are made of plain ones when they are asked for, and kept.

    Args:
        plain: the dict as it was read.
        make: turns a plain value into what it stands for.
    """

    __slots__ = ("_made", "_make")

    def __init__(self, plain: dict[Any, Any], make: Any) -> None:
        super().__init__(plain)
        self._make = make
        self._made: dict[Any, Any] = {}

    def __getitem__(self, name: Any) -> Any:
        if name not in self._made:
            self._made[name] = self._make(super().__getitem__(name))
        return self._made[name]

    def get(self, name: Any, default: Any = None) -> Any:
        try:
            return self[name]
        except KeyError:
            return default

    def values(self) -> Any:
        return (self[name] for name in self)

    def items(self) -> Any:
        return self._pairs()

    def _pairs(self) -> Iterator[tuple[Any, Any]]:
        return ((name, self[name]) for name in self)
