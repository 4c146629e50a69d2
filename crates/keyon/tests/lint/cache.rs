//! What is kept of unchanged files changes nothing but the time.

use crate::common::*;
use std::{
    fs,
    path::{Path, PathBuf},
};

/// The files of a cache that hold what is known of the files of a folder.
fn entries(folder: &Path) -> Vec<PathBuf> {
    let all = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    all.filter(|path| path.is_file()).collect()
}

#[test]
fn a_known_file_gives_the_same_answer_until_what_it_uses_changes() {
    let folder = folder("lint_cache");
    fs::write(folder.join("p.keyon"), "part valve { pins 1, 2\n  coil -24 ohm\n}\n").unwrap();
    fs::write(
        folder.join("c.keyon"),
        "circuit c\nuse \"p.keyon\"\nsupply b 12 V\nground G\nfuse F b -> v.1 5 A\ndevice v : valve\nwire v.2 -> G\n",
    )
    .unwrap();
    let check = |more: &[&str]| {
        keyon_in(&folder, &[&["check", "c.keyon", "--cache-dir", "kept", "--statistics"], more].concat())
    };
    let first = check(&[]);
    assert!(first.out.contains("1 files (0 known from the cache)"), "{}", first.out);
    assert_eq!(entries(&folder.join("kept")).len(), 1);
    let second = check(&[]);
    assert_eq!(second.out, first.out.replace("(0 known", "(1 known"));
    assert_eq!(second.code, first.code);

    fs::write(folder.join("p.keyon"), "part valve { pins 1, 2\n  coil 24 ohm\n}\n").unwrap();
    let third = check(&[]);
    assert!(third.out.contains("(0 known") && !third.out.contains("impossible-value"), "{}", third.out);
    fs::write(folder.join("keyon.toml"), "rules.missing-gauge = \"error\"\n").unwrap();
    let fourth = check(&[]);
    assert!(fourth.out.contains("(0 known") && fourth.out.contains("error[missing-gauge]"), "{}", fourth.out);
    assert!(check(&[]).out.contains("(1 known"));
    assert_eq!(entries(&folder.join("kept")).len(), 1, "one file for the folder");

    // Spoilt entries are passed over and written anew.
    let entry = entries(&folder.join("kept")).remove(0);
    fs::write(&entry, "spoilt").unwrap();
    assert_eq!(check(&[]).out, fourth.out);
    assert_ne!(fs::read(&entry).unwrap(), b"spoilt");
    fs::remove_dir_all(folder.join("kept")).unwrap();
    let ran = keyon_in(&folder, &["check", "c.keyon", "--no-cache", "--statistics"]);
    assert_eq!(ran.out, fourth.out);
    assert!(!folder.join("kept").exists());
}

#[test]
fn two_processes_at_once_agree() {
    let folder = folder("lint_cache_two");
    let args = ["check", "corpus/rules", "--cache-dir", folder.to_str().unwrap(), "--format", "json"];
    let mut both: Vec<_> =
        (0..2).map(|_| command().args(args).stdout(std::process::Stdio::piped()).spawn().unwrap()).collect();
    let outs: Vec<_> = both.drain(..).map(|child| child.wait_with_output().unwrap().stdout).collect();
    assert_eq!(outs[0], outs[1]);
    assert_eq!(keyon(&args).out.as_bytes(), outs[0]);
    assert!(entries(&folder).iter().all(|path| path.extension().is_none()), "nothing half written is left");
}
