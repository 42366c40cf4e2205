"""Starting the page: this machine alone, and what is shipped with it."""

from __future__ import annotations

import hashlib
import re
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.problems import SteelyardError
from pipeline.web import view
from pipeline.web.server import listen, serve


def test_this_machine_alone_is_served() -> None:
    with listen(0) as listener:
        assert listener.getsockname()[0] == "127.0.0.1"


def test_a_port_in_use_is_told() -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(SteelyardError) as fault:
            listen(taken.getsockname()[1])
    assert fault.value.problem.code == "port-not-free"
    with pytest.raises(SteelyardError):
        listen(70_000)


def test_a_folder_without_recipes_is_told_before_anything_is_opened(
    tmp_path: Path, snapshot: object
) -> None:
    with pytest.raises(SteelyardError) as fault:
        serve(tmp_path, open_browser=False, ready=lambda _: pytest.fail("nothing to show"))
    assert fault.value.exit_code == 3


def test_the_script_library_is_the_one_its_licence_file_names() -> None:
    static = view.HERE / "static"
    noted = re.search(r"sha256 ([0-9a-f]{64})", (static / "htmx.LICENSE.txt").read_text())
    assert noted is not None
    assert hashlib.sha256((static / "htmx.min.js").read_bytes()).hexdigest() == noted[1]


def test_nothing_of_the_page_is_loaded_by_the_command_line() -> None:
    code = (
        "import sys, pipeline.cli, pipeline.run, pipeline.web;"
        "sys.exit(any(m in sys.modules for m in ('starlette', 'uvicorn', 'jinja2')))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
