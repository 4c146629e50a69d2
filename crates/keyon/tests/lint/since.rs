//! `--since`: what changed, and what uses it.

use crate::common::*;
use std::{fs, path::Path, process::Command};

pub(crate) fn git(folder: &Path, args: &[&str]) {
    let output = Command::new("git")
        .current_dir(folder)
        .args(["-c", "user.name=Pat", "-c", "user.email=pat@example.org", "-c", "commit.gpgsign=false"])
        .args(args)
        .env_remove("GIT_DIR")
        .output()
        .unwrap();
    assert!(output.status.success(), "{args:?}: {}", String::from_utf8_lossy(&output.stderr));
}

fn circuit(name: &str, uses: &str) -> String {
    format!(
        "circuit {name}\n{uses}\nsupply b 12 V\nground G\nfuse F b -> v.1 5 A\ndevice v : valve\nwire v.2 -> G\n"
    )
}

/// `a` uses `p` by way of `q`, `b` uses its own part, `c` nothing that changes.
fn repository(name: &str) -> std::path::PathBuf {
    let folder = folder(name);
    let part = "part valve { pins 1, 2\n  coil 24 ohm\n}\n";
    fs::create_dir(folder.join("sub")).unwrap();
    fs::write(folder.join("p.keyon"), part).unwrap();
    fs::write(folder.join("q.keyon"), "use \"p.keyon\"\n").unwrap();
    fs::write(folder.join("a.keyon"), circuit("a", "use \"q.keyon\"")).unwrap();
    fs::write(folder.join("b.keyon"), circuit("b", part)).unwrap();
    fs::write(folder.join("sub/c.keyon"), circuit("c", part)).unwrap();
    git(&folder, &["init", "-q", "-b", "main"]);
    git(&folder, &["add", "-A"]);
    git(&folder, &["commit", "-q", "-m", "first"]);
    folder
}

/// The files that were checked.
fn checked(folder: &Path, more: &[&str]) -> Vec<String> {
    let ran = keyon_in(folder, &[&["check", ".", "--format", "junit", "--since", "main"], more].concat());
    assert!(ran.code < 2, "{}", ran.err);
    let names = ran.out.lines().filter_map(|line| line.trim().strip_prefix("<testsuite name=\""));
    names.map(|rest| rest.split('"').next().unwrap().to_owned()).collect()
}

#[test]
fn a_changed_library_brings_all_that_use_it() {
    let folder = repository("lint_since");
    assert!(checked(&folder, &[]).is_empty());
    let ran = keyon_in(&folder, &["check", ".", "--since", "main"]);
    assert_eq!(ran.out, "0 files checked: nothing found; 5 not touched since main\n");
    fs::write(folder.join("p.keyon"), "part valve { pins 1, 2\n  coil 20 ohm\n}\n").unwrap();
    assert_eq!(checked(&folder, &[]), ["./a.keyon", "./p.keyon", "./q.keyon"]);
    git(&folder, &["checkout", "-q", "-b", "other"]);
    git(&folder, &["commit", "-q", "-a", "-m", "second"]);
    assert_eq!(checked(&folder, &[]), ["./a.keyon", "./p.keyon", "./q.keyon"]);
    // A file that git does not know yet, and settings.
    fs::write(folder.join("sub/new.keyon"), circuit("n", "")).unwrap();
    assert!(checked(&folder, &[]).contains(&"./sub/new.keyon".to_owned()));
    fs::write(folder.join("sub/keyon.toml"), "").unwrap();
    assert!(checked(&folder, &[]).contains(&"./sub/c.keyon".to_owned()));
    // A library that is gone.
    git(&folder, &["reset", "-q", "--hard", "main"]);
    fs::remove_file(folder.join("p.keyon")).unwrap();
    assert_eq!(checked(&folder, &[]), ["./a.keyon", "./q.keyon", "./sub/c.keyon", "./sub/new.keyon"]);
}

#[test]
fn what_main_did_meanwhile_is_not_ours() {
    let folder = repository("lint_since_base");
    git(&folder, &["checkout", "-q", "-b", "other"]);
    fs::write(folder.join("b.keyon"), circuit("b2", "")).unwrap();
    git(&folder, &["commit", "-q", "-a", "-m", "ours"]);
    git(&folder, &["checkout", "-q", "main"]);
    fs::write(folder.join("sub/c.keyon"), circuit("c2", "")).unwrap();
    git(&folder, &["commit", "-q", "-a", "-m", "theirs"]);
    git(&folder, &["checkout", "-q", "other"]);
    assert_eq!(checked(&folder, &[]), ["./b.keyon"]);
}

#[test]
fn without_git_or_a_commit_it_says_so() {
    let folder = repository("lint_since_none");
    let ran = keyon_in(&folder, &["check", ".", "--since", "no-such-branch"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("git knows no commit `no-such-branch`"), "{}", ran.err);
    assert_eq!(keyon_in(&folder, &["check", ".", "--since=--output=x"]).code, 2);
    let outside = std::env::temp_dir().join(format!("keyon-no-repository-{}", std::process::id()));
    fs::create_dir_all(&outside).unwrap();
    fs::write(outside.join("a.keyon"), SOUND).unwrap();
    let ran = keyon_in(&outside, &["check", ".", "--since", "main"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("in no git repository"), "{}", ran.err);
    let without = command()
        .current_dir(&outside)
        .env("PATH", "")
        .args(["check", ".", "--since", "main"])
        .output()
        .unwrap();
    let err = String::from_utf8_lossy(&without.stderr).into_owned();
    assert_eq!(without.status.code(), Some(2));
    assert!(err.contains("asks git, which is not to be found"), "{err}");
    fs::remove_dir_all(outside).unwrap();
}
