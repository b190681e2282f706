//! What does a TOML file hold, and at which bytes?
//!
//! A file is parsed once, into values that know their bytes. [`Node`] walks them by key and index, and never fails:
//! where there is no such value it stays at the nearest one that holds it, so that there is always a place to show.

use std::ops::Range;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::plan_path::PlanPath;
use super::problem::{Place, Problems};

/// A value and its bytes.
pub(super) type Value<'t> = Spanned<DeValue<'t>>;

/// A TOML file without syntax errors.
#[derive(Debug)]
pub(super) struct TomlFile<'t> {
    pub path: PlanPath,
    pub root: Value<'t>,
}

impl<'t> TomlFile<'t> {
    /// Parses a file; all its syntax errors go to `problems`.
    pub fn parse(path: &PlanPath, text: &'t Arc<str>, problems: &mut Problems) -> Option<Self> {
        problems.know(path, text);
        let (table, errors) = DeTable::parse_recoverable(text);
        for error in &errors {
            let bytes = error.span().unwrap_or_default();
            let (what, expected) = match error.message().split_once(", expected ") {
                _ if has_unit(text, &bytes) => (
                    format!("`{}` is no number alone", &text[bytes.clone()]),
                    "expected no unit behind it: the unit stands in the key".to_owned(),
                ),
                Some((what, expected)) => (what.to_owned(), format!("expected {expected}")),
                None if error.message().contains("recurs") => {
                    ("nested too deeply".to_owned(), "expected at most 80 levels".to_owned())
                }
                None => (error.message().to_owned(), String::new()),
            };
            problems.add(Place::text(path, bytes), what, expected);
        }
        let root = Spanned::new(table.span(), DeValue::Table(table.into_inner()));
        errors.is_empty().then(|| Self { path: path.clone(), root })
    }

    /// The whole file.
    pub fn node(&self) -> Node<'_> {
        Node { path: &self.path, value: Some(self.root.get_ref()), bytes: (0, 0), key: (0, 0) }
    }
}

/// Whether some bytes of a text are a number with a word behind it.
fn has_unit(text: &str, bytes: &Range<usize>) -> bool {
    let pair = text.get(bytes.clone()).and_then(|pair| pair.trim().split_once(char::is_whitespace));
    let is_word = |word: &str| word.chars().all(|letter| letter.is_alphabetic() || "/°%² ".contains(letter));
    pair.is_some_and(|(number, word)| number.parse::<f64>().is_ok() && is_word(word))
}

/// A value of a file, or the place where it is missing.
#[derive(Clone, Copy)]
pub(super) struct Node<'a> {
    path: &'a PlanPath,
    value: Option<&'a DeValue<'a>>,
    /// Bytes of the value; of the nearest one around it where there is none.
    bytes: (usize, usize),
    /// Bytes of its key; as `bytes` where it has none.
    key: (usize, usize),
}

impl<'a> Node<'a> {
    /// The value under a key.
    pub fn key(self, key: &str) -> Self {
        let found = match self.value {
            Some(DeValue::Table(table)) => table.get_key_value(key),
            _ => None,
        };
        match found {
            Some((key, value)) => {
                Self { path: self.path, value: Some(value.get_ref()), bytes: pair(value.span()), key: pair(key.span()) }
            }
            None => Self { value: None, ..self },
        }
    }

    /// The values of a list; none where this is no list.
    pub fn items(self) -> impl Iterator<Item = Self> {
        let items = match self.value {
            Some(DeValue::Array(items)) => items.as_ref(),
            _ => &[],
        };
        items.iter().map(move |value| {
            let bytes = pair(value.span());
            Self { path: self.path, value: Some(value.get_ref()), bytes, key: bytes }
        })
    }

    /// Keys and values of a table, in the order of the keys' names; none where this is no table.
    pub fn entries(self) -> impl Iterator<Item = (&'a str, Self)> {
        let table = match self.value {
            Some(DeValue::Table(table)) => Some(table),
            _ => None,
        };
        table.into_iter().flat_map(|table| table.iter()).map(move |(key, value)| {
            let (bytes, at) = (pair(value.span()), pair(key.span()));
            (key.get_ref().as_ref(), Self { path: self.path, value: Some(value.get_ref()), bytes, key: at })
        })
    }

    /// Whether there is a value.
    pub fn exists(self) -> bool {
        self.value.is_some()
    }

    /// Its text, where it is a string.
    pub fn text(self) -> Option<&'a str> {
        match self.value {
            Some(DeValue::String(text)) => Some(text.as_ref()),
            _ => None,
        }
    }

    /// Its value, where it is a number; an infinite one where it is too large to be held.
    pub fn number(self) -> Option<f64> {
        match self.value {
            Some(DeValue::Float(number)) => number.as_str().parse().ok(),
            Some(DeValue::Integer(number)) => {
                Some(i128::from_str_radix(number.as_str(), number.radix()).map_or(f64::INFINITY, |whole| whole as f64))
            }
            _ => None,
        }
    }

    /// Its values, where it is a list of numbers alone.
    pub fn numbers(self) -> Option<Vec<f64>> {
        match self.value {
            Some(DeValue::Array(_)) => self.items().map(Self::number).collect(),
            _ => None,
        }
    }

    /// The byte where the value begins.
    pub fn start(self) -> usize {
        self.bytes.0
    }

    /// Where the value is.
    pub fn place(self) -> Place {
        Place::text(self.path, self.bytes.0..self.bytes.1)
    }

    /// Where its key is.
    pub fn key_place(self) -> Place {
        Place::text(self.path, self.key.0..self.key.1)
    }

    /// The file.
    pub fn file(self) -> &'a PlanPath {
        self.path
    }
}

fn pair(range: Range<usize>) -> (usize, usize) {
    (range.start, range.end)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_is_found_by_its_keys_and_a_missing_one_points_at_what_should_hold_it() {
        let text: Arc<str> = "[[step]]\nto = \"a\"\n[[step]]\nto = \"b\"\n".into();
        let mut problems = Problems::default();
        let file = TomlFile::parse(&PlanPath::plan(), &text, &mut problems).expect("no syntax error");
        let second = file.node().key("step").items().nth(1).expect("two steps");
        assert_eq!(second.key("to").text(), Some("b"));
        assert_eq!(second.key("to").place(), Place::text("plan.toml", 32..35));
        assert_eq!(second.key("seat").place(), second.place());
        assert!(!second.key("seat").exists());
    }

    #[test]
    fn all_syntax_errors_are_told() {
        let text: Arc<str> = "a = \nb = 1\nc = [1 2]\n".into();
        let mut problems = Problems::default();
        assert!(TomlFile::parse(&PlanPath::plan(), &text, &mut problems).is_none());
        assert!(problems.count() >= 2, "{problems}");
    }

    #[test]
    fn a_unit_behind_a_number_is_told_to_stand_in_the_key() {
        let told = |text: &str| {
            let mut problems = Problems::default();
            assert!(TomlFile::parse(&PlanPath::plan(), &text.into(), &mut problems).is_none());
            problems.to_string()
        };
        assert!(told("a = 1\ntool_m = 0.25 m\n").contains("`0.25 m` is no number alone"));
        assert!(told("rate_deg_s = 2 deg/s # slow\n").contains("the unit stands in the key"));
        assert!(!told("a = 1 2\n").contains("no unit"));
    }
}
