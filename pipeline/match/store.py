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
from pathlib import Path

import numpy as np

from pipeline.match.facets import Facets
from pipeline.match.foods import Foods
from pipeline.match.index import Index, Sense
from pipeline.match.knowledge import Knowledge

_MAGIC = b"steelyard index 1\n"


def index_key(snapshot_id: str, knowledge_digest: str) -> str:
    """Digest of everything an index follows from."""
    made_of = hashlib.sha256()
    made_of.update(f"{snapshot_id}\0{knowledge_digest}\0{sys.version_info[:2]}".encode())
    folder = Path(__file__).parent
    for name in ("facets.py", "index.py", "knowledge.py", "store.py", "words.py"):
        with contextlib.suppress(OSError):
            made_of.update((folder / name).read_bytes())
    return made_of.hexdigest()[:16]


def save_index(index: Index, path: Path) -> None:
    """Write an index in one step; a folder that cannot be written is no fault."""
    known = index.knowledge
    body = marshal.dumps(
        {
            "facets": [tuple(f) for f in index.facets],
            "food_words": index.food_words,
            "names": {p: tuple(tuple(s) for s in senses) for p, senses in index.names.items()},
            "postings": {w: (a.tobytes(), b.tobytes()) for w, (a, b) in index.postings.items()},
            "weight": index.weight,
            "burden": index.burden.tobytes(),
            "vocabulary": index.vocabulary,
            "unknown_weight": index.unknown_weight,
            "cocoa": index.cocoa,
            "table_heads": index.table_heads,
            "name_rows": len(known.names),
            "absent": tuple((a.phrases, a.nearest_code, a.why) for a in known.absent),
            "harmless": known.harmless,
            "variants": dict(known.variants),
            "state_phrases": dict(known.state_phrases),
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


def read_index(path: Path, foods: Foods) -> Index | None:
    """An index written before over the same ``foods``; None when there is none to be trusted."""
    from pipeline.match.knowledge import AbsentRow

    try:
        raw = path.read_bytes()
    except OSError:
        return None
    start = len(_MAGIC) + 32
    if (
        not raw.startswith(_MAGIC)
        or hashlib.sha256(raw[start:]).digest() != raw[len(_MAGIC) : start]
    ):
        return None
    got = marshal.loads(raw[start:])
    if len(got["food_words"]) != len(foods):
        return None
    knowledge = Knowledge(
        names=(), absent=tuple(AbsentRow(*a) for a in got["absent"]), harmless=got["harmless"],
        variants=got["variants"], state_phrases=got["state_phrases"], digest=got["digest"],
        name_rows=got["name_rows"],
    )  # fmt: skip
    return Index(
        foods=foods,
        knowledge=knowledge,
        facets=[Facets(*f) for f in got["facets"]],
        food_words=got["food_words"],
        names={p: tuple(Sense(*s) for s in senses) for p, senses in got["names"].items()},
        postings={
            w: (np.frombuffer(a, dtype=np.int32), np.frombuffer(b, dtype=np.float32))
            for w, (a, b) in got["postings"].items()
        },
        weight=got["weight"],
        burden=np.frombuffer(got["burden"], dtype=np.float32),
        vocabulary=got["vocabulary"],
        unknown_weight=got["unknown_weight"],
        cocoa=got["cocoa"],
        table_heads=got["table_heads"],
    )
