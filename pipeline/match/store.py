"""The index kept beside its snapshot, so that a run starts in milliseconds instead of a second."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

from pipeline import kept
from pipeline.match.columns import Columns, Meaning
from pipeline.match.foods import Foods
from pipeline.match.index import Index
from pipeline.match.knowledge import AbsentRow, Concept, Knowledge

#: Fields of ``Index`` that are plain lists, dicts, tuples and numbers.
_PLAIN = (
    "vocabulary", "brand_words", "by_words", "by_words_unbranded", "tables", "home", "nearest",
    "cocoa", "table_heads",
)  # fmt: skip
#: Fields of ``Foods`` that are lists of sets, many of them equal.
_SETS = ("states", "kinds")
#: Fields of ``Foods`` that are plain lists.
_COLUMNS = tuple(f.name for f in fields(Foods) if f.name not in ("macros", *_SETS))
#: What builds an index.
_CODE = (
    "build.py",
    "columns.py",
    "concepts.py",
    "facets.py",
    "foods.py",
    "index.py",
    "knowledge.py",
    "store.py",
)


def index_key(snapshot_id: str, knowledge_digest: str) -> str:
    """Digest of everything an index follows from."""
    folder = Path(__file__).parent
    code = [*(folder / name for name in _CODE), folder.parent / "foods" / "words.py"]
    return kept.key((snapshot_id, knowledge_digest), code)


def save_index(index: Index, path: Path) -> None:
    """Write an index with its foods in one step."""
    known, foods = index.knowledge, index.foods
    kept.save(
        path,
        {
            "foods": {name: getattr(foods, name) for name in _COLUMNS},
            "macros": kept.packed(foods.macros.reshape(-1)),
            "plain": {name: getattr(index, name) for name in _PLAIN},
            "sets": {name: _shared(getattr(foods, name)) for name in _SETS},
            "columns": kept.state(index.columns, but=("meanings",)),
            "meanings": [tuple(meaning) for meaning in index.columns.meanings],
            "names": list(index.names),
            "names_but_state": sorted(index.names_but_state),
            "postings": {
                w: (kept.packed(a), kept.packed(b)) for w, (a, b) in index.postings.items()
            },
            "name_postings": {w: kept.packed(at) for w, at in index.name_postings.items()},
            "burden": kept.packed(index.burden),
            "name_rows": len(known.names),
            "absent": tuple((a.phrases, tuple(a.nearest), a.why) for a in known.absent),
            "harmless": known.harmless,
            "variants": dict(known.variants),
            "state_phrases": dict(known.state_phrases),
            "foreign": known.foreign,
            "digest": known.digest,
        },
    )


#: The indexes read last, by name, size and time of the file: a process that runs twice (``watch``,
#: the drift between two tables) reads each once. The name tells the snapshot.
_READ: dict[tuple[str, int, int], Index] = {}
_READ_MOST = 2


def read_index(path: Path) -> Index | None:
    """An index written before, with its foods; None when there is none to be trusted."""
    try:
        told = path.stat()
    except OSError:
        return None
    key = (path.name, told.st_size, told.st_mtime_ns)
    if key in _READ:
        return _READ[key]
    index = _read(path)
    if index is not None:
        while len(_READ) >= _READ_MOST:
            _READ.pop(next(iter(_READ)))
        _READ[key] = index
    return index


def _read(path: Path) -> Index | None:
    got = kept.read(path)
    if got is None:
        return None
    sets = {name: [of[at] for at in places] for name, (of, places) in got["sets"].items()}
    foods = Foods(**got["foods"], **sets, macros=kept.unpacked(got["macros"]).reshape(-1, 4))
    knowledge = Knowledge(
        names=(),
        absent=tuple(AbsentRow(p, Concept(*near), why) for p, near, why in got["absent"]),
        harmless=got["harmless"], variants=got["variants"], state_phrases=got["state_phrases"],
        digest=got["digest"], name_rows=got["name_rows"], foreign=got["foreign"],
    )  # fmt: skip
    columns = Columns.__new__(Columns)
    kept.restored(columns, got["columns"])
    columns.meanings = [Meaning(*one) for one in got["meanings"]]
    index = Index(
        foods=foods,
        knowledge=knowledge,
        columns=columns,
        names={phrase: at for at, phrase in enumerate(got["names"])},
        postings=kept.Lazily(got["postings"], lambda pair: tuple(map(kept.unpacked, pair))),
        name_postings=kept.Lazily(got["name_postings"], kept.unpacked),
        burden=kept.unpacked(got["burden"]),
        **got["plain"],
    )
    vars(index)["names_but_state"] = frozenset(got["names_but_state"])  # else worked out when asked
    return index


def _shared(sets: list[frozenset[str]]) -> tuple[list[frozenset[str]], list[int]]:
    """The different ones of many sets, and which of them each is."""
    number = {one: at for at, one in enumerate(dict.fromkeys(sets))}
    return list(number), [number[one] for one in sets]
