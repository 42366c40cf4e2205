#!/usr/bin/env bash
# What the program is made of: supply.sh VENV licences|sbom|audit
#   licences  LICENSES.md: every package a user installs, its version and licence
#   sbom      sbom.cdx.json: the same as a CycloneDX bill of materials, with the hashes of the lock
#   audit     known vulnerabilities of the locked packages; says so where no service can be reached
# The tools run apart from the project's own environment, pinned here.
set -euo pipefail
cd "$(dirname "$0")/.."
venv=$1 what=$2
uv=$venv/bin/uv
tool() { "$venv/bin/uvx" -q "$@"; }
[ -x "$uv" ] || { echo "supply.sh needs uv: $venv/bin/python -m pip install --require-hashes -r requirements/uv.lock"; exit 2; }

users_environment() {  # only what a user gets: the packages of run.lock, hashes checked
  clean=$(mktemp -d)
  trap 'rm -rf "$clean"' EXIT
  "$uv" venv -q --python "$venv/bin/python" "$clean/env"
  "$uv" pip install -q --python "$clean/env/bin/python" --require-hashes -r requirements/run.lock
}

case $what in
  licences)
    users_environment
    {
      echo "# Licences of the packages a user installs"
      echo
      echo "Made by \`make licences\` from \`requirements/run.lock\`. Steelyard itself: Apache-2.0, see LICENSE."
      echo "USDA National Nutrient Database for Standard Reference (data/sr28): public domain."
      echo
      tool pip-licenses==5.5.5 --python "$clean/env/bin/python" --format=markdown --order=name \
        --with-urls --ignore-packages pip setuptools uv
    } > LICENSES.md
    echo "LICENSES.md: $(grep -c '^| [A-Za-z]' LICENSES.md | awk '{print $1 - 1}') packages" ;;
  sbom)
    users_environment
    tool --from cyclonedx-bom==7.5.0 cyclonedx-py environment "$clean/env/bin/python" \
      --pyproject pyproject.toml --output-reproducible --of JSON -o sbom.cdx.json
    "$venv/bin/python" - <<'PY'
import json, pathlib
bom = json.loads(pathlib.Path("sbom.cdx.json").read_text())
print(f"sbom.cdx.json: CycloneDX {bom['specVersion']}, {len(bom['components'])} components")
PY
    ;;
  audit)
    report=$(mktemp)
    timeout 300 "$venv/bin/uvx" -q pip-audit==2.10.1 -r requirements/run.lock --require-hashes \
      --disable-pip --progress-spinner off --format json -o "$report" 2> /dev/null || true
    "$venv/bin/python" - "$report" <<'PY'
import json, pathlib, sys
try:
    rows = json.loads(pathlib.Path(sys.argv[1]).read_text())["dependencies"]
except (OSError, ValueError, KeyError):
    rows = []
asked = [r for r in rows if "skip_reason" not in r]
found = [(r["name"], r["version"], v["id"], v.get("fix_versions")) for r in asked for v in r["vulns"]]
for name, version, known, fixed in found:
    print(f"{name} {version}: {known}, fixed in {', '.join(fixed or ['no release yet'])}")
if not asked:
    print("audit: no vulnerability service could be reached from here; nothing was checked")
else:
    print(f"audit: {len(found)} known vulnerabilities in {len(asked)} of {len(rows)} packages asked about")
sys.exit(bool(found))
PY
    ;;
  *) echo "supply.sh VENV licences|sbom|audit"; exit 2 ;;
esac
