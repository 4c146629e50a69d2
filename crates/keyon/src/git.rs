//! What git knows of the files: which changed, and what was in them.

use crate::{files::ENDING, output::Failure};
use keyon_check::settings::FILE_NAME;
use std::{
    collections::BTreeMap,
    ffi::OsStr,
    io::{Read, Write},
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

    /// Circuits, libraries and settings of a commit: paths below the top and what is in them, sorted. Hidden folders are
    /// passed over, as on disk; links are not followed.
    pub(crate) fn files(&self, commit: &str, why: &str) -> Result<BTreeMap<String, Vec<u8>>, Failure> {
        let listing = self.output(&["ls-tree", "-r", "-z", "--full-tree", commit], why)?;
        let mut blobs: Vec<(String, String)> = Vec::new();
        for entry in listing.split(|byte| *byte == 0) {
            let entry = String::from_utf8_lossy(entry);
            // `100644 blob HASH<tab>PATH`
            let Some((head, path)) = entry.split_once('\t') else { continue };
            let mut words = head.split(' ');
            let (mode, hash) = (words.next().unwrap_or_default(), words.nth(1).unwrap_or_default());
            let name = path.rsplit('/').next().unwrap_or(path);
            let ours = name == FILE_NAME || Path::new(name).extension().is_some_and(|e| e == ENDING);
            let hidden = path.split('/').any(|name| name.starts_with('.') && name.len() > 1);
            if ours && !hidden && mode.starts_with("100") {
                blobs.push((path.to_owned(), hash.to_owned()));
            }
        }
        self.blobs(&blobs, why)
    }

    /// The contents of many blobs by one process.
    fn blobs(&self, blobs: &[(String, String)], why: &str) -> Result<BTreeMap<String, Vec<u8>>, Failure> {
        let mut command = command(&self.top, ["cat-file", "--batch"]);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut child = command.spawn().map_err(|error| no_git(&error, why))?;
        let (stdin, stdout) = (child.stdin.take(), child.stdout.take());
        // Asking and reading go on side by side: either pipe may be full.
        let bytes = std::thread::scope(|scope| {
            scope.spawn(move || {
                let mut stdin = stdin;
                for (_, hash) in blobs {
                    let asked = stdin.as_mut().map(|pipe| writeln!(pipe, "{hash}"));
                    if !matches!(asked, Some(Ok(()))) {
                        return;
                    }
                }
            });
            let mut bytes = Vec::new();
            let read = stdout.map(|mut pipe| pipe.read_to_end(&mut bytes));
            (matches!(read, Some(Ok(_)))).then_some(bytes)
        });
        let ended = child.wait().is_ok_and(|status| status.success());
        let broken = || Failure::Message("`git cat-file` ended early: is the repository whole?".to_owned());
        let bytes = bytes.filter(|_| ended).ok_or_else(broken)?;
        let mut rest = bytes.as_slice();
        let mut files = BTreeMap::new();
        for (path, _) in blobs {
            // `HASH blob SIZE<newline>CONTENT<newline>`
            let end = rest.iter().position(|byte| *byte == b'\n').ok_or_else(broken)?;
            let (head, body) = rest.split_at(end);
            let head = String::from_utf8_lossy(head);
            let size: usize =
                head.rsplit(' ').next().and_then(|size| size.parse().ok()).ok_or_else(broken)?;
            let content = body.get(1..size + 1).ok_or_else(broken)?;
            files.insert(path.clone(), content.to_vec());
            rest = body.get(size + 2..).ok_or_else(broken)?;
        }
        Ok(files)
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
    command(folder, args).stdin(Stdio::null()).output().map_err(|error| no_git(&error, why))
}

fn command<S: AsRef<OsStr>>(folder: &Path, args: impl IntoIterator<Item = S>) -> Command {
    let mut command = Command::new("git");
    // Paths come as they are, messages in the language that we show them in.
    command.arg("-C").arg(folder).args(["-c", "core.quotePath=false"]).args(args).env("LC_ALL", "C");
    command
}

fn no_git(error: &std::io::Error, why: &str) -> Failure {
    Failure::Message(if error.kind() == std::io::ErrorKind::NotFound {
        format!("{why} asks git, which is not to be found: install it, or name the files")
    } else {
        format!("cannot run git: {error}")
    })
}

fn last_line(output: &Output) -> String {
    let text = String::from_utf8_lossy(&output.stderr);
    text.lines().last().unwrap_or("no reason given").trim_start_matches("fatal: ").to_owned()
}
