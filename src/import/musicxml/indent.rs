//! Takes the indentation out of a score before it is parsed. The parser makes a node of the white space between two
//! tags, so an indented score would have twice the nodes, and take twice the time and memory. No text of a score can
//! change: the reader trims all white space around a text.

use memchr::{memchr_iter, memmem};

/// Returns the text without the line ends and indentation between two tags; `None` if the text has a CDATA section, in
/// which `>` and `<` need not belong to tags.
pub(super) fn without(text: &str) -> Option<String> {
    let bytes = text.as_bytes();
    if memmem::find(bytes, b"<![CDATA[").is_some() {
        return None;
    }
    let mut joined = String::with_capacity(text.len());
    let mut start = 0;
    for line_end in memchr_iter(b'\n', bytes) {
        // Blank lines belong to the white space that the line end before them began.
        if line_end < start {
            continue;
        }
        let before = &bytes[start..line_end];
        let before = before.strip_suffix(b"\r").unwrap_or(before);
        let next = line_end + white_space(&bytes[line_end..]);
        let follows_tag = before.last().is_none_or(|&byte| byte == b'>');
        if follows_tag && bytes.get(next) == Some(&b'<') {
            joined.push_str(&text[start..start + before.len()]);
            start = next;
        }
    }
    joined.push_str(&text[start..]);
    Some(joined)
}

/// Returns the number of bytes of white space at the start; the first byte is a line end.
fn white_space(bytes: &[u8]) -> usize {
    // Most indentation is many spaces: they are counted eight at a time.
    let spaces = bytes[1..].chunks_exact(8).take_while(|&eight| eight == b"        ").count();
    let from = 1 + 8 * spaces;
    let more = bytes[from..].iter().position(|byte| !matches!(byte, b' ' | b'\t' | b'\n' | b'\r'));
    from + more.unwrap_or(bytes.len() - from)
}
