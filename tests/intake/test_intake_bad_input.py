"""Bad input: each a clear problem with its place and a way to mend it, the rest of the run done."""

import json
import math
import os
import random
import time
import zipfile

import pytest
from examples import examples
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.intake import collection_root, files, read_collection
from pipeline.intake.model import UNREADABLE
from pipeline.problems import problems_frame
from pipeline.settings import Settings

GOOD = "Pea soup\nServes 2\n\n- 200 g peas\n- 1 onion\n\nPer serving: 120 kcal, 8 g protein\n"


def read(tmp_path, **contents):
    """Read a folder with these files and one good card; the card must always come through."""
    for name, content in contents.items():
        path = tmp_path / name.replace("__", ".")
        path.write_bytes(content.encode() if isinstance(content, str) else content)
    (tmp_path / "good.txt").write_text(GOOD)
    collection = read_collection(tmp_path)
    good = collection.recipe[collection.recipe["source"] == "good.txt"]
    assert good["title"].tolist() == ["Pea soup"]
    for problem in collection.problems:
        assert problem.what
        assert problem.source
        assert problem.fix or problem.severity == "note"
        assert problem.render()
    problems_frame(collection.problems)
    return collection


def codes(collection, source=None):
    return [p.code for p in collection.problems if source is None or p.source == source]


def bomb(levels=9, width=10):
    first = f"a: &a [{','.join('x' * width)}]\n"
    rest = [
        f"{chr(98 + i)}: &{chr(98 + i)} [{','.join(['*' + chr(97 + i)] * width)}]\n"
        for i in range(levels)
    ]
    return first + "".join(rest)


@pytest.mark.parametrize(
    ("name", "content", "code", "line"),
    [
        ("empty__txt", "", "file-empty", None),
        ("blank__yaml", " \n\n", "file-empty", None),
        ("pic__txt", b"\xff\xd8\xff\xe0" + bytes(range(256)) * 20, "file-binary", None),
        ("data", bytes(range(256)) * 40, "file-binary", None),
        ("broken__json", '{"@type": "Recipe",\n "name": "x"\n "y": 1}', "json-invalid", 3),
        ("deep__json", "[" * 200_000, "json-too-deep", 1),
        ("deep2__json", '{"a":' * 100_000 + "1" + "}" * 100_000, "json-too-deep", 1),
        ("long__json", '{"recipeYield":' + "9" * 5_000 + "}", "json-invalid", None),
        ("other__json", '{"a": [1, 2]}', "no-recipe", None),
        ("page__html", "<html><body>hello</body></html>", "no-recipe", None),
        ("deep__html", "<html>" + "<div>" * 50_000, "page-too-deep", None),
        ("script__html", '<html><script type="application/ld+json">{"@type": Recipe}</script>',
         "json-invalid", 1),
        ("bomb__yaml", bomb(), "yaml-bomb", 6),
        ("merge__yaml", bomb(3) + "title: x\n<<: *d\n", "no-recipe", None),
        ("tag__yaml", "title: x\ningredients: !!python/object/apply:os.system ['true']\n",
         "yaml-tag", 2),
        ("custom__yaml", "title: x\ningredients:\n  - !egg 1\n", "yaml-tag", 3),
        ("alias__yaml", "title: *nothing\n", "yaml-invalid", 1),
        ("self__yaml", "a: &a [*a]\n", "yaml-invalid", 1),
        ("indent__yaml", "title: x\n ingredients: y\n", "yaml-invalid", 2),
        ("deep__yaml", "a: " + "[" * 60 + "]" * 60, "yaml-too-deep", 1),
        ("control__yaml", "title: \x01\n", "yaml-invalid", None),
        ("open__xml", "<a>\n<b></a>", "xml-invalid", 2),
        ("entity__xml", '<!DOCTYPE a [\n<!ENTITY b "c">]><a>&b;</a>', "xml-entities", 2),
        ("outside__xml", '<!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>',
         "xml-entities", 1),
        ("deep__xml", "<a>" * 100_000, "xml-too-much", 1),
        ("header__csv", "Titel;x\n1;2\n", "table-columns-unknown", 1),
        ("cells__csv", "title,servings,ingredients\nA,2,1 egg, beaten\n", "csv-row-invalid", 2),
        ("quote__csv", 'title,servings,ingredients\nA,2,"1 egg\nB\n', "csv-row-invalid", 2),
        ("bad__parquet", b"PAR1" + b"x" * 200, "parquet-invalid", None),
        ("bad__xlsx", b"PK\x03\x04" + b"x" * 200, "xlsx-invalid", None),
        ("notes__txt", "Buy milk on the way home, and call Sam about the boat.\n", "no-recipe", None),
    ],
)  # fmt: skip
def test_a_file_that_cannot_be_read_is_one_problem(tmp_path, name, content, code, line):
    collection = read(tmp_path, **{name: content})
    source = name.replace("__", ".")
    found = [p for p in collection.problems if p.source == source]
    assert [p.code for p in found if p.severity != "note" or p.code == code][:1] == [code]
    assert next(p for p in found if p.code == code).source_line == line
    assert source not in set(collection.recipe["source"])


