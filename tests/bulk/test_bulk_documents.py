"""Documents through the bulk door: the same recipes, ids and problems as in a plain run."""

from __future__ import annotations

import zipfile
from pathlib import Path

import duckdb

from pipeline.bulk.schedule import verify_bulk
from pipeline.run import verify

_BODY = "<h2>{}</h2><p>Serves 2</p><ul><li>200 g rice</li><li>20 g butter</li></ul><p>Per serving: 430 kcal, 7 g protein</p>"


def _book(path: Path, titles: list[str]) -> None:
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("META-INF/container.xml", "<c><rootfile full-path='b.opf'/></c>")
        items = "".join(f"<item id='{n}' href='c{n}.xhtml'/>" for n in range(len(titles)))
        refs = "".join(f"<itemref idref='{n}'/>" for n in range(len(titles)))
        book.writestr("b.opf", f"<package>{items}{refs}</package>")
        for n, title in enumerate(titles):
            book.writestr(f"c{n}.xhtml", f"<html><body>{_BODY.format(title)}</body></html>")


def test_documents_in_bulk_are_those_of_a_plain_run(tmp_path, snapshot):
    folder = tmp_path / "in"
    folder.mkdir()
    _book(folder / "galley.epub", ["Quay rice", "Pier rice"])
    (folder / "saved.html").write_text(f"<html><body>{_BODY.format('Mole rice')}</body></html>")
    (folder / "broken.docx").write_bytes(b"PK\x03\x04" + b"x" * 99)
    (folder / "photo.jpg").write_bytes(b"x")
    plain = verify(folder)
    bulk = verify_bulk(folder, tmp_path / "out", workers=1)

    def column(table: str, name: str) -> list[str]:
        query = f"select {name} from read_parquet('{bulk.folder}/{table}/*.parquet', union_by_name = true)"
        with duckdb.connect() as con:
            return sorted(str(row[0]) for row in con.execute(query).fetchall())

    ids = sorted(plain.recipes["recipe_id"])
    assert ids == ["galley.epub#c0.xhtml", "galley.epub#c1.xhtml", "saved.html"]
    assert column("recipes", "recipe_id") == ids
    codes = sorted(plain.problems["code"])
    assert {"document-damaged", "files-left-out"} <= set(codes)
    assert column("problems", "code") == codes
