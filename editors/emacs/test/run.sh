#!/usr/bin/env bash
# A real Emacs with eglot, in batch, against the server. Usage: run.sh PATH_TO_KEYON
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
KEYON=$(realpath "${1:-$here/../../../target/debug/keyon}")
if ! command -v emacs >/dev/null; then
  apt-get update -qq
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends emacs-nox elpa-eglot >/dev/null
fi
temp=$(mktemp -d)
trap 'rm -rf "$temp"' EXIT
mkdir "$temp/ws"
(cd "$temp/ws" && git init -q)
printf 'circuit a "Ä"\nsupply battery 12 V\nground G1\nlamp lamp1 "Lamp" 5 W 12 V\nswitch arm\nwire 1 battery -> arm.1\nwire 2 lamp1.2 -> G9\nwire 3 arm.2 -> lamp1.1\nscenario lit { arm on }\n' >"$temp/ws/a.keyon"
HOME=$temp WS=$temp/ws KEYON=$KEYON KEYON_MODE=$here/.. emacs --batch -q -l "$here/test.el" 2>"$temp/log" || { code=$?; tail -5 "$temp/log"; exit $code; }
