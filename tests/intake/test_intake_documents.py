"""Documents: pages without markup, e-books, Word and OpenDocument texts, PDF. All recipes invented."""

from __future__ import annotations

import math
import zipfile
from pathlib import Path

import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_documents import column, epub, open_text, pdf, word, word_paragraph, word_table

from pipeline.intake import read_collection
from pipeline.intake.documents import read_page_text
from pipeline.intake.documents.pdf_lines import Char, Page, blocks_of, pieces, regions
from pipeline.intake.files import MIB, SourceFile
from pipeline.intake.reading import read_file

P = word_paragraph
NUMBERS = "Per serving: 280 kcal, 15 g protein, 36 g carbs, 8 g fat"
SAID = {"ENERC_KCAL": 280.0, "PROCNT": 15.0, "CHOCDF": 36.0, "FAT": 8.0}
POT = ["250 g red lentils", "1 onion, chopped", "2 tbsp olive oil"]


def recipes(collection):
    """Title, servings, lines and numbers per serving of each recipe."""
    out = []
    for row in collection.recipe.itertuples():
        lines = collection.line[collection.line["recipe_id"] == row.recipe_id]
        told = collection.stated[collection.stated["recipe_id"] == row.recipe_id]
        told = told[told["basis"] == "per_serving"]
        out.append((row.title, row.servings, lines["text"].tolist(),
                    dict(zip(told["nutrient"], told["amount"], strict=True))))  # fmt: skip
    return out


def of_page(tmp_path, body, css=""):
    path = tmp_path / "page.html"
    path.write_text(
        f"<html><head><title>Galley</title><style>{css}</style></head><body>\n{body}\n</body></html>"
    )
    return read_collection(path)


# --- pages and e-books ------------------------------------------------------------------------

ONE = [("Tidewater lentil pot", 4.0, POT, SAID)]
_LIST = "<ul><li>250 g red lentils</li><li>1 onion, chopped</li><li>2 tbsp olive oil</li></ul>"
_PARAGRAPHS = '<p class="i">250 g red lentils</p><p class="i">1 onion, chopped</p><p class="i">2 tbsp olive oil</p>'
LAYOUTS = {
    "list": f"<h2>Tidewater lentil pot</h2><p>Serves 4 | Prep 15 mins</p>{_LIST}<ol><li>Simmer it all.</li></ol><p>{NUMBERS}</p>",
    "what is no text": f"<nav>Serves 9</nav><header>Menu</header><main><h1>Tidewater lentil pot</h1><script>1 egg</script>"
    f"<style>p{{}}</style><p>Serves 4</p>{_LIST}<p>{NUMBERS}</p></main><aside><a href=x>2 eggs</a></aside><footer>9 g</footer>",
    "classes": '<p class="t">Tidewater lentil pot</p><p>Serves 4</p><p class="s">Ingredients</p>'
    f'{_PARAGRAPHS}<p class="s">Method</p><p>Simmer everything slowly until it is quite soft and thick.</p><p>{NUMBERS}</p>',
    "line ends": "<h2>Tidewater lentil pot</h2><p><strong>Ingredients</strong> (serves 4)<br>250 g red lentils<br>"
    f"1 onion, chopped<br/>2 tbsp olive oil</p><p><b>Method</b><br>Simmer.</p><p>{NUMBERS}</p>",
    "layout table": "<h2>Tidewater lentil pot</h2><p>Serves 4</p><table><tr><th>Ingredients</th><th>Method</th></tr><tr><td>"
    f"{_PARAGRAPHS}</td><td><p>Soften the onion.</p><p>Add the lentils.</p><p>Simmer.</p></td></tr></table><p>{NUMBERS}</p>",
    "tables": "<h2>Tidewater lentil pot</h2><p>Serves 4</p><table><tr><td>250 g</td><td>red lentils</td></tr><tr><td>1</td>"
    "<td>onion, chopped</td></tr><tr><td>2 tbsp</td><td>olive oil</td></tr></table><table><tr><th></th><th>Per serving</th>"
    "<th>Per 100 g</th></tr><tr><td>Energy</td><td>280 kcal</td><td>100 kcal</td></tr><tr><td>Protein</td><td>15 g</td><td>5 g</td>"
    "</tr><tr><td>Carbohydrate</td><td>36 g</td><td>12 g</td></tr><tr><td>Fat</td><td>8 g</td><td>3 g</td></tr></table>",
    "spans": "<h2>Tidewater lentil pot</h2><div>4 servings</div><div><b>Ingredients</b></div><div><span>250</span><span>g</span>"
    "<span>red lentils</span></div><div><span>1</span><span>onion, chopped</span></div><div><span>2</span><span>tbsp</span>"
    f"<span>olive oil</span></div><div>{NUMBERS}</div>",
    "boxes": "<h2>Tidewater lentil pot</h2><dl><dt>Serves</dt><dd>4</dd></dl><div><b>280</b><br>kcal</div><div>15 g<br>protein</div>"
    f"<div>36 g<br>carbs</div><div>8 g<br>fat</div><h3>You will need</h3>{_LIST}",
    "list beside the title": f"<div><h4>SERVES 4</h4>{_PARAGRAPHS}</div><div><h1>Tidewater lentil pot</h1>"
    f"<p><b>1</b> Simmer all of it until it is soft.</p><p><b>2</b> Serve it in deep bowls.</p></div><p>{NUMBERS}</p>",
    "facts in a table": "<h2>7. Tidewater lentil pot</h2><table><tr><th>Serves</th><th>Prep</th></tr><tr><td>4</td><td>15 min</td></tr></table>"
    f"<p>◆ 250 g red lentils<br>◆ 1 onion, chopped<br>◆ 2 tbsp olive oil</p><p>Simmer all of it.</p><p>{NUMBERS}</p>",
    "sup": "<h2>Tidewater lentil pot</h2><p>Serves 4</p><ul><li>250 g red lentils<sup><a href=n>1</a></sup></li>"
    f"<li>1 onion, chopped</li><li>2 tbsp olive oil</li></ul><p>{NUMBERS}</p>",
}  # fmt: skip


