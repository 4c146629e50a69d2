//! What git knows of the files: which changed, and what was in them.

use crate::output::Failure;
use std::{
    ffi::OsStr,
    path::{Path, PathBuf},
    process::{Command, Output, Stdio},
};

/// The repository of a folder.
#[derive(Clone, Debug)]
pub(crate) struct Repository {
    /// Its topmost folder.
    pub(crate) top: PathBuf,
}

impl Repository {
    /// The repository in which a folder is.
    pub(crate) fn of(folder: &Path, why: &str) -> Result<Self, Failure> {
        let output = run(folder, ["rev-parse", "--show-toplevel"], why)?;
        if !output.status.success() {
            return Err(Failure::Message(format!(
                "{why} asks git, and `{}` is in no git repository: {}",
                folder.display(),
                last_line(&output)
            )));
        }
        let top = PathBuf::from(String::from_utf8_lossy(&output.stdout).trim_end_matches(['\n', '\r']));
        Ok(Self { top: std::fs::canonicalize(&top).unwrap_or(top) })
    }

    /// The commit that a name means.
    pub(crate) fn commit(&self, revision: &str, why: &str) -> Result<String, Failure> {
        let unknown = |said: &str| {
            Failure::Message(format!(
                "git knows no commit `{revision}`{}",
                if said.is_empty() { String::new() } else { format!(": {said}") }
            ))
        };
        // A name that begins with a dash would be read as an option.
        if revision.is_empty() || revision.starts_with('-') {
            return Err(unknown(""));
        }
        let name = format!("{revision}^{{commit}}");
        let output = run(&self.top, ["rev-parse", "--verify", "--quiet", &name], why)?;
        if !output.status.success() {
            return Err(unknown(&last_line(&output)));
        }
        Ok(String::from_utf8_lossy(&output.stdout).trim().to_owned())
    }

    /// Every file that differs from where this branch left `revision`, committed or not, and every file that git does
    /// not know yet; also those that are gone. Absolute paths, sorted.
    pub(crate) fn changed_since(&self, revision: &str, why: &str) -> Result<Vec<PathBuf>, Failure> {
        let commit = self.commit(revision, why)?;
        // Histories that never met: then the commit itself is the place to compare with.
        let base = run(&self.top, ["merge-base", &commit, "HEAD"], why)?;
        let base = if base.status.success() {
            String::from_utf8_lossy(&base.stdout).trim().to_owned()
        } else {
            commit
        };
        let mut names = self.names(&["diff", "--name-only", "--no-renames", "-z", &base, "--"], why)?;
        names.extend(self.names(&["ls-files", "--others", "--exclude-standard", "-z"], why)?);
        names.sort();
        names.dedup();
        Ok(names)
    }

    /// Paths below the top that a command lists, each ended by a zero byte.
    fn names(&self, args: &[&str], why: &str) -> Result<Vec<PathBuf>, Failure> {
        let bytes = self.output(args, why)?;
        let names = bytes.split(|byte| *byte == 0).filter(|name| !name.is_empty());
        Ok(names.map(|name| self.top.join(&*String::from_utf8_lossy(name))).collect())
    }

    /// What a command prints, which has to go well.
    pub(crate) fn output(&self, args: &[&str], why: &str) -> Result<Vec<u8>, Failure> {
        let output = run(&self.top, args, why)?;
        if !output.status.success() {
            return Err(Failure::Message(format!("`git {}` failed: {}", args.join(" "), last_line(&output))));
        }
        Ok(output.stdout)
    }
}

/// Runs git in a folder.
fn run<S: AsRef<OsStr>>(
    folder: &Path,
    args: impl IntoIterator<Item = S>,
    why: &str,
) -> Result<Output, Failure> {
    // Paths come as they are, and no other repository is meant than that of the folder.
    let mut command = Command::new("git");
    command.arg("-C").arg(folder).args(["-c", "core.quotePath=false"]).args(args);
    command.env("LC_ALL", "C").stdin(Stdio::null());
    command.output().map_err(|error| {
        Failure::Message(if error.kind() == std::io::ErrorKind::NotFound {
            format!("{why} asks git, which is not to be found: install it, or name the files to check")
        } else {
            format!("cannot run git: {error}")
        })
    })
}

fn last_line(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stderr);
    text.lines().last().unwrap_or("no reason given").trim_start_matches("fatal: ").to_owned()
}
