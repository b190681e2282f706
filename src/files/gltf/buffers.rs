//! Where are the bytes of a glTF's buffers?
//!
//! In the binary chunk, in a `data:` URI, or in a file inside the glTF's own tree.

use std::collections::BTreeMap;

use base64::Engine as _;
use base64::engine::{DecodePaddingMode, GeneralPurpose, GeneralPurposeConfig};

use gltf::json::buffer::{Buffer, View};
use gltf::json::{Index, Root};

use crate::files::plan_path::PlanPath;
use crate::files::problem::shortened;

use super::accessor::whole;
use super::document::refer;
use super::wrong::Wrong;

/// Nodes and elements of accessors that are gone through for one file.
const MOST_ELEMENTS: usize = 10_000_000;

/// Bytes of all buffers of one file outside of its own.
const MOST_BYTES: usize = 128 << 20;

/// Files may leave the padding out.
const BASE64: GeneralPurpose = GeneralPurpose::new(
    &base64::alphabet::STANDARD,
    GeneralPurposeConfig::new().with_decode_padding_mode(DecodePaddingMode::Indifferent),
);

/// Gives the bytes of another file, or why there are none.
pub(super) type ReadFile<'f> = dyn FnMut(&PlanPath) -> Result<Vec<u8>, (String, String)> + 'f;

/// The buffers of one file, read when they are first asked for.
pub(super) struct Buffers<'a, 'f> {
    pub root: &'a Root,
    path: &'a PlanPath,
    binary: Option<&'a [u8]>,
    read_file: &'f mut ReadFile<'f>,
    read: BTreeMap<usize, Vec<u8>>,
    /// Nodes and elements of accessors that were gone through so far.
    spent: usize,
}

impl<'a, 'f> Buffers<'a, 'f> {
    pub fn new(root: &'a Root, path: &'a PlanPath, binary: Option<&'a [u8]>, read_file: &'f mut ReadFile<'f>) -> Self {
        Self { root, path, binary, read_file, read: BTreeMap::new(), spent: 0 }
    }

    /// Counts nodes and elements: what few bytes repeat a million times is refused.
    pub fn spend(&mut self, count: usize, at: &str) -> Result<(), Wrong> {
        self.spent = self.spent.saturating_add(count);
        if self.spent > MOST_ELEMENTS {
            let expected = format!("expected at most {MOST_ELEMENTS} elements, each counted as often as it is used");
            return Err(Wrong::at(at, "the meshes of this file are too large together", expected));
        }
        Ok(())
    }

    /// The bytes of a buffer that has been fetched.
    pub fn held(&self, buffer: usize) -> Option<&[u8]> {
        self.read.get(&buffer).map(Vec::as_slice).or(self.binary.filter(|_| buffer == 0))
    }

    /// Fetches the buffer of a view, and looks whether the view lies inside it.
    pub fn fetch_view(&mut self, index: Index<View>) -> Result<(), Wrong> {
        let at = format!("bufferViews[{index}]");
        let view = refer(self.root, "bufferViews", index, &at)?;
        let buffer = refer(self.root, "buffers", view.buffer, &format!("{at}.buffer"))?;
        let (length, offset) = (whole(view.byte_length), view.byte_offset.map_or(0, whole));
        let (buffer_at, wanted) = (format!("buffers[{}]", view.buffer), whole(buffer.byte_length));
        if offset.checked_add(length).is_none_or(|end| end > wanted) {
            let what =
                format!("the view's {length} bytes from byte {offset} leave the {wanted} bytes of `{buffer_at}`");
            return Err(Wrong::at(at, what, "expected a view inside its buffer"));
        }
        self.fetch_buffer(view.buffer.value(), buffer, &buffer_at)?;
        let found = self.held(view.buffer.value()).map_or(0, <[u8]>::len);
        if found < wanted {
            let what = format!("the buffer has {found} bytes, not {wanted}");
            return Err(Wrong::at(buffer_at, what, "expected at least `byteLength` bytes"));
        }
        Ok(())
    }

    fn fetch_buffer(&mut self, index: usize, buffer: &Buffer, at: &str) -> Result<(), Wrong> {
        let Some(uri) = &buffer.uri else {
            return self.held(index).map(|_| ()).ok_or_else(|| {
                let expected = "expected a `uri`, or, for the first buffer of a GLB, a binary chunk";
                Wrong::at(at, "the buffer has no bytes", expected)
            });
        };
        if !self.read.contains_key(&index) {
            let at = format!("{at}.uri");
            let bytes = self.fetch(uri, &at)?;
            let held: usize = self.read.values().map(Vec::len).sum();
            if held + bytes.len() > MOST_BYTES {
                let expected = format!("expected at most {MOST_BYTES} bytes");
                return Err(Wrong::at(at, "the buffers of this file are too large together", expected));
            }
            self.read.insert(index, bytes);
        }
        Ok(())
    }

    fn fetch(&mut self, text: &str, at: &str) -> Result<Vec<u8>, Wrong> {
        if let Some(data) = text.strip_prefix("data:") {
            let Some((_, coded)) = data.split_once(";base64,") else {
                return Err(Wrong::at(at, "these data are not in base64", "expected `data:…;base64,…`"));
            };
            return BASE64.decode(coded).map_err(|error| {
                Wrong::at(at, format!("the base64 is broken: {}", error.to_string().to_lowercase()), "expected base64")
            });
        }
        let outside = || {
            let what = format!("`{}` leads out of the glTF's tree", shortened(text));
            Wrong::at(at, what, "expected a `data:` URI, or a relative path inside the folder tree of the glTF")
        };
        let name = decoded(text).ok_or_else(outside)?;
        let path = self.path.beside(&name).ok().filter(|path| path.shares_tree_with(self.path)).ok_or_else(outside)?;
        (self.read_file)(&path).map_err(|(what, expected)| Wrong::at(at, what, expected))
    }
}

/// A URI with its `%` codes written out.
fn decoded(uri: &str) -> Option<String> {
    let mut bytes = Vec::new();
    let mut rest = uri.as_bytes();
    while let Some((first, after)) = rest.split_first() {
        if *first == b'%' {
            let code = std::str::from_utf8(after.get(..2)?).ok()?;
            bytes.push(u8::from_str_radix(code, 16).ok()?);
            rest = after.get(2..)?;
        } else {
            bytes.push(*first);
            rest = after;
        }
    }
    String::from_utf8(bytes).ok()
}