@pytest.mark.parametrize("name", LAYOUTS)
@pytest.mark.parametrize("form", ["html", "epub"])
def test_layouts_of_pages_and_chapters(tmp_path, name, form):
    css = ".t{font-size:1.6em;font-weight:bold} .s{font-weight:bold}"
    if form == "html":
        collection = of_page(tmp_path, LAYOUTS[name], css)
    else:
        collection = read_collection(epub(tmp_path / "galley.epub", [LAYOUTS[name]], css=css))
    if (name, form) == ("what is no text", "epub"):
        return  # a chapter has no side bars
    assert recipes(collection) == ONE
    assert collection.recipe["format"].tolist() == [{"html": "html-text", "epub": "epub"}[form]]


def test_several_recipes_on_a_page_and_the_lines_they_stand_on(tmp_path):
    one = "<h2>{}</h2>\n<p>Serves 2</p>\n<ul>\n<li>100 g\n rice</li><li>1 egg</li></ul>\n"
    collection = of_page(
        tmp_path, "<h1>Suppers</h1>\n" + one.format("Quay rice") + one.format("Pier rice")
    )
    assert collection.recipe["title"].tolist() == ["Quay rice", "Pier rice"]
    assert collection.recipe["source_line"].tolist() == [3, 8]
    assert collection.line["text"].tolist() == ["100 g rice", "1 egg"] * 2
    assert collection.line["source_line"].tolist() == [6, 7, 11, 12]


def test_markup_wins_over_the_text(tmp_path):
    node = '{"@type":"Recipe","name":"Marked","recipeIngredient":["1 egg"],"recipeYield":"2"}'
    collection = of_page(
        tmp_path, f'<script type="application/ld+json">{node}</script>' + LAYOUTS["list"]
    )
    assert collection.recipe["title"].tolist() == ["Marked"]


def test_a_half_of_superscripts(tmp_path):
    collection = of_page(
        tmp_path,
        "<h2>Buns</h2><p>Serves 2</p><ul><li>1<sup>1</sup>/<sub>2</sub> cups flour</li><li>2 eggs</li></ul>",
    )
    assert collection.line["text"].tolist() == ["1 1/2 cups flour", "2 eggs"]


