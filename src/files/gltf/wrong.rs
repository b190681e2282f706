//! What is wrong in a glTF file, and at which path or byte?
//!
//! Mistakes are found by path in the library's types, and shown where the path leads in the JSON's text.

use std::collections::BTreeMap;
use std::ops::Range;

use serde_json::value::RawValue;

/// A mistake in a glTF file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Wrong {
    pub at: At,
    pub what: String,
    pub expected: String,
    pub nearest: Option<String>,
}

/// Where in a glTF file a mistake is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum At {
    /// A value of the JSON, such as `meshes[0].primitives[1].mode`.
    Path(String),
    /// A byte of the JSON's text.
    JsonByte(usize),
    /// A byte of the file.
    FileByte(usize),
}

impl Wrong {
    pub fn new(at: At, what: impl Into<String>, expected: impl Into<String>) -> Self {
        Self { at, what: what.into(), expected: expected.into(), nearest: None }
    }

    /// A mistake at a path.
    pub fn at(path: impl Into<String>, what: impl Into<String>, expected: impl Into<String>) -> Self {
        Self::new(At::Path(path.into()), what, expected)
    }
}

/// The bytes of the value at a path of well-formed JSON; those of the nearest value around it where there is none.
pub(super) fn bytes_at(text: &str, path: &str) -> Range<usize> {
    let Some(mut value) = whole(text) else { return 0..0 };
    for step in path.split(['.', '[']).map(|step| step.trim_end_matches(']')).filter(|step| !step.is_empty()) {
        let Some((_, inner)) = inside(value).into_iter().find(|(name, _)| name.trim_matches(['.', '[', ']']) == step)
        else {
            break;
        };
        value = inner;
    }
    bytes_of(text, value)
}

/// The path of the innermost value of well-formed JSON that holds a byte.
pub(super) fn path_at(text: &str, byte: usize) -> String {
    let mut path = String::new();
    let mut value = whole(text);
    while let Some(outer) = value {
        let holder = inside(outer).into_iter().find(|(_, inner)| bytes_of(text, inner).contains(&byte));
        value = holder.map(|(step, inner)| {
            path.push_str(&step);
            inner
        });
    }
    path.trim_start_matches('.').to_owned()
}

fn whole(text: &str) -> Option<&RawValue> {
    serde_json::from_str(text).ok()
}

/// What a list or table holds, each with its step in a path: `[3]` or `.mode`.
fn inside(value: &RawValue) -> Vec<(String, &RawValue)> {
    if let Ok(list) = serde_json::from_str::<Vec<&RawValue>>(value.get()) {
        list.into_iter().enumerate().map(|(index, inner)| (format!("[{index}]"), inner)).collect()
    } else if let Ok(table) = serde_json::from_str::<BTreeMap<String, &RawValue>>(value.get()) {
        table.into_iter().map(|(key, inner)| (format!(".{key}"), inner)).collect()
    } else {
        Vec::new()
    }
}

/// Where a value stands in the text that it was read from.
fn bytes_of(text: &str, value: &RawValue) -> Range<usize> {
    let start = value.get().as_ptr().addr() - text.as_ptr().addr();
    start..start + value.get().len()
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = r#" { "a" : [ 1, {"b": "x]\"", "c": [[2], {"d":30}]} ], "e": null }"#;

    #[test]
    fn a_path_leads_to_its_bytes() {
        let at = |path: &str| &TEXT[bytes_at(TEXT, path)];
        assert_eq!(at("a[0]"), "1");
        assert_eq!(at("a[1].b"), r#""x]\"""#);
        assert_eq!(at("a[1].c[1].d"), "30");
        assert_eq!(at("e"), "null");
        assert_eq!(at("a[1].c[1].missing"), r#"{"d":30}"#);
        assert_eq!(at("a[7]"), r#"[ 1, {"b": "x]\"", "c": [[2], {"d":30}]} ]"#);
    }

    #[test]
    fn a_byte_leads_to_its_path() {
        let of = |part: &str| path_at(TEXT, TEXT.find(part).expect("a part of the text"));
        assert_eq!(of("1,"), "a[0]");
        assert_eq!(of("30"), "a[1].c[1].d");
        assert_eq!(of("null"), "e");
        assert_eq!(of("\"c\""), "a[1]");
        assert_eq!(of(" { "), "");
    }
}