@pytest.mark.parametrize(
    ("ending", "code"), [("txt", "file-too-large"), ("html", "file-too-large"),
                         ("json", "json-invalid"), ("csv", "table-columns-unknown")],
)  # fmt: skip
def test_fifty_megabytes_of_noise_take_no_time(tmp_path, ending, code):
    lead = {"json": '{"a": ', "html": "<html>"}.get(ending, "")
    noise = "".join(random.Random(1).choices("abcdefgh 0123\n", k=1000)) * 50_000
    (tmp_path / f"noise.{ending}").write_text(lead + noise)
    (tmp_path / "noise.bin").write_bytes(random.Random(1).randbytes(1_000_000) * 50)
    began = time.process_time()
    collection = read(tmp_path)
    assert time.process_time() - began < 5  # 100 MB; a tenth of a second is usual
    assert codes(collection, f"noise.{ending}") == [code]
    assert codes(collection, "noise.bin") == ["file-binary"]


def test_a_workbook_that_unpacks_to_gigabytes_is_refused(tmp_path):
    with zipfile.ZipFile(
        tmp_path / "bomb.xlsx", "w", zipfile.ZIP_DEFLATED, compresslevel=1
    ) as archive:
        for part in range(4):
            archive.writestr(f"xl/worksheets/sheet{part}.xml", b"0" * (100 * files.MIB))
    began = time.process_time()
    assert codes(read(tmp_path), "bomb.xlsx") == ["xlsx-bomb"]
    assert time.process_time() - began < 5


def test_another_encoding_is_read_and_said(tmp_path):
    card = "Crème brûlée\nServes 2\n\n- 200 ml crème\n- ½ vanilla pod\n"
    collection = read(tmp_path, old__txt=card.encode("cp1252"), wide__txt=card.encode("utf-16"),
                      bom__txt=b"\xef\xbb\xbf" + card.replace("\n", "\r\n").encode())  # fmt: skip
    assert collection.recipe["title"].tolist() == ["Crème brûlée", "Pea soup", "Crème brûlée",
                                                   "Crème brûlée"]  # fmt: skip
    assert set(collection.line["text"]) >= {"200 ml crème", "½ vanilla pod"}
    warned = [p for p in collection.problems if p.code == "not-utf-8"]
    assert [(p.source, p.source_line) for p in warned] == [("old.txt", 1)]
    assert "Windows-1252" in warned[0].why


def test_a_page_in_the_charset_it_names(tmp_path):
    node = json.dumps({"@type": "Recipe", "name": "Żurek", "recipeIngredient": ["1 jajko"]},
                      ensure_ascii=False)  # fmt: skip
    page = f'<html><meta charset="iso-8859-2"><script type="application/ld+json">{node}</script>'
    collection = read(tmp_path, zurek__html=page.encode("iso-8859-2"))
    assert "Żurek" in set(collection.recipe["title"])


def test_nul_bytes_are_left_out_and_said(tmp_path):
    collection = read(tmp_path, nul__txt=b"Soup\nServes 2\n\n- 200 g ri\0ce\n- 1 onion\n")
    assert "200 g rice" in set(collection.line["text"])
    assert next((p.code, p.source_line) for p in collection.problems if p.source == "nul.txt") == (
        "nul-bytes", 4
    )  # fmt: skip


