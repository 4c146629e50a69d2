//! Frames: a header with the content's length, a blank line, the content.
//!
//! Our own, since a reader that stops at the first malformed message would take the editor's session with it.

use std::io::{BufRead, Read, Write};

/// The most bytes one message may have; nothing sane comes near it, and a length of petabytes must not be allocated.
const LIMIT: usize = 256 << 20;

/// What came in.
#[derive(Debug, PartialEq)]
pub(crate) enum Frame {
    /// A message's bytes, not yet looked at.
    Content(Vec<u8>),
    /// Bytes that are no message; the reader goes on behind them. The text says what was wrong.
    Garbage(String),
}

/// Reads the next frame; `None` at the end of input.
///
/// # Errors
/// When the stream itself fails.
pub(crate) fn read(input: &mut impl BufRead) -> std::io::Result<Option<Frame>> {
    let mut length = None;
    let mut complaint = None;
    let mut seen = 0usize;
    loop {
        let mut line = Vec::new();
        // A header line is short; whatever is longer is cut and reported.
        let read = input.by_ref().take(8192).read_until(b'\n', &mut line)?;
        if read == 0 {
            return Ok(None);
        }
        let line = String::from_utf8_lossy(&line);
        let line = line.trim_end_matches(['\r', '\n']);
        if line.is_empty() {
            if seen == 0 {
                continue; // blank lines between messages
            }
            break;
        }
        seen += 1;
        match line.split_once(':') {
            Some((name, value)) if name.trim().eq_ignore_ascii_case("content-length") => {
                match value.trim().parse::<usize>() {
                    Ok(value) if value <= LIMIT => length = Some(value),
                    _ => complaint = Some(format!("Content-Length is not a usable number: {value:.40}")),
                }
            }
            Some((name, _)) if name.trim().eq_ignore_ascii_case("content-type") => {}
            _ => {
                if length.is_none() {
                    return Ok(Some(Frame::Garbage(format!("not a message header: {line:.40}"))));
                }
            }
        }
    }
    let Some(length) = length else {
        return Ok(Some(Frame::Garbage(
            complaint.unwrap_or_else(|| "a header without Content-Length".into()),
        )));
    };
    let mut content = Vec::new();
    input.take(length as u64).read_to_end(&mut content)?;
    Ok((content.len() == length).then_some(Frame::Content(content)))
}

/// Writes one message.
///
/// # Errors
/// When the stream fails.
pub(crate) fn write(output: &mut impl Write, content: &[u8]) -> std::io::Result<()> {
    write!(output, "Content-Length: {}\r\n\r\n", content.len())?;
    output.write_all(content)?;
    output.flush()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(bytes: &[u8]) -> Vec<Frame> {
        let mut input = bytes;
        let mut frames = Vec::new();
        while let Some(frame) = read(&mut input).unwrap() {
            frames.push(frame);
        }
        frames
    }

    #[test]
    fn reads_what_it_writes() {
        let mut bytes = Vec::new();
        write(&mut bytes, b"one").unwrap();
        write(&mut bytes, b"").unwrap();
        write(&mut bytes, "zw\u{f6}lf".as_bytes()).unwrap();
        let contents = [&b"one"[..], b"", "zw\u{f6}lf".as_bytes()].map(|c| Frame::Content(c.to_vec()));
        assert_eq!(all(&bytes), contents);
    }

    #[test]
    fn goes_on_after_garbage() {
        let frames =
            all(b"hello?\r\nContent-Length: x\r\n\r\nContent-Type: a\r\ncontent-length: 2\r\n\r\nok");
        assert!(matches!(frames[0], Frame::Garbage(_)));
        assert!(matches!(frames[1], Frame::Garbage(_)));
        assert_eq!(frames[2], Frame::Content(b"ok".to_vec()));
    }

    #[test]
    fn a_cut_message_is_the_end() {
        assert_eq!(all(b"Content-Length: 10\r\n\r\nshort"), []);
        assert_eq!(all(b"Content-Length: 99999999999999999999\r\n\r\n").len(), 1);
    }
}