def test_a_recipe_over_several_chapters(tmp_path):
    book = epub(
        tmp_path / "galley.epub",
        ["<p>Printed on board.</p>", "<h1>Moonrise pudding</h1><p>For the night watch.</p>",
         f"<p>Serves 4</p><h3>Ingredients</h3>{_LIST}<aside><p>{NUMBERS}</p></aside>",
         f"<h1>Gangway loaf</h1><p>Makes 16 slices</p><h3>Ingredients</h3>{_LIST}",
         f"<h3>Method</h3><p>Bake it.</p><p>{NUMBERS}</p>"],
    )  # fmt: skip
    collection = read_collection(book)
    assert [(r[0], r[1], r[3]) for r in recipes(collection)] == [
        ("Moonrise pudding", 4.0, SAID),
        ("Gangway loaf", 16.0, SAID),
    ]
    assert collection.recipe["recipe_id"].tolist() == [
        "galley.epub#OEBPS/text/c3.xhtml",
        "galley.epub#OEBPS/text/c4.xhtml",
    ]


def test_messages_name_the_chapter(tmp_path):
    body = LAYOUTS["list"].replace("Serves 4", "Serves 0")
    collection = read_collection(epub(tmp_path / "galley.epub", ["<h1>Suppers</h1>", body]))
    problem = next(p for p in collection.problems if p.code == "servings-invalid")
    assert problem.where == "galley.epub, OEBPS/text/c2.xhtml line 4"


# --- word processors --------------------------------------------------------------------------


def test_a_word_document(tmp_path):
    body = (
        P("Galley notes", "Title") + P("Tidewater lentil pot", "Heading1") + P("Serves 4") + P("Ingredients", "Heading2")
        + "".join(P(line, item="1") for line in POT) + P("Method", "Heading2") + P("Soften the onion.", item="2")
        + P("Simmer.", item="2") + P(NUMBERS)
        + P("Topsail toast", bold=True) + P("Makes 2 servings") + P("2 slices rye bread\n1\tegg\n5 g butter")
        + P("Fry the egg in the butter and serve it hot.") + word_table([["kcal", "Protein", "Fat"], ["190", "9 g", "10 g"]])
    )  # fmt: skip
    collection = read_collection(word(tmp_path / "notes.docx", body))
    toast = (
        "Topsail toast",
        2.0,
        ["2 slices rye bread", "1 egg", "5 g butter"],
        {"ENERC_KCAL": 190.0, "PROCNT": 9.0, "FAT": 10.0},
    )
    assert recipes(collection) == [*ONE, toast]
    assert collection.line["source_line"].tolist()[:3] == [5, 6, 7]  # the paragraphs


def test_an_opendocument_text(tmp_path):
    items = "".join(f"<text:list-item><text:p>{line}</text:p></text:list-item>" for line in POT)
    body = (
        '<text:h text:outline-level="1">Tidewater lentil pot</text:h><text:p>Serves<text:s/>4</text:p>'
        '<text:p text:style-name="Bold">Ingredients</text:p>'
        f"<text:list>{items}</text:list><text:p>Method:<text:line-break/>Simmer.</text:p>"
        '<text:list text:style-name="L2"><text:list-item><text:p>Cool it.</text:p></text:list-item></text:list>'
        f"<text:p>{NUMBERS}</text:p><text:p><draw:frame><draw:text-box><text:p>9 kcal</text:p></draw:text-box></draw:frame></text:p>"
    )
    collection = read_collection(open_text(tmp_path / "log.odt", body))
    assert recipes(collection) == ONE
    assert [p.code for p in collection.problems] == ["text-boxes-left-out"]


def test_a_text_box_of_a_word_document_is_said(tmp_path):
    box = "<w:p><w:r><w:pict><w:txbxContent><w:p><w:r><w:t>Per serving: 900 kcal</w:t></w:r></w:p></w:txbxContent></w:pict></w:r></w:p>"
    collection = read_collection(
        word(
            tmp_path / "notes.docx",
            P("Pot", "Title")
            + P("Serves 2")
            + P("2 eggs", item="1")
            + P("9 g oil", item="1")
            + box,
        )
    )
    assert [p.code for p in collection.problems] == ["text-boxes-left-out", "nothing-stated"]
    assert collection.problems[1].where == "notes.docx, paragraph 1"


