//! What does a glTF's JSON say at a path, and what is wrong there?
//!
//! A cursor over parsed JSON that knows its path, so that every mistake can name it. All arithmetic on what it returns
//! is checked by the callers: counts and offsets are whole numbers, of any size.

use serde_json::Value;

/// So many brackets and commas are parsed at most: it bounds the memory that parsing takes.
const MOST_PARTS: usize = 2_000_000;

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
    /// A value of the JSON.
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
}

/// Parses JSON text.
pub(super) fn parse(text: &[u8]) -> Result<Value, Wrong> {
    if text.iter().filter(|byte| matches!(byte, b',' | b'[' | b'{')).count() > MOST_PARTS {
        let expected = format!("expected at most {MOST_PARTS} values");
        return Err(Wrong::new(At::JsonByte(0), "the JSON has too many values", expected));
    }
    serde_json::from_slice(text).map_err(|error| {
        let lines = text.split_inclusive(|byte| *byte == b'\n').take(error.line().saturating_sub(1));
        let byte = lines.map(<[u8]>::len).sum::<usize>() + error.column().saturating_sub(1);
        let words = error.to_string();
        let words = words.split(" at line ").next().unwrap_or_default();
        let expected = if words.contains("recursion") { "expected at most 127 levels" } else { "expected glTF's JSON" };
        Wrong::new(At::JsonByte(byte), words.replace("recursion limit exceeded", "nested too deeply"), expected)
    })
}

/// A value and its path.
#[derive(Clone, Debug)]
pub(super) struct Json<'a> {
    pub path: String,
    value: &'a Value,
}

impl<'a> Json<'a> {
    /// The whole document.
    pub fn root(value: &'a Value) -> Self {
        Self { path: String::new(), value }
    }

    /// The value under a key, where there is one.
    pub fn get(&self, key: &str) -> Option<Self> {
        let value = self.value.get(key)?;
        let path = if self.path.is_empty() { key.to_owned() } else { format!("{}.{key}", self.path) };
        Some(Self { path, value })
    }

    /// The value under a key that must be there.
    pub fn needed(&self, key: &str) -> Result<Self, Wrong> {
        self.get(key).ok_or_else(|| self.wrong(format!("the key `{key}` is missing"), ""))
    }

    /// The values of a list under a key; none where there is no such key.
    pub fn list(&self, key: &str) -> Result<Vec<Self>, Wrong> {
        let Some(list) = self.get(key) else { return Ok(Vec::new()) };
        let values = list.value.as_array().ok_or_else(|| list.wrong("this is no list", "expected a list"))?;
        let item = |(index, value)| Self { path: format!("{}[{index}]", list.path), value };
        Ok(values.iter().enumerate().map(item).collect())
    }

    /// The value at an index of the list under a key, or how many values there are.
    pub fn item(&self, key: &str, index: usize) -> Result<Self, usize> {
        let list = self.get(key).ok_or(0_usize)?;
        let values = list.value.as_array().map(Vec::as_slice).unwrap_or_default();
        let value = values.get(index).ok_or(values.len())?;
        Ok(Self { path: format!("{}[{index}]", list.path), value })
    }

    /// A whole number, nought or more.
    pub fn whole(&self) -> Result<usize, Wrong> {
        let number = self.value.as_u64().and_then(|number| usize::try_from(number).ok());
        number.ok_or_else(|| self.wrong("this is no whole number", "expected a whole number, 0 or more"))
    }

    /// A whole number under a key, or a default.
    pub fn whole_or(&self, key: &str, default: usize) -> Result<usize, Wrong> {
        self.get(key).map_or(Ok(default), |value| value.whole())
    }

    /// A text.
    pub fn text(&self) -> Result<&'a str, Wrong> {
        self.value.as_str().ok_or_else(|| self.wrong("this is no text", "expected a text"))
    }

    /// A list of so many finite numbers under a key, where there is one.
    pub fn numbers<const N: usize>(&self, key: &str) -> Result<Option<[f64; N]>, Wrong> {
        let Some(list) = self.get(key) else { return Ok(None) };
        let values = list.value.as_array().map(Vec::as_slice).unwrap_or_default();
        let numbers: Option<Vec<f64>> = values.iter().map(|v| v.as_f64().filter(|x| x.is_finite())).collect();
        let numbers = numbers.and_then(|numbers| <[f64; N]>::try_from(numbers).ok());
        numbers.map(Some).ok_or_else(|| list.wrong("this is no such list", format!("expected a list of {N} numbers")))
    }

    /// A mistake at this value.
    pub fn wrong(&self, what: impl Into<String>, expected: impl Into<String>) -> Wrong {
        Wrong::new(At::Path(self.path.clone()), what, expected)
    }
}