@pytest.mark.parametrize("servings", ["0", "-2", "∞", "lots"])
def test_servings_that_cannot_be(tmp_path, servings):
    collection = read(
        tmp_path,
        a__yaml=f"title: A\nservings: '{servings}'\ningredients: [1 egg]\nstated: {{kcal: 9}}\n",
    )
    problem = next(p for p in collection.problems if p.source == "a.yaml")
    assert (problem.code, problem.source_line) == ("servings-invalid", 2)
    assert servings in problem.what
    assert math.isnan(collection.recipe.set_index("source").loc["a.yaml", "servings"])
    assert len(collection.line[collection.line["recipe_id"] == "a.yaml"]) == 1


def test_unreadable_values_lose_nothing_else(tmp_path):
    node = (
        '{"@type":"Recipe","name":"x","recipeYield":"2","recipeIngredient":["1 egg",null,true,["2 figs"]],'
        '"nutrition":{"calories":"∞ g","fatContent":-3,"proteinContent":NaN,'
        '"carbohydrateContent":1e999,"fiberContent":"lots","sugarContent":"3 g"}}'
    )
    collection = read(tmp_path, a__json=node)
    mine = collection.stated[collection.stated["recipe_id"] == "a.json"]
    assert mine["nutrient"].tolist() == ["SUGAR"]
    assert codes(collection, "a.json").count("stated-unreadable") == 5
    assert codes(collection, "a.json").count("ingredient-unreadable") == 1
    ours = collection.line[collection.line["recipe_id"] == "a.json"]
    assert ours["text"].tolist() == ["1 egg", UNREADABLE + "True", "2 figs"]


def test_a_recipe_without_title_or_ingredients_is_kept(tmp_path):
    collection = read(
        tmp_path, my_soup__json='{"@type":"Recipe","nutrition":{"calories":"90 kcal"}}'
    )
    assert "my soup" in set(collection.recipe["title"])
    assert {"title-missing", "no-ingredients", "servings-missing"} <= set(
        codes(collection, "my_soup.json")
    )


def test_paths_that_are_not_there(tmp_path):
    (tmp_path / "empty").mkdir()
    collection = read_collection([tmp_path / "empty", tmp_path / "nothing.txt", "-"], stdin=" ")
    assert codes(collection) == ["folder-empty", "path-not-found", "stdin-empty"]
    assert collection.recipe.empty
    assert read_collection(["-"], stdin=None).problems[0].code == "stdin-empty"
    assert read_collection([]).recipe.empty


def test_links_out_of_the_collection_are_followed_only_when_asked(tmp_path):
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.txt").write_text(GOOD)
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "good.txt").write_text(GOOD.replace("Pea", "Bean"))
    (folder / "link.txt").symlink_to(outside / "secret.txt")
    (folder / "linked").symlink_to(outside)
    (folder / "loop").symlink_to(folder)
    collection = read_collection(folder)
    assert collection.recipe["title"].tolist() == ["Bean soup"]
    assert sorted(p.source for p in collection.problems if p.code == "link-outside") == [
        "link.txt",
        "linked",
    ]
    followed = read_collection(folder, settings=Settings(follow_links=True))
    assert sorted(followed.recipe["title"]) == ["Bean soup", "Pea soup"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_a_file_without_permission(tmp_path):
    (tmp_path / "shut.txt").write_text(GOOD)
    (tmp_path / "shut.txt").chmod(0)
    assert codes(read(tmp_path), "shut.txt") == ["file-unreadable"]


def test_a_file_that_cannot_be_opened(tmp_path, monkeypatch):
    import builtins

    (tmp_path / "shut.txt").write_text(GOOD)
    opened = builtins.open

    def refuse(path, *args, **kwargs):
        if str(path).endswith("shut.txt"):
            raise PermissionError(13, "Permission denied")
        return opened(path, *args, **kwargs)

    monkeypatch.setattr(builtins, "open", refuse)
    collection = read(tmp_path)
    assert codes(collection, "shut.txt") == ["file-unreadable"]
    assert (
        next(p for p in collection.problems if p.code == "file-unreadable").why
        == "Permission denied"
    )


def test_settings_that_name_missing_companions(tmp_path):
    (tmp_path / "good.txt").write_text(GOOD)
    collection = read_collection(tmp_path, settings=Settings(pantry="larder.csv"))
    assert codes(collection)[0] == "pantry-not-found"
    assert collection.pantry_path is None


FIRST = st.sampled_from(
    ["", "{", "[", "<html>", "---\n", "title: ", "title,ingredients\n", "WEBVTT\n\n", "1\n00:00:01,000 --> ",
     "Soup\nServes 2\n", "PAR1", "PK\x03\x04", '{"@type":"Recipe","recipeIngredient":']
)  # fmt: skip


@settings(max_examples=examples(60), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(first=FIRST, rest=st.one_of(st.text(max_size=200), st.binary(max_size=200)))
def test_reading_is_total(first, rest):
    data = first.encode() + (
        rest.encode("utf-8", "surrogatepass") if isinstance(rest, str) else rest
    )
    collection = read_collection("-", stdin=data)
    assert len(collection.recipe) + len(collection.problems) > 0
    assert collection.recipe["recipe_id"].is_unique


json_values = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=15)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(
            st.sampled_from(["@type", "name", "recipeIngredient", "recipeYield", "nutrition", "calories",
                             "ingredients", "title", "stated", "servings", "@graph", "author", "kcal",
                             "identifier", "servingSize", "text", "amount", "basis"]),
            inner, max_size=6,
        ),
    ),
    max_leaves=25,
)  # fmt: skip