# --- PDF ----------------------------------------------------------------------------------------


def test_a_pdf_in_two_columns(tmp_path):
    page = [
        (60, 780, "Tidewater lentil pot", 22, "Helvetica-Bold"), (60, 755, "Serves 4 | Prep 15 mins"),
        (60, 720, "Ingredients", 13, "Helvetica-Bold"), (320, 720, "Method", 13, "Helvetica-Bold"),
        *column(60, 700, POT),
        *column(320, 700, ["1. Soften the onion in the oil over a low", "flame until it is golden.", "2. Add 800 ml stock and the lentils.", "3. Simmer for half an hour."]),
        (60, 600, NUMBERS),
    ]  # fmt: skip
    collection = read_collection(pdf(tmp_path / "book.pdf", [[(60, 780, "Suppers", 30)], page]))
    assert recipes(collection) == ONE
    assert set(collection.line["source_line"]) == {2}
    assert "over a low flame until" in collection.recipe["method"][0]


def test_a_list_in_the_margin_beside_the_title(tmp_path):
    page = [
        *column(50, 780, ["SERVES 4", *POT]), (240, 780, "TIDEWATER LENTIL POT", 24),
        *column(240, 740, ["Good for the change of the watch, and good cold.", "1 Soften the onion.", "2 Simmer until thick.", NUMBERS]),
    ]  # fmt: skip
    collection = read_collection(pdf(tmp_path / "book.pdf", [page]))
    assert recipes(collection) == [("TIDEWATER LENTIL POT", 4.0, POT, SAID)]


def test_amounts_in_a_column_of_their_own_are_no_column_of_text(tmp_path):
    page = [
        (50, 780, "Tidewater lentil pot", 20),
        (50, 750, "Serves 4"),
        (50, 720, "Ingredients", 13),
    ]
    for at, (amount, food) in enumerate(
        [("250 g", "red lentils"), ("1", "onion, chopped"), ("2 tbsp", "olive oil")]
    ):
        page += [(50, 700 - 14 * at, amount), (120, 700 - 14 * at, food)]
    for at, (word_, amount, other) in enumerate([("", "Per serving", "Per 100 g"), ("Energy", "280 kcal", "90 kcal"), ("Protein", "15 g", "5 g"),
                                                 ("Carbohydrate", "36 g", "12 g"), ("Fat", "8 g", "3 g")]):  # fmt: skip
        page += [
            (50, 600 - 14 * at, word_),
            (150, 600 - 14 * at, amount),
            (250, 600 - 14 * at, other),
        ]
    assert recipes(read_collection(pdf(tmp_path / "book.pdf", [page]))) == ONE


def test_a_line_broken_within_an_ingredient(tmp_path):
    lines = [
        "400 g cannellini beans, drained and",
        "rinsed under the cold tap",
        "1 onion, chopped",
        "Fresh basil",
        "olive oil",
    ]
    page = [
        (50, 780, "Pot", 20),
        (50, 750, "Serves 4"),
        (50, 725, "Ingredients", 13),
        *column(50, 700, lines),
    ]
    collection = read_collection(pdf(tmp_path / "book.pdf", [page]))
    assert collection.line["text"].tolist() == [
        "400 g cannellini beans, drained and rinsed under the cold tap",
        *lines[2:],
    ]


def test_running_heads_and_page_numbers_are_left_out(tmp_path):
    def page(no, title):
        return [(50, 820, f"Mess-deck suppers {no}"), (50, 780, title, 20), (50, 750, "Serves 4"), *column(50, 720, POT),
                (50, 40, NUMBERS), (290, 20, str(no))]  # fmt: skip

    titles = [f"Pot of the {watch} watch" for watch in ("first", "middle", "morning", "noon")]
    collection = read_collection(
        pdf(tmp_path / "book.pdf", [page(n, t) for n, t in enumerate(titles, 1)])
    )
    assert recipes(collection) == [(title, 4.0, POT, SAID) for title in titles]
    assert collection.line["source_line"].tolist() == [n for n in (1, 2, 3, 4) for _ in POT]


