//! What do the elements of a URDF say, attribute by attribute, and at which bytes?

use std::sync::Arc;

use roxmltree::{Attribute, Document, Node, ParsingOptions};

use crate::files::numbers;
use crate::files::plan_path::PlanPath;
use crate::files::problem::{Place, Problems, shortened};

use super::guard;

/// Elements, texts and comments of one file.
const MOST_NODES: u32 = 200_000;
/// No number of a URDF is larger than this, either way.
const LARGEST: f64 = numbers::LONGEST;

/// Parses a URDF; what is no XML, or has unexpanded macros, goes to `problems`.
pub(super) fn parse<'t>(path: &PlanPath, text: &'t Arc<str>, problems: &mut Problems) -> Option<Document<'t>> {
    problems.know(path, text);
    if let Err(excess) = guard::check(text) {
        problems.add(Place::text(path, excess.byte..excess.byte + 1), excess.what, excess.expected);
        return None;
    }
    let options = ParsingOptions { nodes_limit: MOST_NODES, ..ParsingOptions::default() };
    match Document::parse_with_options(text, options) {
        Ok(document) => {
            let before = problems.count();
            no_macros(path, &document, problems);
            (problems.count() == before).then_some(document)
        }
        Err(roxmltree::Error::UnknownNamespace(prefix, at)) if prefix == "xacro" => {
            unexpanded(Place::text(path, byte_of(text, at)..byte_of(text, at) + 1), problems);
            None
        }
        Err(error) => {
            let at = match error {
                roxmltree::Error::UnexpectedEndOfStream | roxmltree::Error::UnclosedRootNode => text.len(),
                ref other => byte_of(text, other.pos()),
            };
            let words = error.to_string();
            let words = words.rsplit_once(" at ").map_or(words.as_str(), |(words, _)| words);
            problems.add(Place::text(path, at..at + 1), words, "expected well-formed XML");
            None
        }
    }
}

/// The byte of a row and column, both counted from 1.
fn byte_of(text: &str, at: roxmltree::TextPos) -> usize {
    let row = usize::try_from(at.row.saturating_sub(1)).unwrap_or(0);
    let column = usize::try_from(at.col.saturating_sub(1)).unwrap_or(0);
    let line_start: usize = text.split_inclusive('\n').take(row).map(str::len).sum();
    let line = text.get(line_start..).unwrap_or_default();
    line_start + line.char_indices().nth(column).map_or(line.len(), |(byte, _)| byte)
}

fn unexpanded(at: Place, problems: &mut Problems) {
    problems.add(at, "this macro is not expanded", "expected a URDF that its macro program has written out in full");
}

fn no_macros(path: &PlanPath, document: &Document<'_>, problems: &mut Problems) {
    let is_macro = |namespace: Option<&str>| namespace.is_some_and(|uri| uri.contains("xacro"));
    for node in document.descendants().filter(Node::is_element) {
        if is_macro(node.tag_name().namespace()) {
            unexpanded(tag_place(path, node), problems);
            continue;
        }
        for attribute in node.attributes() {
            let value = attribute.value();
            if is_macro(attribute.namespace()) || value.contains("${") || value.contains("$(") {
                unexpanded(Place::text(path, attribute.range()), problems);
            }
        }
    }
}

/// Where an element's name is.
pub(super) fn tag_place(path: &PlanPath, node: Node<'_, '_>) -> Place {
    let start = node.range().start;
    let length = 1 + node.tag_name().name().len();
    Place::text(path, start..start + length)
}

/// Reads attributes of one file's elements and keeps what is wrong with them.
pub(super) struct Attributes<'p> {
    pub path: &'p PlanPath,
    pub problems: &'p mut Problems,
}

impl Attributes<'_> {
    /// The first child element of a name.
    pub fn child<'a, 't>(node: Node<'a, 't>, name: &str) -> Option<Node<'a, 't>> {
        node.children().find(|child| child.is_element() && child.tag_name().name() == name)
    }

    /// Where an attribute's value is.
    pub fn place(&self, attribute: &Attribute<'_, '_>) -> Place {
        Place::text(self.path, attribute.range_value())
    }

    /// An attribute that must be there.
    pub fn needed<'a, 't>(&mut self, node: Node<'a, 't>, name: &str) -> Option<Attribute<'a, 't>> {
        let found = node.attribute_node(name);
        if found.is_none() {
            let tag = node.tag_name().name();
            let what = format!("`<{tag}>` has no `{name}`");
            self.problems.add(tag_place(self.path, node), what, format!("expected `<{tag} {name}=\"…\">`"));
        }
        found
    }

    /// A number that must be there.
    pub fn number(&mut self, node: Node<'_, '_>, name: &str) -> Option<f64> {
        let attribute = self.needed(node, name)?;
        let [number] = self.numbers(&attribute)?;
        Some(number)
    }

    /// A size that must be there, above nought.
    pub fn size(&mut self, node: Node<'_, '_>, name: &str) -> Option<f64> {
        let number = self.number(node, name)?;
        let attribute = node.attribute_node(name)?;
        if number <= 0.0 {
            self.problems.add(self.place(&attribute), format!("`{name}` is {number}"), "expected a number above 0");
            return None;
        }
        Some(number)
    }

    /// Three numbers, or nought where the attribute is missing.
    pub fn vector(&mut self, node: Node<'_, '_>, name: &str) -> Option<[f64; 3]> {
        match node.attribute_node(name) {
            None => Some([0.0; 3]),
            Some(attribute) => self.numbers(&attribute),
        }
    }

    /// The numbers that an attribute holds, each finite and not absurd.
    pub fn numbers<const N: usize>(&mut self, attribute: &Attribute<'_, '_>) -> Option<[f64; N]> {
        let at = self.place(attribute);
        let mut found = Vec::new();
        for word in attribute.value().split_ascii_whitespace() {
            match word.parse::<f64>() {
                Ok(number) if number.abs() <= LARGEST => found.push(number),
                Ok(number) if number.is_finite() => {
                    let what = format!("{number:e} is absurdly large");
                    self.problems.add(at, what, format!("expected a number of at most {LARGEST}, either way"));
                    return None;
                }
                Ok(number) => {
                    self.problems.add(at, numbers::not_finite(number), "expected a finite number");
                    return None;
                }
                Err(_) => {
                    self.problems.add(at, format!("`{}` is no number", shortened(word)), numbers_expected(N));
                    return None;
                }
            }
        }
        let count = found.len();
        let numbers = <[f64; N]>::try_from(found).ok();
        if numbers.is_none() {
            self.problems.add(at, format!("there are {count} numbers"), numbers_expected(N));
        }
        numbers
    }
}

fn numbers_expected(count: usize) -> String {
    if count == 1 { "expected a number".to_owned() } else { format!("expected {count} numbers, with spaces between") }
}
