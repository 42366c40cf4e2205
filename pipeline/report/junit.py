"""report.junit.xml: one test case a recipe, as CI servers read it.

``disagrees`` is a failure, ``not_judged`` is skipped, ``uncertain`` and accepted differences pass
with their message in the output. What could not be read at all stands in the suite's error output.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree import ElementTree

from pipeline.problems import Problem
from pipeline.report.ci import cases, line_of, xml_text
from pipeline.report.frames import records

if TYPE_CHECKING:
    from pipeline.run import Result


def render(result: Result) -> str:
    """The results as JUnit XML (the schema of Apache Ant's junit task, as CI servers read it)."""
    every = list(cases(result))
    verdicts = [case.verdict for case in every if not case.accepted]
    count = {
        "tests": str(len(every)),
        "failures": str(verdicts.count("disagrees")),
        "errors": "0",
        "skipped": str(verdicts.count("not_judged")),
        "time": f"{sum(result.seconds.values()):.3f}",
    }
    root = ElementTree.Element("testsuites", {"name": "steelyard", **count})
    suite = ElementTree.SubElement(root, "testsuite", {"name": "recipes", **count})
    for case in every:
        node = ElementTree.SubElement(
            suite,
            "testcase",
            classname=xml_text(case.source.replace(".", "_") or "recipes"),
            name=xml_text(f"{case.title} [{case.recipe_id}]" if case.title else case.recipe_id),
            file=xml_text(case.source),
            time="0",
        )
        if case.source_line is not None:
            node.set("line", str(case.source_line))
        message, detail = xml_text(case.message), xml_text(case.detail)
        if case.accepted:
            output = f"accepted: {xml_text(case.accepted)}\n{message}\n{detail}".strip()
            ElementTree.SubElement(node, "system-out").text = output
        elif case.verdict == "disagrees":
            failure = ElementTree.SubElement(node, "failure", type="disagrees", message=message)
            failure.text = f"{message}\n{detail}".strip()
        elif case.verdict == "not_judged":
            ElementTree.SubElement(node, "skipped", message=message)
        elif case.verdict == "uncertain":
            ElementTree.SubElement(node, "system-out").text = f"{message}\n{detail}".strip()
    problems = [
        Problem(
            p["code"], p["what"], p["why"], p["fix"], p["source"], line_of(p["source_line"]),
            text=p["text"],
        ).render()
        for p in records(result.problems)
    ]  # fmt: skip
    if problems:
        ElementTree.SubElement(suite, "system-err").text = xml_text("\n".join(problems))
    ElementTree.indent(root)
    text = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{text}\n'