def test_pages_without_text_are_said(tmp_path):
    scanned = read_collection(pdf(tmp_path / "scan.pdf", [[], []]))
    assert [(p.code, p.severity, p.where) for p in scanned.problems] == [
        ("pdf-no-text", "error", "scan.pdf, page 1")
    ]
    assert "OCR" in scanned.problems[0].fix
    page = [(50, 780, "Pot", 20), (50, 750, "Serves 4"), *column(50, 720, POT), (50, 600, NUMBERS)]
    some = read_collection(pdf(tmp_path / "some.pdf", [page, []]))
    assert [(p.code, p.severity, p.where) for p in some.problems] == [
        ("pdf-no-text", "note", "some.pdf, page 2")
    ]
    assert recipes(some) == [("Pot", 4.0, POT, SAID)]


# --- what cannot be read --------------------------------------------------------------------------


def only(tmp_path: Path, name: str, data: bytes | None = None):
    """The one problem of a file beside a good card, which is read."""
    if data is not None:
        (tmp_path / name).write_bytes(data)
    (tmp_path / "good.txt").write_text(
        "Pea soup\nServes 2\n\n- 200 g peas\n- 1 onion\n\nPer serving: 120 kcal\n"
    )
    collection = read_collection(tmp_path)
    assert collection.recipe["title"].tolist() == ["Pea soup"]
    found = [p for p in collection.problems if p.source == name]
    assert all(p.what and p.why and p.fix for p in found)
    assert len(found) == 1
    return found[0]


@pytest.mark.parametrize(
    ("name", "data", "code"),
    [
        ("a.docx", b"PK\x03\x04" + b"x" * 99, "document-damaged"),
        ("a.epub", b"PK\x03\x04" + b"x" * 99, "document-damaged"),
        ("a.odt", b"PK\x03\x04" + b"x" * 99, "document-damaged"),
        ("a.pdf", b"%PDF-1.7\n" + b"x" * 99, "document-damaged"),
        ("a.pdf", b"%PDF-1.7\n1 0 obj\n<</Type/Catalog/Pages 1 0 R>>\nendobj\ntrailer<</Root 1 0 R>>", "document-damaged"),
        ("a.docx", b"\xd0\xcf\x11\xe0" + b"\0" * 99 + "EncryptedPackage".encode("utf-16-le"), "document-locked"),
        ("a.docx", b"\xd0\xcf\x11\xe0" + b"\0" * 99, "document-old"),
        ("a.txt", b"{\\rtf1 Pot}", "no-recipe"),
        ("a.rtf", b"{\\rtf1 " + b"{" * 9999, "document-too-deep"),
        ("a.pdf", bytes(range(256)) * 9, "file-binary"),
        ("a.docx", b"", "file-empty"),
    ],
)  # fmt: skip
def test_what_is_damaged_locked_or_of_another_form(tmp_path, name, data, code):
    assert only(tmp_path, name, data).code == code


def test_a_locked_pdf(tmp_path):
    pdf(tmp_path / "a.pdf", [[(50, 700, "Pot")]], password="kelp")
    assert only(tmp_path, "a.pdf").code == "document-locked"


def test_a_pdf_that_only_forbids_changes_is_read(tmp_path):
    page = [(50, 780, "Pot", 20), (50, 750, "Serves 4"), *column(50, 720, POT), (50, 600, NUMBERS)]
    assert recipes(read_collection(pdf(tmp_path / "a.pdf", [page], password=""))) == [
        ("Pot", 4.0, POT, SAID)
    ]


def test_a_copy_protected_book(tmp_path):
    cipher = '<encryption><CipherReference URI="OEBPS/text/c1.xhtml"/></encryption>'
    epub(tmp_path / "a.epub", ["x"], extra=[("META-INF/encryption.xml", cipher)])
    assert only(tmp_path, "a.epub").code == "document-locked"


def test_fonts_of_a_book_may_be_encrypted(tmp_path):
    cipher = '<encryption><CipherReference URI="OEBPS/type.otf"/></encryption>'
    book = epub(tmp_path / "a.epub", [LAYOUTS["list"]], extra=[("META-INF/encryption.xml", cipher)])
    assert recipes(read_collection(book)) == ONE


