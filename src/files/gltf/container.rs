//! Where are the JSON and the binary chunk of a glTF file?
//!
//! The library takes a GLB apart; what it finds wrong is told here with its byte.

use std::borrow::Cow;

use gltf::binary::{ChunkType, Error, Glb};

use super::wrong::{At, Wrong};

/// Where the first chunk of a GLB begins, and where its contents do.
const FIRST_CHUNK: usize = 12;
pub(super) const JSON_START: usize = FIRST_CHUNK + 8;

/// The parts of a file.
pub(super) struct Parts<'a> {
    pub json: Cow<'a, [u8]>,
    /// The binary chunk of a GLB.
    pub binary: Option<Cow<'a, [u8]>>,
    pub is_glb: bool,
}

/// Finds the parts of a file: a GLB begins with `glTF`, all else is JSON.
pub(super) fn parts(bytes: &[u8]) -> Result<Parts<'_>, Wrong> {
    if !bytes.starts_with(b"glTF") {
        return Ok(Parts { json: bytes.into(), binary: None, is_glb: false });
    }
    // The library lets bytes follow, and in a debug build a length of less than a header is its end.
    if let Some(length) = word(bytes, 8).filter(|length| *length != bytes.len()) {
        let what = format!("the GLB says that it has {length} bytes, and has {}", bytes.len());
        return Err(Wrong::new(At::FileByte(8), what, "expected the length of the file"));
    }
    match Glb::from_slice(bytes) {
        Ok(glb) => Ok(Parts { json: glb.json, binary: glb.bin, is_glb: true }),
        Err(error) => Err(told(bytes, &error)),
    }
}

fn told(bytes: &[u8], error: &gltf::Error) -> Wrong {
    let second_chunk = JSON_START + word(bytes, FIRST_CHUNK).unwrap_or_default();
    let (byte, what, expected) = match error {
        gltf::Error::Binary(Error::Version(version)) => {
            (4, format!("the GLB has version {version}"), "expected version 2")
        }
        gltf::Error::Binary(Error::ChunkLength { ty, length, length_read }) => {
            let (chunk, name) = match ty {
                ChunkType::Json => (FIRST_CHUNK, "JSON"),
                ChunkType::Bin => (second_chunk, "BIN"),
            };
            let what = format!("the {name} chunk says that it has {length} bytes, and {length_read} follow");
            (chunk, what, "expected a chunk inside the file")
        }
        gltf::Error::Binary(Error::ChunkType(_) | Error::UnknownChunkType(_)) => {
            let is_first = bytes.get(FIRST_CHUNK + 4..JSON_START) != Some(b"JSON");
            let (chunk, name) = if is_first { (FIRST_CHUNK, "JSON") } else { (second_chunk, "BIN") };
            (chunk, format!("there is no {name} chunk here"), "expected one")
        }
        _ => (bytes.len(), "the GLB ends here".to_owned(), "expected the rest of a header or chunk"),
    };
    Wrong::new(At::FileByte(byte), what, expected)
}

/// The little-endian number of four bytes.
fn word(bytes: &[u8], at: usize) -> Option<usize> {
    let four = bytes.get(at..)?.first_chunk()?;
    usize::try_from(u32::from_le_bytes(*four)).ok()
}
