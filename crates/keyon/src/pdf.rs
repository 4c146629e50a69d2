//! PDF by the printing of a browser: what is printed looks as it looks on the screen.

use std::{
    path::{Path, PathBuf},
    process::{Command, Stdio},
    time::{Duration, Instant},
};

/// Names that browsers with printing of their own go by.
const NAMES: [&str; 8] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "chromium-headless-shell",
    "microsoft-edge",
    "msedge",
];
/// Where they stand on systems that do not put them on the path.
const PLACES: [&str; 4] = [
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe",
    "C:\\Program Files (x86)\\Microsoft\\Edge\\Application\\msedge.exe",
];
/// The environment variable that names another one.
const VARIABLE: &str = "KEYON_BROWSER";
/// A page of ours is printed in a second or two.
const PATIENCE: Duration = Duration::from_secs(60);

/// Prints a page of our own to a PDF file.
///
/// # Errors
/// Where there is no browser, where it does not print, and where the file cannot be written.
pub(crate) fn print(html: &str, to: &Path) -> Result<(), String> {
    let browser = browser()?;
    let folder = Scratch::new()?;
    let page = folder.0.join("page.html");
    std::fs::write(&page, html).map_err(|e| format!("cannot write `{}`: {e}", page.display()))?;
    let made = folder.0.join("page.pdf");
    let mut command = Command::new(&browser);
    command
        .args([
            "--headless",
            "--disable-gpu",
            "--no-pdf-header-footer",
            "--no-first-run",
            "--disable-extensions",
        ])
        .args(["--disable-background-networking", "--disable-sync", "--disable-component-update"])
        .arg(format!("--user-data-dir={}", folder.0.join("profile").display()))
        .arg(format!("--print-to-pdf={}", made.display()));
    if is_root() {
        // It refuses to start otherwise; the page is our own, and may load nothing.
        command.arg("--no-sandbox");
    }
    command.arg(&page).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    run(command, &browser)?;
    let bytes = std::fs::read(&made).map_err(|_| format!("`{}` printed nothing", browser.display()))?;
    std::fs::write(to, bytes).map_err(|e| format!("cannot write `{}`: {e}", to.display()))
}

fn run(mut command: Command, browser: &Path) -> Result<(), String> {
    let failed = |e: std::io::Error| format!("cannot run `{}`: {e}", browser.display());
    let mut child = command.spawn().map_err(failed)?;
    let begun = Instant::now();
    loop {
        match child.try_wait().map_err(failed)? {
            Some(status) if status.success() => return Ok(()),
            Some(status) => return Err(format!("`{}` did not print: {status}", browser.display())),
            None if begun.elapsed() > PATIENCE => {
                let _ = child.kill();
                let _ = child.wait();
                return Err(format!("`{}` did not print within a minute", browser.display()));
            }
            None => std::thread::sleep(Duration::from_millis(20)),
        }
    }
}

fn browser() -> Result<PathBuf, String> {
    if let Some(named) = std::env::var_os(VARIABLE).filter(|named| !named.is_empty()) {
        return Ok(PathBuf::from(named));
    }
    let path = std::env::var_os("PATH").unwrap_or_default();
    let folders: Vec<PathBuf> = std::env::split_paths(&path).collect();
    let ending = std::env::consts::EXE_SUFFIX;
    let named = NAMES.iter().flat_map(|name| folders.iter().map(move |f| f.join(format!("{name}{ending}"))));
    let placed = PLACES.iter().map(PathBuf::from);
    named.chain(placed).find(|file| file.is_file()).ok_or_else(|| {
        format!(
            "a PDF is printed by a browser, and none was found: name one in {VARIABLE}, or write `.html` and print it to PDF"
        )
    })
}

#[cfg(unix)]
fn is_root() -> bool {
    use std::os::unix::fs::MetadataExt;
    // What this process makes is its own.
    std::fs::metadata("/proc/self").is_ok_and(|own| own.uid() == 0)
}

#[cfg(not(unix))]
fn is_root() -> bool {
    false
}

/// A folder of its own that goes away with it.
struct Scratch(PathBuf);

impl Scratch {
    fn new() -> Result<Self, String> {
        let mut last = String::new();
        for n in 0..64 {
            let folder = std::env::temp_dir().join(format!("keyon-print-{}-{n}", std::process::id()));
            match std::fs::create_dir(&folder) {
                Ok(()) => return Ok(Self(folder)),
                Err(e) => last = format!("cannot make `{}`: {e}", folder.display()),
            }
        }
        Err(last)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        // Best effort: a browser may still hold a file for a moment.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// A drawing as a page of its own size.
pub(crate) fn page_of(svg: &str) -> String {
    let (wide, high) = keyon_draw::size_of(svg);
    format!(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <title>circuit</title>\n<style>@page {{ size: {wide}px {high}px; margin: 0; }} \
         html, body {{ margin: 0; }} svg {{ display: block; break-inside: avoid; }}</style>\n</head>\n<body>\n{svg}</body>\n</html>\n"
    )
}
