#!/usr/bin/env bash
# Drives the extension inside the real editor (its build for the browser), in headless Chromium, with the extension host's
# own API. Installs the editor under target/ on the first run. Usage: host.sh PATH_TO_KEYON
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
keyon=$(realpath "$1")
. "$here/install.sh"
KEYON_EDITOR_HOME=$home KEYON=$keyon node "$here/host.mjs"