/// The bytes of the value at a path such as `meshes[0].primitives[1].mode` of JSON that has been parsed; those of the
/// nearest value around it where there is none.
pub(super) fn bytes_at(text: &str, path: &str) -> std::ops::Range<usize> {
    let mut scan = Scan { bytes: text.as_bytes(), at: 0 };
    scan.space();
    for step in path.split(['.', '[']).filter(|step| !step.is_empty()) {
        let before = scan.at;
        let found = match step.strip_suffix(']').and_then(|index| index.parse().ok()) {
            Some(index) => scan.enter_list(index),
            None => scan.enter_table(step),
        };
        if found.is_none() {
            scan.at = before;
            break;
        }
    }
    let start = scan.at;
    scan.value();
    start..scan.at
}

/// A place in JSON that is known to be well-formed; on other text it stops at the end.
struct Scan<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl Scan<'_> {
    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn space(&mut self) {
        while self.peek().is_some_and(|byte| byte.is_ascii_whitespace()) {
            self.at += 1;
        }
    }

    /// Steps over a byte that must come next, and the space behind it.
    fn step_over(&mut self, wanted: u8) -> Option<()> {
        (self.peek()? == wanted).then(|| self.at += 1)?;
        self.space();
        Some(())
    }

    /// Steps over a string; its bytes without the quotes.
    fn string(&mut self) -> Option<&[u8]> {
        let start = self.at + 1;
        (self.peek()? == b'"').then(|| self.at += 1)?;
        while self.peek()? != b'"' {
            self.at += if self.peek()? == b'\\' { 2 } else { 1 };
        }
        self.at += 1;
        self.bytes.get(start..self.at - 1)
    }

    /// Steps over a value.
    fn value(&mut self) {
        let mut depth = 0_usize;
        while let Some(byte) = self.peek() {
            match byte {
                b'"' => {
                    if self.string().is_none() {
                        self.at = self.bytes.len();
                    }
                }
                b'[' | b'{' => {
                    depth += 1;
                    self.at += 1;
                }
                b']' | b'}' if depth == 0 => return,
                b']' | b'}' => {
                    depth -= 1;
                    self.at += 1;
                }
                b',' if depth == 0 => return,
                byte if depth == 0 && byte.is_ascii_whitespace() => return,
                _ => self.at += 1,
            }
            if depth == 0 && matches!(byte, b'"' | b']' | b'}') {
                return;
            }
        }
    }

    fn enter_list(&mut self, index: usize) -> Option<()> {
        self.step_over(b'[')?;
        for _ in 0..index {
            self.value();
            self.space();
            self.step_over(b',')?;
        }
        (self.peek()? != b']').then_some(())
    }

    fn enter_table(&mut self, key: &str) -> Option<()> {
        self.step_over(b'{')?;
        loop {
            let found = self.string()? == key.as_bytes();
            self.space();
            self.step_over(b':')?;
            if found {
                return Some(());
            }
            self.value();
            self.space();
            self.step_over(b',')?;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_leads_to_its_bytes() {
        let text = r#" { "a" : [ 1, {"b": "x]\"", "c": [[2], {"d":30}]} ], "e": null }"#;
        let at = |path: &str| &text[bytes_at(text, path)];
        assert_eq!(at("a[0]"), "1");
        assert_eq!(at("a[1].b"), r#""x]\"""#);
        assert_eq!(at("a[1].c[1].d"), "30");
        assert_eq!(at("e"), "null");
        assert_eq!(at("a[1].c[1].missing"), r#"{"d":30}"#);
        assert_eq!(at("a[7]"), r#"[ 1, {"b": "x]\"", "c": [[2], {"d":30}]} ]"#);
    }

    #[test]
    fn broken_json_is_told_with_its_byte() {
        assert_eq!(parse(b"{\n\"a\": }").map_err(|wrong| wrong.at), Err(At::JsonByte(7)));
        let deep = format!("{}1{}", "[".repeat(200_000), "]".repeat(200_000));
        assert_eq!(parse(deep.as_bytes()).map_err(|wrong| wrong.what), Err("nested too deeply".to_owned()));
    }
}
