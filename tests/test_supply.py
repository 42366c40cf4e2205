"""What the program is made of: hashed locks, and a licence table that keeps up with them."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PIN = re.compile(r"^([A-Za-z0-9._-]+)==(\S+?)(?: ; (.+?))?(?: \\)?$")


def pins(lock: str) -> list[tuple[str, str, str, int]]:
    """Name, version, marker and number of hashes of each package of a lock."""
    found: list[tuple[str, str, str, int]] = []
    for line in (ROOT / "requirements" / lock).read_text(encoding="utf-8").splitlines():
        if pin := PIN.match(line):
            found.append((_plain(pin[1]), pin[2], pin[3] or "", 0))
        elif line.strip().startswith("--hash=sha256:"):
            name, version, marker, hashes = found[-1]
            found[-1] = name, version, marker, hashes + 1
    return found


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


@pytest.mark.parametrize(("lock", "least"), [("run.lock", 50), ("dev.lock", 50), ("uv.lock", 1)])
def test_every_package_is_pinned_with_its_hashes(lock, least):
    found = pins(lock)
    assert len(found) >= least
    assert [name for name, _, _, hashes in found if not hashes] == []


def test_nothing_is_installed_without_a_lock():
    """Every call of an installer in the set-up names hashes, or installs nothing but the project."""
    texts = {
        path: path.read_text(encoding="utf-8").replace("\\\n", " ")
        for path in (ROOT / "Makefile", *(ROOT / "requirements").glob("*.sh"))
    }
    calls = [
        (path.name, line.strip())
        for path, text in texts.items()
        for line in text.splitlines()
        if re.search(r"\bpip\"? install\b", line) and not line.lstrip().startswith("#")
    ]
    assert len(calls) >= 4
    for _, line in calls:
        assert "--require-hashes" in line or "--no-deps --no-build-isolation -e ." in line, line


def test_the_licence_table_names_every_package_a_user_installs():
    text = (ROOT / "LICENSES.md").read_text(encoding="utf-8")
    rows = [
        [c.strip() for c in line.split("|")[1:4]] for line in text.splitlines() if line[:1] == "|"
    ]
    listed = {_plain(name): licence for name, _, licence in rows[2:]}
    left_out = {"pip", "setuptools", "uv"}  # they install, and are not imported
    missing = {n for n, _, marker, _ in pins("run.lock") if not marker} - set(listed) - left_out
    assert not missing, "run `make licences` after a change of the lock"
    assert [n for n, licence in listed.items() if not licence or licence == "UNKNOWN"] == []
    strong = re.compile(r"(?<!L)(?<!Lesser )(AGPL|GPL|General Public)", re.IGNORECASE)
    assert [n for n, licence in listed.items() if strong.search(licence)] == []
