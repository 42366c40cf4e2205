"""The index kept beside its snapshot, so that a run starts in milliseconds instead of a second.

The file is derived and may be thrown away at any time: its name holds a digest of the snapshot, of
the names tables and of the code that builds the index, and its head a checksum of the body. A file
that is not exactly as expected is built again.
"""

from __future__ import annotations

import contextlib
import hashlib
import marshal
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import numpy as np

from pipeline.match.foods import Foods
from pipeline.match.index import Index, Sense
from pipeline.match.knowledge import AbsentRow, Concept, Knowledge

_MAGIC = b"steelyard index 3\n"
#: Fields of ``Index`` that are plain lists, dicts, tuples and numbers.
_PLAIN = (
    "food_words", "weight", "vocabulary", "unknown_weight", "own_weight", "needs", "need",
    "strange", "contrast", "usual", "brand_words", "by_words", "by_words_unbranded",
    "name_list", "tables", "home", "nearest", "cocoa", "table_heads",
)  # fmt: skip


def index_key(snapshot_id: str, knowledge_digest: str) -> str:
    """Digest of everything an index follows from."""
    made_of = hashlib.sha256()
    made_of.update(f"{snapshot_id}\0{knowledge_digest}\0{sys.version_info[:2]}".encode())
    folder = Path(__file__).parent
    own = ("concepts.py", "facets.py", "index.py", "knowledge.py", "store.py")
    for path in (*(folder / name for name in own), folder.parent / "foods" / "words.py"):
        with contextlib.suppress(OSError):
            made_of.update(path.read_bytes())
    return made_of.hexdigest()[:16]


def _packed(arrays: tuple[np.ndarray, ...]) -> tuple[tuple[str, bytes], ...]:
    return tuple((a.dtype.str, a.tobytes()) for a in arrays)


def _array(packed: tuple[str, bytes]) -> np.ndarray:
    return np.frombuffer(packed[1], dtype=packed[0])


def save_index(index: Index, path: Path) -> None:
    """Write an index in one step; a folder that cannot be written is no fault."""
    known = index.knowledge
    body = marshal.dumps(
        {
            "plain": {name: getattr(index, name) for name in _PLAIN},
            "names": {p: tuple(tuple(s) for s in senses) for p, senses in index.names.items()},
            "postings": {w: _packed(pair) for w, pair in index.postings.items()},
            "name_postings": {w: _packed((at,)) for w, at in index.name_postings.items()},
            "burden": _packed((index.burden,)),
            "name_weights": _packed((index.name_weights,)),
            "name_rows": len(known.names),
            "absent": tuple((a.phrases, tuple(a.nearest), a.why) for a in known.absent),
            "harmless": known.harmless,
            "variants": dict(known.variants),
            "state_phrases": dict(known.state_phrases),
            "foreign": known.foreign,
            "digest": known.digest,
        }
    )
    with contextlib.suppress(OSError):
        handle, name = tempfile.mkstemp(prefix=".index-", dir=path.parent)
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(_MAGIC + hashlib.sha256(body).digest() + body)
            os.replace(name, path)
        except OSError:
            os.unlink(name)
            raise


#: The indexes read last, by name, size and time of the file: a process that runs twice (``watch``,
#: the drift between two tables) reads each once. The name tells the snapshot.
_READ: dict[tuple[str, int, int], Index] = {}
_READ_MOST = 2


def read_index(path: Path, load_foods: Callable[[], Foods]) -> Index | None:
    """An index written before over a snapshot's foods; None when there is none to be trusted.

    Args:
        path: the file.
        load_foods: gives the foods when the file has to be read.
    """
    try:
        told = path.stat()
        key = (path.name, told.st_size, told.st_mtime_ns)
        if key in _READ:
            return _READ[key]
        index = _read(path.read_bytes(), load_foods())
    except OSError:
        return None
    if index is not None:
        while len(_READ) >= _READ_MOST:
            _READ.pop(next(iter(_READ)))
        _READ[key] = index
    return index


def _read(raw: bytes, foods: Foods) -> Index | None:
    """The index in a file; None when it is not exactly as expected."""
    start = len(_MAGIC) + 32
    if (
        not raw.startswith(_MAGIC)
        or hashlib.sha256(raw[start:]).digest() != raw[len(_MAGIC) : start]
    ):
        return None
    got = marshal.loads(raw[start:])
    if len(got["plain"]["food_words"]) != len(foods):
        return None
    knowledge = Knowledge(
        names=(),
        absent=tuple(AbsentRow(p, Concept(*near), why) for p, near, why in got["absent"]),
        harmless=got["harmless"], variants=got["variants"], state_phrases=got["state_phrases"],
        digest=got["digest"], name_rows=got["name_rows"], foreign=got["foreign"],
    )  # fmt: skip
    return Index(
        foods=foods,
        knowledge=knowledge,
        names={p: tuple(Sense(*s) for s in senses) for p, senses in got["names"].items()},
        postings={w: (_array(a), _array(b)) for w, (a, b) in got["postings"].items()},
        name_postings={w: _array(a) for w, (a,) in got["name_postings"].items()},
        burden=_array(got["burden"][0]),
        name_weights=_array(got["name_weights"][0]),
        **got["plain"],
    )
