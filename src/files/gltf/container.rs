//! Where are the JSON and the binary chunk of a glTF file?

use std::ops::Range;

use super::json::{At, Wrong};

const HEADER: usize = 12;
const CHUNK_HEADER: usize = 8;

/// The parts of a file, as bytes of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Parts {
    pub json: Range<usize>,
    /// The binary chunk of a GLB.
    pub binary: Option<Range<usize>>,
    pub is_glb: bool,
}

/// Finds the parts of a file: a GLB begins with `glTF`, all else is JSON.
pub(super) fn parts(bytes: &[u8]) -> Result<Parts, Wrong> {
    if !bytes.starts_with(b"glTF") {
        return Ok(Parts { json: 0..bytes.len(), binary: None, is_glb: false });
    }
    let wrong = |byte, what: String, expected: &str| Wrong::new(At::FileByte(byte), what, expected);
    let (version, length) = (word(bytes, 4)?, word(bytes, 8)?);
    if version != 2 {
        return Err(wrong(4, format!("the GLB has version {version}"), "expected version 2"));
    }
    if length != bytes.len() {
        let what = format!("the GLB says that it has {length} bytes, and has {}", bytes.len());
        return Err(wrong(8, what, "expected the length of the file"));
    }
    let json = chunk(bytes, HEADER, *b"JSON")?;
    let next = json.end.next_multiple_of(4);
    let binary = if next < bytes.len() { Some(chunk(bytes, next, *b"BIN\0")?) } else { None };
    Ok(Parts { json, binary, is_glb: true })
}

fn chunk(bytes: &[u8], at: usize, kind: [u8; 4]) -> Result<Range<usize>, Wrong> {
    let length = word(bytes, at)?;
    let name = String::from_utf8_lossy(&kind).trim_end_matches('\0').to_owned();
    if bytes.get(at + 4..at + CHUNK_HEADER) != Some(kind.as_slice()) {
        return Err(Wrong::new(At::FileByte(at), format!("there is no {name} chunk here"), "expected one"));
    }
    let start = at + CHUNK_HEADER;
    let end = start.checked_add(length).filter(|end| *end <= bytes.len());
    end.map(|end| start..end).ok_or_else(|| {
        let what = format!("the {name} chunk says that it has {length} bytes, and {} follow", bytes.len() - start);
        Wrong::new(At::FileByte(at), what, "expected a chunk inside the file")
    })
}

/// The little-endian number of four bytes.
fn word(bytes: &[u8], at: usize) -> Result<usize, Wrong> {
    let four = bytes.get(at..at + 4).and_then(|four| <[u8; 4]>::try_from(four).ok());
    let number = four.and_then(|four| usize::try_from(u32::from_le_bytes(four)).ok());
    number.ok_or_else(|| {
        Wrong::new(At::FileByte(bytes.len()), "the GLB ends here", format!("expected 4 more bytes from byte {at}"))
    })
}
