#!/usr/bin/env bash
# Rewrites the two lock files from pyproject.toml. Usage: requirements/lock.sh [--upgrade]
set -euo pipefail
cd "$(dirname "$0")/.."
uv pip compile requirements/uv.in --universal --python-version 3.11 --generate-hashes \
  --no-emit-index-url -q --custom-compile-command requirements/lock.sh "$@" -o requirements/uv.lock
common=(--universal --python-version 3.11 --generate-hashes --no-emit-index-url -q
        --custom-compile-command requirements/lock.sh "$@")
uv pip compile pyproject.toml requirements/build.in "${common[@]}" -o requirements/run.lock
uv pip compile pyproject.toml requirements/build.in --all-extras "${common[@]}" -c requirements/run.lock -o requirements/dev.lock
