//! `--watch` with a real process: it checks at once, and again after a change. (When exactly, the loop's own tests say.)

use crate::common::*;
use std::{
    fs,
    io::{BufRead, BufReader},
    process::{Child, Stdio},
};

/// Ends the process also when the test fails.
struct Ends(Child);

impl Drop for Ends {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn it_checks_again_after_a_change() {
    let folder = folder("lint_watch");
    let file = folder.join("a.keyon");
    fs::write(&file, SOUND).unwrap();
    let mut command = command();
    command.current_dir(&folder).args(["check", "--watch", "."]).stdin(Stdio::null()).stdout(Stdio::piped());
    let mut child = Ends(command.spawn().unwrap());
    let mut lines = BufReader::new(child.0.stdout.take().unwrap()).lines();
    let mut until = |wanted: &str| {
        for line in lines.by_ref() {
            if line.unwrap().contains(wanted) {
                return true;
            }
        }
        false
    };
    assert!(until("1 file checked: nothing found"));
    fs::write(&file, NO_RETURN).unwrap();
    assert!(until("error[no-return-path]"));
    assert!(until("1 file checked: 1 error"));
}

#[test]
fn standard_input_cannot_be_watched() {
    let ran = keyon(&["check", "--watch", "-"]);
    assert_eq!(ran.code, 2);
    assert!(ran.err.contains("standard input does not change"), "{}", ran.err);
}