def test_a_missing_chapter_costs_itself(tmp_path):
    whole = epub(tmp_path / "whole.epub", [LAYOUTS["list"], "<h1>Gone</h1>"])
    with zipfile.ZipFile(whole) as old, zipfile.ZipFile(tmp_path / "part.epub", "w") as new:
        for name in old.namelist():
            if "c2" not in name:
                new.writestr(name, old.read(name))
    collection = read_collection(tmp_path / "part.epub")
    assert recipes(collection) == ONE
    assert [p.code for p in collection.problems] == ["epub-chapter-missing"]
    assert "OEBPS/text/c2.xhtml" in collection.problems[0].what


def test_documents_that_unpack_to_too_much(tmp_path):
    for name, part in (
        ("a.docx", "word/document.xml"),
        ("b.odt", "content.xml"),
        ("c.epub", "META-INF/container.xml"),
    ):
        with zipfile.ZipFile(tmp_path / name, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(
                "[Content_Types].xml" if name == "a.docx" else "mimetype",
                "x" if name == "a.docx" else "application/x",
            )
            archive.writestr(part, b" " * (40 * MIB))
    found = {p.source: p.code for p in read_collection(tmp_path).problems}
    assert found["a.docx"] == "document-bomb"
    assert found["c.epub"] == "document-bomb"


def test_a_pdf_that_unpacks_to_too_much(tmp_path):
    import zlib

    content = zlib.compress(b" " * (200 * MIB), 9)
    body = b"%PDF-1.7\n"
    for no, text in enumerate([b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
                               b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]/Contents 4 0 R>>",
                               b"<</Length %d/Filter/FlateDecode>>stream\n" % len(content) + content + b"\nendstream"], 1):  # fmt: skip
        body += b"%d 0 obj\n%s\nendobj\n" % (no, text)
    assert (
        only(tmp_path, "a.pdf", body + b"trailer<</Root 1 0 R/Size 5>>\n").code == "document-bomb"
    )


def test_forms_that_draw_each_other_many_times(tmp_path):
    objects = [b"<</Type/Catalog/Pages 2 0 R>>", b"<</Type/Pages/Kids[3 0 R]/Count 1>>",
               b"<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]/Contents 4 0 R/Resources<</XObject<</F 5 0 R>>>>>>",
               b"<</Length 4>>stream\n/F Do\nendstream"]  # fmt: skip
    for n in range(5, 40):
        inner = b"/F Do /F Do"
        objects.append(b"<</Type/XObject/Subtype/Form/BBox[0 0 9 9]/Resources<</XObject<</F %d 0 R>>>>/Length %d>>stream\n%s\nendstream"
                       % (n + 1, len(inner), inner))  # fmt: skip
    body = b"%PDF-1.7\n" + b"".join(
        b"%d 0 obj\n%s\nendobj\n" % (n, o) for n, o in enumerate(objects, 1)
    )
    assert (
        only(tmp_path, "a.pdf", body + b"trailer<</Root 1 0 R/Size 60>>\n").code == "document-bomb"
    )


def test_entities_and_nesting(tmp_path):
    bomb = '<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    word(tmp_path / "a.docx", P("&b;"), declared=bomb)
    assert only(tmp_path, "a.docx").code == "document-entities"
    (tmp_path / "a.docx").unlink()
    word(
        tmp_path / "b.docx",
        "<w:sdt><w:sdtContent>" * 3_000 + P("2 eggs") + "</w:sdtContent></w:sdt>" * 3_000,
    )
    assert only(tmp_path, "b.docx").code == "document-too-deep"
    (tmp_path / "b.docx").unlink()
    open_text(tmp_path / "c.odt", "<text:section>" * 3_000 + "</text:section>" * 3_000)
    assert only(tmp_path, "c.odt").code == "document-too-deep"


