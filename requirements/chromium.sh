#!/usr/bin/env bash
# Installs Debian's Chromium and its driver when they are missing and apt can be used; the browser
# tests say so and are skipped where there is none. In CI a missing browser is a fault.
set -u
if command -v chromium >/dev/null && command -v chromedriver >/dev/null; then exit 0; fi
if command -v apt-get >/dev/null && [ "$(id -u)" = 0 ]; then
  echo "Installing chromium and chromium-driver (once) ..."
  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
    chromium chromium-driver fonts-dejavu-core >/dev/null && exit 0
fi
echo "No chromium here: the browser tests will be skipped. On Debian: apt install chromium chromium-driver"
[ -z "${CI:-}" ]
