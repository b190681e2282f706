//! Where are the bytes of a glTF's buffers?
//!
//! In the binary chunk, in a `data:` URI, or in a file inside the glTF's own tree.

use std::collections::BTreeMap;

use base64::Engine as _;
use base64::engine::{DecodePaddingMode, GeneralPurpose, GeneralPurposeConfig};

use crate::files::plan_path::PlanPath;
use crate::files::problem::shortened;

use super::json::{Json, Wrong};

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
    root: Json<'a>,
    path: &'a PlanPath,
    binary: Option<&'a [u8]>,
    read_file: &'f mut ReadFile<'f>,
    read: BTreeMap<String, Vec<u8>>,
    /// Nodes and elements of accessors that were gone through so far.
    spent: usize,
}

impl<'a, 'f> Buffers<'a, 'f> {
    pub fn new(root: Json<'a>, path: &'a PlanPath, binary: Option<&'a [u8]>, read_file: &'f mut ReadFile<'f>) -> Self {
        Self { root, path, binary, read_file, read: BTreeMap::new(), spent: 0 }
    }

    /// The item of a list of the document that an index means.
    pub fn refer(&self, list: &str, index: &Json<'_>) -> Result<Json<'a>, Wrong> {
        let number = index.whole()?;
        self.root.item(list, number).map_err(|count| {
            index.wrong(format!("there is no `{list}[{number}]`"), format!("expected an index below {count}"))
        })
    }

    /// Counts nodes and elements: what few bytes repeat a million times is refused.
    pub fn spend(&mut self, count: usize, at: &Json<'_>) -> Result<(), Wrong> {
        self.spent = self.spent.saturating_add(count);
        if self.spent > MOST_ELEMENTS {
            let expected = format!("expected at most {MOST_ELEMENTS} elements, each counted as often as it is used");
            return Err(at.wrong("the meshes of this file are too large together", expected));
        }
        Ok(())
    }

    /// The bytes of a buffer view.
    pub fn view(&mut self, view: &Json<'_>, length: usize) -> Result<&[u8], Wrong> {
        let buffer = self.refer("buffers", &view.needed("buffer")?)?;
        let offset = view.whole_or("byteOffset", 0)?;
        let wanted = buffer.needed("byteLength")?.whole()?;
        let end = offset.checked_add(length);
        if end.is_none_or(|end| end > wanted) {
            let what =
                format!("the view's {length} bytes from byte {offset} leave the {wanted} bytes of `{}`", buffer.path);
            return Err(view.wrong(what, "expected a view inside its buffer"));
        }
        let bytes = self.buffer(&buffer)?;
        if bytes.len() < wanted {
            let what = format!("the buffer has {} bytes, not {wanted}", bytes.len());
            return Err(buffer.wrong(what, "expected at least `byteLength` bytes"));
        }
        Ok(bytes.get(offset..).and_then(|rest| rest.get(..length)).unwrap_or_default())
    }

    fn buffer(&mut self, buffer: &Json<'_>) -> Result<&[u8], Wrong> {
        let Some(uri) = buffer.get("uri") else {
            let is_first = buffer.path == "buffers[0]";
            return self.binary.filter(|_| is_first).ok_or_else(|| {
                let expected = "expected a `uri`, or, for the first buffer of a GLB, a binary chunk";
                buffer.wrong("the buffer has no bytes", expected)
            });
        };
        if !self.read.contains_key(&buffer.path) {
            let bytes = self.fetch(&uri)?;
            let held: usize = self.read.values().map(Vec::len).sum();
            if held + bytes.len() > MOST_BYTES {
                let expected = format!("expected at most {MOST_BYTES} bytes");
                return Err(uri.wrong("the buffers of this file are too large together", expected));
            }
            self.read.insert(buffer.path.clone(), bytes);
        }
        Ok(self.read.get(&buffer.path).map(Vec::as_slice).unwrap_or_default())
    }

    fn fetch(&mut self, uri: &Json<'_>) -> Result<Vec<u8>, Wrong> {
        let text = uri.text()?;
        if let Some(data) = text.strip_prefix("data:") {
            let Some((_, coded)) = data.split_once(";base64,") else {
                return Err(uri.wrong("these data are not in base64", "expected `data:…;base64,…`"));
            };
            return BASE64.decode(coded).map_err(|error| {
                uri.wrong(format!("the base64 is broken: {}", error.to_string().to_lowercase()), "expected base64")
            });
        }
        let outside = || {
            let what = format!("`{}` leads out of the glTF's tree", shortened(text));
            uri.wrong(what, "expected a `data:` URI, or a relative path inside the folder tree of the glTF")
        };
        let name = decoded(text).ok_or_else(outside)?;
        let path = self.path.beside(&name).ok().filter(|path| path.shares_tree_with(self.path)).ok_or_else(outside)?;
        (self.read_file)(&path).map_err(|(what, expected)| uri.wrong(what, expected))
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