def test_a_document_without_a_recipe_says_so(tmp_path):
    for make, name in ((lambda p: word(p, P("Buy rope and call the harbour master.")), "a.docx"),
                       (lambda p: pdf(p, [[(50, 700, "Buy rope.")]]), "b.pdf"),
                       (lambda p: epub(p, ["<p>Buy rope.</p>"]), "c.epub"),
                       (lambda p: open_text(p, "<text:p>Buy rope.</text:p>"), "d.odt")):  # fmt: skip
        make(tmp_path / name)
        assert only(tmp_path, name).code == "no-recipe"
        (tmp_path / name).unlink()


def test_a_document_is_known_by_what_it_holds(tmp_path):
    page = [(50, 780, "Pot", 20), (50, 750, "Serves 4"), *column(50, 720, POT), (50, 600, NUMBERS)]
    pdf(tmp_path / "a.txt", [page])
    (tmp_path / "b.docx").write_text(f"Pot\nServes 4\n\n{chr(10).join(POT)}\n\n{NUMBERS}\n")
    assert recipes(read_collection(tmp_path)) == [("Pot", 4.0, POT, SAID)] * 2


def test_files_left_out_of_a_folder_are_told_once(tmp_path):
    (tmp_path / "sub").mkdir()
    for name in ("a.doc", "b.JPG", "sub/c.jpg", "d.mp4", "e.css", "f.pptx"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "good.txt").write_text(
        "Pea soup\nServes 2\n\n- 200 g peas\n- 1 onion\n\nPer serving: 120 kcal\n"
    )
    (note,) = read_collection(tmp_path).problems
    assert (note.code, note.severity) == ("files-left-out", "note")
    assert note.what == (
        "5 files that may hold recipes were left out: 1 document (.doc), 1 set of slides (.pptx), 2 pictures (.jpg), 1 recording (.mp4)"
    )
    assert ".docx" in note.fix
    (tmp_path / "good.txt").unlink()
    assert [p.code for p in read_collection(tmp_path).problems] == [
        "folder-empty",
        "files-left-out",
    ]


# --- laws -------------------------------------------------------------------------------------------

texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=200)


@settings(max_examples=examples(60), deadline=None)
@given(
    texts
    | st.lists(
        st.sampled_from(
            [
                "<p>",
                "</p>",
                "<ul>",
                "<li>",
                "<table>",
                "<tr><td>",
                "<br>",
                "<h1>",
                "2 eggs",
                "Serves 2",
                "&frac12;",
                "<dt>",
                "<dd>",
            ]
        )
    ).map("".join)
)
def test_any_page_is_read(text):
    for recipe in read_page_text(text, "x").recipes:
        assert all(1 <= line.source_line <= text.count("\n") + 1 for line in recipe.lines)


def without_controls(text):
    return "".join(c for c in text if c.isprintable())


@settings(
    max_examples=examples(25),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.lists(texts.map(without_controls), max_size=5))
def test_any_text_in_any_document_is_read(tmp_path, paragraphs):
    from html import escape

    made = [
        word(
            tmp_path / "a.docx", "".join(P(p, item="1" if len(p) % 2 else "") for p in paragraphs)
        ),
        open_text(tmp_path / "b.odt", "".join(f"<text:p>{escape(p)}</text:p>" for p in paragraphs)),
        epub(tmp_path / "c.epub", ["".join(f"<p>{escape(p)}</p>" for p in paragraphs)]),
        pdf(tmp_path / "d.pdf", [column(50, 800, paragraphs)]),
    ]
    for path in made:
        read = read_file(SourceFile(path, path.name, named=True))
        assert read.recipes or read.problems


spots = st.floats(-50, 900, allow_nan=False)


@settings(max_examples=examples(100), deadline=None)
@given(
    st.lists(
        st.tuples(
            spots,
            spots,
            st.sampled_from(["a", "2 g", "rice", "½", " ", "Serves 2", "300 kcal"]),
            st.sampled_from([6.0, 10.0, 24.0]),
        ),
        max_size=40,
    )
)
def test_every_text_of_a_page_is_read_once(found):
    """Wherever characters stand, none is lost and none comes twice."""
    chars = [Char(x, x + size, y, text, size) for x, y, text, size in found]
    some = pieces(chars)
    page = Page(1, 842.0, regions(some, 10.0))
    assert sorted(p.text for p in some) == sorted(
        w for r in page.regions for p in r for w in ([c.text for c in p.cells] or [p.text])
    )
    blocks, places = blocks_of([page])
    assert len(blocks) == len(places)
    assert set("".join(p.text for p in some)) - {" "} <= set("".join(b.text for b in blocks)) | {
        " "
    }


