"""report.sarif: findings and problems as SARIF 2.1.0, so that code hosts annotate file and line.

Paths are relative to the repository the collection lies in, else to the working folder, else to
the collection, whichever holds it; that base is given as an absolute URI beside them.
"""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from pipeline.report.ci import cases, line_of
from pipeline.report.facts import facts
from pipeline.report.frames import Row, records
from pipeline.report.words import RULE

if TYPE_CHECKING:
    from pipeline.run import Result

_SCHEMA = "https://json.schemastore.org/sarif-2.1.0.json"
_BASE = "SRCROOT"
_LEVEL = {"disagrees": "error", "uncertain": "warning"}


def render(result: Result) -> str:
    """The results as one SARIF run."""
    base = _base(Path(result.collection.root))
    rules = dict(RULE)
    results = [_of_case(case, base, result) for case in cases(result) if case.verdict in _LEVEL]
    for row in records(result.problems):
        rules.setdefault(row["code"], (row["what"], row["fix"]))
        results.append(_of_problem(row, base, result))
    ids = list(rules)
    for one in results:
        one["ruleIndex"] = ids.index(one["ruleId"])
    log = {
        "$schema": _SCHEMA,
        "version": "2.1.0",
        "runs": [
            {
                "tool": {
                    "driver": {
                        "name": "steelyard",
                        "version": str(facts(result)["steelyard"]),
                        "rules": [_rule(code, *rules[code]) for code in ids],
                    }
                },
                "originalUriBaseIds": {_BASE: {"uri": base.as_uri().rstrip("/") + "/"}},
                "columnKind": "unicodeCodePoints",
                "results": results,
            }
        ],
    }
    return json.dumps(log, ensure_ascii=False, indent=1, allow_nan=False) + "\n"


def _rule(code: str, what: str, fix: str) -> dict[str, Any]:
    return {
        "id": code,
        "name": code.title().replace("-", ""),
        "shortDescription": {"text": what},
        "help": {"text": fix or what},
    }


def _of_case(case: SimpleNamespace, base: Path, result: Result) -> dict[str, Any]:
    text = f"{case.title or case.recipe_id} {case.message}."
    out = _result(
        f"stated-{case.verdict}", _LEVEL[case.verdict], f"{text} {case.detail}".strip(),
        {"recipe/v1": _print(case.recipe_id, case.verdict)},
        _place(case.source, case.line or case.source_line, base, result),
    )  # fmt: skip
    if case.accepted:
        out["suppressions"] = [{"kind": "external", "justification": case.accepted}]
    return out


def _of_problem(row: Row, base: Path, result: Result) -> dict[str, Any]:
    return _result(
        row["code"], row["severity"], ". ".join(filter(None, (row["what"], row["why"], row["fix"]))),
        {"problem/v1": _print(row["code"], row["source"], row["text"])},
        _place(row["source"], line_of(row["source_line"]), base, result),
    )  # fmt: skip


def _result(
    rule: str, level: str, text: str, prints: dict[str, str], place: dict[str, Any] | None
) -> dict[str, Any]:
    located = {"locations": [place]} if place else {}
    return {
        "ruleId": rule, "level": level, "message": {"text": text}, "partialFingerprints": prints,
        **located,
    }  # fmt: skip


def _place(source: str, line: int | None, base: Path, result: Result) -> dict[str, Any] | None:
    if not source or source == "-":
        return None
    path = Path(result.collection.root) / source
    try:
        uri = quote(path.absolute().relative_to(base).as_posix())
        artifact: dict[str, Any] = {"uri": uri, "uriBaseId": _BASE}
    except ValueError:  # a file given by a path outside the collection
        artifact = {"uri": path.absolute().as_uri()}
    region = {"startLine": line or 1}
    return {"physicalLocation": {"artifactLocation": artifact, "region": region}}


def _base(root: Path) -> Path:
    """The repository that holds the collection, else the working folder if it does, else itself."""
    root = root.absolute()
    for folder in (root, *root.parents):
        if (folder / ".git").exists():
            return folder
    here = Path.cwd()
    return here if root.is_relative_to(here) else root


def _print(*parts: str) -> str:
    return hashlib.sha256("\0".join(parts).encode("utf-8", "replace")).hexdigest()[:32]
