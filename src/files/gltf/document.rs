//! What does the JSON of a glTF say, in the library's types?
//!
//! The library's own validation is left out: it indexes before it looks, and what it lets through panics where it is
//! read. So nothing of what comes out is known to be sound but its types. Of indices the library keeps the low 32 bits.

use gltf::Document;
use gltf::json::{Index, Root};

use crate::files::serde_words::in_our_words;

use super::wrong::{At, Wrong, path_at};

/// So many values, and tables among them, are parsed at most: it bounds the memory that parsing takes.
const MOST_VALUES: usize = 2_000_000;
const MOST_TABLES: usize = 250_000;

/// Parses JSON text.
pub(super) fn parse(json: &[u8]) -> Result<Document, Wrong> {
    let no_text = |error: std::str::Utf8Error| {
        Wrong::new(At::JsonByte(error.valid_up_to()), "the JSON is no text", "expected UTF-8, as glTF's JSON is")
    };
    let text = std::str::from_utf8(json).map_err(no_text)?;
    let count = |signs: &[char]| text.matches(signs).count();
    if count(&[',', '[', '{']) > MOST_VALUES || count(&['{']) > MOST_TABLES {
        let expected = format!("expected at most {MOST_VALUES} values, {MOST_TABLES} tables among them");
        return Err(Wrong::new(At::JsonByte(0), "the JSON has too many values", expected));
    }
    serde_json::from_str(text).map(Document::from_json_without_validation).map_err(|error| told(text, &error))
}

/// Says the parser's error in our words: a wrong value at its path, broken JSON at its byte.
fn told(text: &str, error: &serde_json::Error) -> Wrong {
    let lines = text.split_inclusive('\n').take(error.line().saturating_sub(1));
    let byte = lines.map(str::len).sum::<usize>() + error.column().saturating_sub(1);
    let message = error.to_string();
    let message = message.split(" at line ").next().unwrap_or_default();
    if error.is_data() {
        let words = in_our_words(message);
        return Wrong { nearest: words.nearest, ..Wrong::at(path_at(text, byte), words.what, words.expected) };
    }
    if message.contains("recursion") {
        return Wrong::new(At::JsonByte(byte), "nested too deeply", "expected at most 127 levels");
    }
    Wrong::new(At::JsonByte(byte), message, "expected glTF's JSON")
}

/// The item of one of the document's lists that an index at a path means.
pub(super) fn refer<'r, T>(root: &'r Root, list: &str, index: Index<T>, at: &str) -> Result<&'r T, Wrong>
where
    Root: AsRef<[T]>,
{
    let items: &[T] = root.as_ref();
    items.get(index.value()).ok_or_else(|| {
        let what = format!("there is no `{list}[{index}]`");
        Wrong::at(at, what, format!("expected an index below {}", items.len()))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn broken_json_is_told_with_its_byte_and_a_wrong_value_with_its_path() {
        let of = |text: &str| parse(text.as_bytes()).map(drop).map_err(|wrong| (wrong.at, wrong.what));
        assert_eq!(of("{\n\"a\": }"), Err((At::JsonByte(7), "expected value".to_owned())));
        let wrong = "{\"asset\": {\"version\": \"2.0\"},\n\"nodes\": [{\"children\": [1, -2]}]}";
        assert_eq!(of(wrong), Err((At::Path("nodes[0].children[1]".to_owned()), "this is an integer `-2`".to_owned())));
        assert_eq!(of("{\"nodes\": []}"), Err((At::Path(String::new()), "the key `asset` is missing".to_owned())));
    }
}
