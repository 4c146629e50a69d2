//! Runs the binary as a person would, from the root of the project.
#![allow(dead_code, unreachable_pub, missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::{
    io::Write,
    path::{Path, PathBuf},
    process::{Command, Stdio},
};

pub struct Ran {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Ran {
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}\n{}\n{}", self.out, self.err))
    }
}

pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..").canonicalize().unwrap()
}

pub fn command() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_keyon"));
    // Tests leave nothing in the user's folders.
    let cache = Path::new(env!("CARGO_TARGET_TMPDIR")).join("cache");
    command.current_dir(root()).env_remove("NO_COLOR").env("KEYON_CACHE_DIR", cache);
    command
}

pub fn keyon(args: &[&str]) -> Ran {
    finish(command().args(args).stdin(Stdio::null()))
}

pub fn keyon_in(folder: &Path, args: &[&str]) -> Ran {
    finish(command().current_dir(folder).args(args).stdin(Stdio::null()))
}

pub fn keyon_with(args: &[&str], input: &[u8]) -> Ran {
    let mut command = command();
    let mut child = command
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child.stdin.take().unwrap().write_all(input).unwrap();
    ran(child.wait_with_output().unwrap())
}

fn finish(command: &mut Command) -> Ran {
    ran(command.output().unwrap())
}

fn ran(output: std::process::Output) -> Ran {
    Ran {
        code: output.status.code().unwrap_or(-1),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// An empty folder of this test's own.
pub fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder.canonicalize().unwrap()
}

pub const SPRAYER: &str = "corpus/circuits/orchard_sprayer.keyon";

/// A lamp behind a switch, with nothing to find in it.
pub const SOUND: &str = "\
circuit porch \"Porch lamp\"
supply battery  12.6 V  inner 15 mohm
ground G1
fuse F1  battery -> sw.1  5 A
switch sw \"Porch switch\"
wire 1  sw.2 -> porch.1  0.75 mm2  OG  2.0 m
wire 2  porch.2 -> G1    0.75 mm2  BK  0.5 m
lamp porch \"Porch lamp\"  10 W 12 V
scenario lit { sw on }
expect in lit { porch operates }
";

/// The same lamp without a way to ground.
pub const NO_RETURN: &str = "\
circuit porch \"Porch lamp\"
supply battery  12.6 V  inner 15 mohm
ground G1
fuse F1  battery -> sw.1  5 A
switch sw \"Porch switch\"
wire 1  sw.2 -> porch.1  0.75 mm2  OG  2.0 m
lamp porch \"Porch lamp\"  10 W 12 V
unused porch.2
";