# --- out again ----------------------------------------------------------------------------------------


def test_corrected_numbers_of_a_document_go_into_a_card(tmp_path):
    import pandas as pd

    from pipeline.publish.correct import write_corrected

    folder = tmp_path / "in"
    folder.mkdir()
    epub(
        folder / "galley.epub",
        [
            "<h2>Cork soup</h2><p>Serves 2</p><ul><li>1 egg</li><li>2 figs</li></ul>",
            LAYOUTS["list"],
        ],
    )
    (folder / "saved.html").write_text(f"<html><body>{LAYOUTS['list']}</body></html>")
    collection = read_collection(folder)
    ids = collection.recipe.loc[collection.recipe["title"] == "Tidewater lentil pot", "recipe_id"]
    before = {p: p.read_bytes() for p in folder.iterdir()}
    copies = write_corrected(
        collection,
        pd.DataFrame({"recipe_id": ids, "kcal": 301.0, "fiber_g": math.nan}),
        tmp_path / "out",
    )
    assert sorted(p.name for p in copies.paths) == ["galley.epub.txt", "saved.html.txt"]
    assert [p.code for p in copies.problems] == ["copy-as-card"] * 2
    assert {p: p.read_bytes() for p in folder.iterdir()} == before
    again = recipes(read_collection(tmp_path / "out"))
    assert again == [("Tidewater lentil pot", 4.0, POT, SAID | {"ENERC_KCAL": 301.0})] * 2


def test_documents_are_exported_as_cards(tmp_path):
    from pipeline.publish.write import write_cards

    collection = read_collection(epub(tmp_path / "galley.epub", [LAYOUTS["list"]]))
    write_cards(collection, tmp_path / "cards")
    assert recipes(read_collection(tmp_path / "cards")) == ONE


# --- rich text --------------------------------------------------------------------------------

RICH = (
    "{\\rtf1\\ansi\\ansicpg1252{\\fonttbl{\\f0 Georgia;}}{\\*\\generator x;}\\fs24\n"
    "{\\b\\fs32 Tidewater lentil pot}\\par Serves 4\\par\\par\n"
)
RICH_LISTS = {
    "paragraphs": "250 g red lentils\\par 1 onion, chopped\\par 2 tbsp olive oil\\par ",
    "escaped ends of lines": "".join(f"{line}\\\n" for line in POT),
    "bullets": "".join(f"{{\\listtext\\'b7\\tab}}{line}\\par " for line in POT),
    "a table": "".join(
        f"\\trowd {amount}\\cell {food}\\cell\\row "
        for amount, food in (("250 g", "red lentils"), ("1", "onion, chopped"), ("2 tbsp", "olive oil"))
    ) + "\\pard ",
}  # fmt: skip


@pytest.mark.parametrize("name", RICH_LISTS)
def test_a_rich_text_is_read(tmp_path, name):
    (tmp_path / "pot.rtf").write_text(
        f"{RICH}{RICH_LISTS[name]}\\par Simmer it all.\\par {NUMBERS}}}"
    )
    collection = read_collection(tmp_path)
    assert recipes(collection) == ONE
    assert [p for p in collection.problems if p.severity != "note"] == []
    assert set(collection.recipe["format"]) == {"rtf"}


def test_signs_of_a_rich_text(tmp_path):
    (tmp_path / "tart.rtf").write_text(
        "{\\rtf1\\ansi{\\b Cr\\'eape tart}\\par Serves 2\\par\\par "
        "\\u189?  cup cr\\u232\\'e8me fra\\'eeche\\par 2 eggs\\par {\\v hidden}\\par 100 kcal each}"
    )
    collection = read_collection(tmp_path)
    (title, _, lines, _), *_ = recipes(collection)
    assert title == "Crêpe tart"
    assert lines == ["½ cup crème fraîche", "2 eggs"]