#: Where the value stands: by itself, or everywhere in a page's recipe, or in one of our own keys.
ROOTS = [
    (),
    ("name", "recipeIngredient", "nutrition", "recipeYield", "author", "identifier"),
    ("title", "ingredients", "stated", "servings"),
]


@settings(
    max_examples=examples(100)
)  # some thirty values in each of three places; more in the soak
@given(json_values, st.sampled_from(ROOTS))
def test_any_json_is_read_without_a_traceback(value, keys):
    root = dict.fromkeys(keys, value) if keys else value
    if "name" in keys:
        root["@type"] = "Recipe"
    collection = read_collection("-", stdin=json.dumps(root))
    assert collection.recipe["recipe_id"].is_unique
    assert (collection.recipe["servings"].dropna() > 0).all()
    assert collection.stated["amount"].map(lambda a: 0 <= a < float("inf")).all()


def test_root_of_nothing_is_the_working_folder():
    assert collection_root([]).is_dir()


@pytest.mark.parametrize("ending", ["json", "jsonl", "yaml"])
@pytest.mark.parametrize("text", [" 24", "true", '"egg"', "null", "1.5", "[3]", "[]", "{}"])
def test_a_document_that_is_one_value_is_a_problem(tmp_path, ending: str, text: str) -> None:
    (tmp_path / f"x.{ending}").write_text(text)
    read = read_collection(tmp_path)
    assert [problem.source for problem in read.problems] == [f"x.{ending}"]
    assert read.recipe.empty


def test_headings_without_anything_of_a_recipe_are_told_and_left_out(tmp_path):
    (tmp_path / "log.md").write_text(
        "# Lentil soup\n\nServes 4\n\n- 200 g lentils\n- 1 onion\n- 2 carrots\n\n"
        "310 kcal per serving\n\n# misc\n\n- geophone 3 dead again\n- buy lids\n"
    )
    (tmp_path / "reels.tsv").write_text(
        "title\tserves\tingredients\tkcal\nGratin\t2\t500 g potatoes | 50 g cheese\t300\n"
        "nail trim\t\t\t\nPea stew\t2\t300 g peas | 20 g butter\t250\n"
    )
    found = read_collection(tmp_path)
    assert sorted(found.recipe["title"]) == ["Gratin", "Lentil soup", "Pea stew"]
    told = [p.what for p in found.problems if p.code == "not-a-recipe"]
    assert '"nail trim" was not taken for a recipe' in told


def test_a_table_that_names_no_food_is_no_recipe(tmp_path):
    (tmp_path / "van budget.csv").write_text(
        "month,diesel,insurance,phone\nJan,182.40,61.00,18\nFeb,166.10,61.00,18\n"
        "Mar,201.95,61.00,18\nApr,144.30,61.00,18\n"
    )
    found = read_collection(tmp_path)
    assert found.recipe.empty
    assert "van budget.csv" in {p.source for p in found.problems}


def test_a_note_between_recipes_of_a_text_is_told_and_left_out(tmp_path):
    (tmp_path / "log.md").write_text(
        "# Lentil soup\n\nServes 4\n\n- 200 g lentils\n- 1 onion\n\n310 kcal per serving\n\n"
        "## misc\n- geophone 3 battery dead AGAIN\n- buy lids\n"
    )
    found = read_collection(tmp_path)
    assert found.recipe["title"].tolist() == ["Lentil soup"]
