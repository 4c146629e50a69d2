# Sourced: installs the editor (its build for the browser), Chromium and Playwright under target/ where they are missing.
# Wants $here, the folder of the tests; gives $home, where the editor is.
home=${KEYON_EDITOR_HOME:-$here/../../../target/editor-test}
mkdir -p "$home" && home=$(realpath "$home")
version=4.100.3 # the last one for Node 20

if ! command -v rg >/dev/null || ! command -v chromium >/dev/null; then
  apt-get update -qq
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium fonts-dejavu-core ripgrep >/dev/null
fi
if ! command -v g++ >/dev/null || ! command -v make >/dev/null; then
  apt-get update -qq
  DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends g++ make >/dev/null
fi
if ! [ -e "$home/ok" ]; then
  pushd "$home" >/dev/null
  [ -f package.json ] || npm init -y >/dev/null
  nodedir=$(dirname "$(dirname "$(readlink -f "$(command -v node)")")")
  gyp="$(npm root -g)/npm/node_modules/node-gyp/bin/node-gyp.js"
  build() { (cd "$1" && node "$gyp" rebuild --nodedir="$nodedir" >gyp.log 2>&1) || { tail -20 "$1/gyp.log"; return 1; }; }
  npm install --ignore-scripts --no-audit --no-fund --silent "code-server@$version" playwright-core@1.65.1
  build node_modules/argon2 || npm_config_build_from_source=true npm rebuild argon2
  cd node_modules/code-server/lib/vscode
  npm install --ignore-scripts --omit=dev --no-audit --no-fund --silent
  for m in node-pty @vscode/spdlog native-watchdog; do build "node_modules/$m"; done
  mkdir -p node_modules/@vscode/ripgrep/bin
  ln -sf "$(command -v rg)" node_modules/@vscode/ripgrep/bin/rg
  ln -sfn node_modules node_modules.asar
  ln -sf code-linux.sh bin/remote-cli/code-server
  ln -sf browser-linux.sh bin/helpers/browser.sh
  touch "$home/ok"
  popd >/dev/null
fi
