#!/usr/bin/env bash
# Drives the real editor as a person does, by mouse and keyboard, with the extension installed from its package. Takes a
# picture at every step (target/editor-shots). Usage: user.sh PATH_TO_KEYON
set -euo pipefail
here=$(cd "$(dirname "$0")" && pwd)
keyon=$(realpath "$1")
. "$here/install.sh"
cd "$here/.."
[ -d node_modules ] || npm ci --no-audit --no-fund --silent
node build.mjs
package=$home/keyon.vsix
node_modules/.bin/vsce package --no-dependencies -o "$package" </dev/null >"$home/package.log" 2>&1 || { cat "$home/package.log"; exit 1; }
KEYON_EDITOR_HOME=$home KEYON_VSIX=$package KEYON=$keyon node "$here/user.mjs"
