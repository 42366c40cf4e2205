"""Documents with bytes spoiled: each is read or told, nothing raises, and the card beside it is read."""

from __future__ import annotations

import importlib.util
import random
import zipfile
from pathlib import Path

import pytest
from generated import spoiled_bytes

from pipeline.intake import read_collection

_MADE = Path(__file__).parent.parent / "intake" / "made_documents.py"
_spec = importlib.util.spec_from_file_location("made_documents", _MADE)
assert _spec is not None
assert _spec.loader is not None
made = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(made)

LINES = ["250 g red lentils", "1 onion, chopped", "Per serving: 280 kcal, 15 g protein"]
CARD = "Pea soup\nServes 2\n\n- 200 g peas\n- 1 onion\n\nPer serving: 120 kcal, 8 g protein\n"
WAYS = 25


def _document(path: Path) -> Path:
    texts = ["Tidewater pot", "Serves 4", *LINES]
    if path.suffix == ".docx":
        return made.word(path, "".join(made.word_paragraph(t) for t in texts))
    if path.suffix == ".odt":
        return made.open_text(path, "".join(f"<text:p>{t}</text:p>" for t in texts))
    if path.suffix == ".epub":
        return made.epub(path, ["".join(f"<p>{t}</p>" for t in texts)])
    if path.suffix == ".rtf":
        path.write_text("{\\rtf1 " + "\\par ".join(texts) + "}")
        return path
    return made.pdf(path, [made.column(50, 800, texts)])


def _spoiled_inside(path: Path, dice: random.Random) -> bytes:
    """The document with one part of its archive spoiled; the archive itself is whole."""
    target = path.with_name("inside.zip")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(target, "w") as new:
        chosen = dice.choice(old.namelist())
        for name in old.namelist():
            data = old.read(name)
            new.writestr(name, spoiled_bytes(data, dice) if name == chosen and data else data)
    data = target.read_bytes()
    target.unlink()
    return data


@pytest.mark.parametrize("ending", ["docx", "odt", "epub", "pdf", "rtf"])
def test_spoiled_documents_cost_themselves_alone(tmp_path, ending):
    dice = random.Random(f"documents {ending}")
    whole = _document(tmp_path / f"whole.{ending}")
    data = whole.read_bytes()
    for way in range(WAYS):
        inside = way % 2 and ending not in ("pdf", "rtf")
        spoiled = _spoiled_inside(whole, dice) if inside else spoiled_bytes(data, dice)
        (tmp_path / f"spoiled{way}.{ending}").write_bytes(spoiled)
    (tmp_path / "good.txt").write_text(CARD)
    collection = read_collection(tmp_path)
    read = set(collection.recipe["source"])
    assert {"good.txt", f"whole.{ending}"} <= read
    told = {p.source for p in collection.problems}
    assert {f"spoiled{way}.{ending}" for way in range(WAYS)} <= read | told
    assert all(p.what and (p.fix or p.severity == "note") for p in collection.problems)
