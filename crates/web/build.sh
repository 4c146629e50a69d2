#!/usr/bin/env bash
# Builds the core for pages: crates/web as WebAssembly, packed, into crates/keyon/web/core.wasm.gz. Needs a Rust with the target
# wasm32-unknown-unknown; where there is none, Debian's rustc-web is installed and its standard library built for it once.
set -euo pipefail
cd "$(dirname "$0")/../.."
target=wasm32-unknown-unknown
cache=${KEYON_WASM_CACHE:-$PWD/target/wasm}
flags=()
if rustc --print sysroot >/dev/null && [ -d "$(rustc --print sysroot)/lib/rustlib/$target/lib" ]; then
  :
else
  if ! [ -x /usr/bin/rustc ] || ! [ -e /usr/lib/rustlib/src/rust/library/Cargo.lock ]; then
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends rustc-web rust-web-src
  fi
  host=$(rustc -vV | sed -n 's/^host: //p')
  lld=$(rustc --print sysroot)/lib/rustlib/$host/bin/rust-lld
  export RUSTC=/usr/bin/rustc CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER=$lld
  version=$(dpkg-query -W -f '${Version}' rustc-web)
  sysroot=$cache/sysroot-$version
  if ! [ -e "$sysroot/ok" ]; then
    build=$(mktemp -d)
    mkdir -p "$build/src" "$sysroot/lib/rustlib/$target/lib"
    : >"$build/src/lib.rs"
    printf '[package]\nname="stdb"\nversion="0.0.0"\nedition="2021"\n[workspace]\n[profile.release]\npanic="abort"\ncodegen-units=1\n' >"$build/Cargo.toml"
    (cd "$build" && RUSTC_BOOTSTRAP=1 CARGO_TARGET_DIR=$build/t CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_RUSTFLAGS=-Cembed-bitcode=yes \
      cargo build -q -Zbuild-std=std,panic_abort --target $target --release)
    find "$build/t/$target/release" -name '*.rlib' ! -name 'libstdb*' -exec cp {} "$sysroot/lib/rustlib/$target/lib/" \;
    rm -rf "$build"
    touch "$sysroot/ok"
  fi
  flags=(--sysroot="$sysroot")
fi
# No paths of this machine in the bytes.
export CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_RUSTFLAGS="${flags[*]-} --remap-path-prefix=$PWD=. --remap-path-prefix=${CARGO_HOME:-$HOME/.cargo}=cargo"
CARGO_TARGET_DIR=$cache/target cargo build --locked -q -p keyon-web --lib --target $target --profile web
mkdir -p crates/keyon/web
gzip -9nc "$cache/target/$target/web/keyon_web.wasm" >crates/keyon/web/core.wasm.gz
ls -l crates/keyon/web/core.wasm.gz
