"""Markdown, JUnit XML, SARIF and one folder a creator."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest

from pipeline.report import write
from pipeline.report.ci import xml_text
from pipeline.report.creators import by_creator
from pipeline.report.junit import render as junit
from pipeline.report.markdown import escaped
from pipeline.report.markdown import render as markdown
from pipeline.report.sarif import render as sarif
from pipeline.run import Result


def test_junit_has_one_case_a_recipe_and_fails_those_that_disagree(collection: Result) -> None:
    root = ElementTree.fromstring(junit(collection))
    cases = root.findall("./testsuite/testcase")
    assert [c.get("name") for c in cases] == [
        "Quarry road barley soup [soup]", "Ferry lentil dal [dal]", "Signal box slaw [slaw]",
        "Harbour wall cake [cake]",
    ]  # fmt: skip
    assert [c.get("file") for c in cases] == ["soup.txt", "dal.txt", "slaw.txt", "cake.txt"]
    assert [[e.tag for e in c] for c in cases] == [[], ["failure"], ["system-out"], ["skipped"]]
    failure = cases[1][0]
    assert (failure.get("message") or "").replace("\u00a0", " ") == (
        "disagrees: energy 1,800 kcal stated, 430 kcal computed"
    )
    assert "kilojoules" in (failure.text or "")
    assert (root.get("tests"), root.get("failures"), root.get("skipped")) == ("4", "1", "1")
    assert "file-binary" in (root.findtext("./testsuite/system-err") or "")


def test_xml_takes_any_title(make: Callable[..., Result]) -> None:
    title = 'a <b> & "c" \x0b \ud800 ]]> 😀'
    spec = [("r", title, "", "disagrees", {"kcal": (9.0, 1.0, 1.0, 1.0, 1.0, "disagrees")})]
    case = ElementTree.fromstring(junit(make(spec))).find("./testsuite/testcase")
    assert case is not None
    assert case.get("name") == 'a <b> & "c" \ufffd \ufffd ]]> 😀 [r]'
    assert xml_text("ok\t\n½") == "ok\t\n½"


#: What SARIF 2.1.0 (OASIS, 2020) requires of the parts used here: sections 3.13, 3.14, 3.27, 3.28,
#: 3.29, 3.30 and 3.49.
SARIF_SHAPE = {
    "type": "object",
    "required": ["version", "runs"],
    "properties": {
        "version": {"const": "2.1.0"},
        "runs": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["tool", "results"],
                "properties": {
                    "tool": {
                        "required": ["driver"],
                        "properties": {
                            "driver": {
                                "required": ["name", "rules"],
                                "properties": {
                                    "rules": {"items": {"required": ["id", "shortDescription"]}}
                                },
                            }
                        },
                    },
                    "results": {
                        "items": {
                            "required": ["ruleId", "ruleIndex", "level", "message"],
                            "properties": {
                                "level": {"enum": ["none", "note", "warning", "error"]},
                                "message": {"required": ["text"]},
                                "locations": {
                                    "items": {
                                        "required": ["physicalLocation"],
                                        "properties": {
                                            "physicalLocation": {
                                                "required": ["artifactLocation", "region"],
                                                "properties": {
                                                    "artifactLocation": {
                                                        "required": ["uri"],
                                                        "properties": {
                                                            "uri": {"pattern": r"^[^\s\\]+$"}
                                                        },
                                                    },
                                                    "region": {
                                                        "properties": {
                                                            "startLine": {
                                                                "type": "integer",
                                                                "minimum": 1,
                                                            }
                                                        }
                                                    },
                                                },
                                            }
                                        },
                                    }
                                },
                            },
                        }
                    },
                },
            },
        },
    },
}


def test_sarif_points_at_file_and_line(make: Callable[..., Result], tmp_path: Path) -> None:
    (tmp_path / ".git").mkdir()
    root = tmp_path / "my recipes"
    line_left_out = ("dal", 1, "line_left_out", 1, 0.9, "If line 1 had been left out ...",
                     1.0, 1.0, 1.0, 1.0, 1.0, "per_serving")  # fmt: skip
    log = json.loads(sarif(make(root=root, explanations=[line_left_out])))
    jsonschema.validate(log, SARIF_SHAPE)
    run = log["runs"][0]
    dal, slaw = run["results"]
    assert (dal["ruleId"], dal["level"]) == ("stated-disagrees", "error")
    assert (slaw["ruleId"], slaw["level"]) == ("stated-uncertain", "warning")
    place = dal["locations"][0]["physicalLocation"]
    assert place["artifactLocation"] == {"uri": "my%20recipes/dal.txt", "uriBaseId": "SRCROOT"}
    assert place["region"] == {"startLine": 3}  # the line the slip is about
    assert slaw["locations"][0]["physicalLocation"]["region"] == {"startLine": 1}
    assert run["originalUriBaseIds"]["SRCROOT"]["uri"] == tmp_path.as_uri() + "/"
    for one in run["results"]:
        assert run["tool"]["driver"]["rules"][one["ruleIndex"]]["id"] == one["ruleId"]


def test_sarif_holds_the_problems_too(collection: Result) -> None:
    log = json.loads(sarif(collection))
    jsonschema.validate(log, SARIF_SHAPE)
    codes = [r["ruleId"] for r in log["runs"][0]["results"]]
    assert codes == ["stated-disagrees", "stated-uncertain", "file-binary", "amount-ambiguous"]
    last = log["runs"][0]["results"][-1]
    assert last["level"] == "warning"
    assert last["locations"][0]["physicalLocation"]["region"]["startLine"] == 3


def test_sarif_of_standard_input_names_no_file(make: Callable[..., Result]) -> None:
    result = make()
    result.recipes["source"] = "-"
    for one in json.loads(sarif(result))["runs"][0]["results"]:
        assert "locations" not in one


def test_markdown_tells_the_same_story(collection: Result) -> None:
    text = markdown(collection)
    assert text.startswith("# 1 of 4 recipes states numbers its ingredients do not add up to\n")
    plain = text.replace("\u00a0", " ")
    assert "| 1 | Ferry lentil dal | disagrees | 1,800 → 430 ✕ |" in plain
    assert 'file "x.bin" is no text' in plain
    table = [line for line in text.splitlines() if line.startswith("| ")]
    assert len({line.count(" | ") for line in table[:5]}) == 1


@pytest.mark.parametrize(
    ("text", "safe"),
    [
        ("a | b\nc", r"a \| b c"),
        ("<img src=x>", "&lt;img src=x&gt;"),
        ("[x](javascript:y)", r"\[x\](javascript:y)"),
        ("![x](http://y)", r"\!\[x\](http\://y)"),
        ("@team", "@\u200bteam"),
        (":tada:", r"\:tada:"),
        ("salt: 1 g", "salt: 1 g"),
        ("`code` *b* _i_", r"\`code\` \*b\* \_i\_"),
    ],
)
def test_markdown_escapes_outside_text(text: str, safe: str) -> None:
    assert escaped(text) == safe


@pytest.mark.soak
def test_one_report_a_creator(collection: Result, tmp_path: Path) -> None:
    parts = by_creator(collection)
    assert [(p.name, p.folder, list(p.result.recipes["recipe_id"])) for p in parts] == [
        ("Bo Marsh", "bo-marsh", ["slaw"]),
        ("Ines Tarn", "ines-tarn", ["soup", "dal"]),
        ("No creator named", "no-creator-named", ["cake"]),
    ]
    written = write(collection, tmp_path, formats=["csv", "html"], by_creator=True)
    names = {str(p.relative_to(tmp_path)) for p in written}
    assert {"report.html", "creators/bo-marsh/report.html", "creators/ines-tarn/lines.csv"} <= names
    whole = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert 'href="creators/ines-tarn/report.html"' in whole
    own = (tmp_path / "creators/ines-tarn/report.html").read_text(encoding="utf-8")
    assert "Ferry lentil dal" in own
    assert "Signal box slaw" not in own
    assert "the amount can be read two ways" in own  # a problem of one of their recipes


def test_creators_whose_names_are_alike_or_odd_get_folders_of_their_own(
    make: Callable[..., Result],
) -> None:
    names = ["Zoë", "zoe", "../../etc", "CON", "日本", "no creator named", "x" * 300]
    specs = [(f"r{i}", f"R{i}", name, "not_judged", {}) for i, name in enumerate(names)]
    folders = [p.folder for p in by_creator(make(specs))]
    assert len(set(folders)) == len(names)
    for folder in folders:
        assert folder == folder.lower()
        assert 0 < len(folder) <= 63
        assert not set(folder) - set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert "con" not in folders


def test_no_creator_named_at_all_means_no_folders(make: Callable[..., Result]) -> None:
    assert by_creator(make([("r", "R", "", "not_judged", {})])) == []
