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

/// A run that is answered without reading tells what one tells that reads everything, in every format, and any change is
/// seen: of a file, of what it uses, of settings that come to be, of files that come and go.
#[cfg(unix)]
#[test]
fn a_run_over_files_that_stand_as_they_stood_is_answered_at_once() {
    let folder = folder("lint_cache_runs");
    fs::create_dir(folder.join("lib")).unwrap();
    let write = |name: &str, text: &str| fs::write(folder.join("lib").join(name), text).unwrap();
    write("p.keyon", "part valve { pins 1, 2\n  coil 24 ohm\n}\n");
    let circuit = "circuit c\nuse \"p.keyon\"\nuse \"q.keyon\"\nsupply b 12 V\nground G\nfuse F b -> v.1 5 A\ndevice v : valve\nwire v.2 -> G\n";
    write("c.keyon", circuit);
    let old = || {
        // Nothing but time makes a change old, and the test does not wait for it where it need not.
        std::thread::sleep(std::time::Duration::from_millis(4_200));
    };
    let formats: [&[&str]; 5] = [
        &[],
        &["--format", "json"],
        &["--format", "sarif"],
        &["--format", "github"],
        &["--quiet", "--strict"],
    ];
    let check =
        |cache: &[&str], format: &[&str]| keyon_in(&folder, &[&["check", "lib"], cache, format].concat());
    let runs = folder.join("kept").join("runs");
    let same = |what: &str| {
        for format in formats {
            let read = check(&["--no-cache"], format);
            for _ in 0..2 {
                let kept = check(&["--cache-dir", "kept"], format);
                assert_eq!(
                    (kept.out, kept.err, kept.code),
                    (read.out.clone(), read.err.clone(), read.code),
                    "{what}"
                );
            }
        }
    };
    old();
    same("at first");
    let kept: Vec<PathBuf> = fs::read_dir(&runs).unwrap().map(|entry| entry.unwrap().path()).collect();
    assert_eq!(kept.len(), 1, "one question, one answer");
    // That it is the kept answer that is told shows where that is another, and whole.
    let text = fs::read_to_string(&kept[0]).unwrap();
    fs::write(&kept[0], &text[..text.len() - 1]).unwrap();
    same("a spoilt answer");
    assert_eq!(fs::read_to_string(&kept[0]).unwrap(), text);
    write("q.keyon", "part pump { pins 1, 2\n  coil -1 ohm\n}\n");
    same("a library that was missing");
    fs::remove_file(folder.join("lib/q.keyon")).unwrap();
    write("p.keyon", "part valve { pins 1, 2\n  coil 0.1 ohm\n}\n");
    same("a library that changed");
    fs::write(folder.join("keyon.toml"), "rules.missing-gauge = \"error\"\n").unwrap();
    same("settings that came");
    old();
    same("settings that came, once they are old");
    fs::remove_file(folder.join("keyon.toml")).unwrap();
    same("settings that went");
    write("d.keyon", "circuit d\nsupply b 12 V\n");
    same("a file that came");
    fs::remove_file(folder.join("lib/d.keyon")).unwrap();
    same("a file that went");
}
