//! What is wrong in the user's files, where, and what was expected?
//!
//! A [`Problem`] is a mistake of the user, at a [`Place`]. [`Problems`] collects those of all files of a plan and shows
//! them together: file, line and column, the text under which the mistake lies, what was expected, and the nearest
//! valid name. It is an error that the commands pass on as it is.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use annotate_snippets::{AnnotationKind, Level, Origin, Renderer, Snippet};

/// So many problems are kept; of the others the number is told.
const KEPT: usize = 500;
/// So much text is shown before the mistake where its line is long, in bytes.
const LINE_BEFORE: usize = 60;
/// So much text of a line is shown from the mistake on, in bytes.
const LINE_FROM: usize = 120;
/// Names longer than this are not compared, in bytes.
const LONGEST_NAME: usize = 100;
/// So many names are compared with a misspelt one.
pub(super) const COMPARED_NAMES: usize = 2000;

/// A mistake in the user's files.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    pub at: Place,
    /// What is wrong, in the user's words.
    pub what: String,
    /// What was expected there; empty where `what` says it all.
    pub expected: String,
    /// The valid name that is most like the one found.
    pub nearest: Option<String>,
}

/// Where a mistake is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Place {
    /// The file, relative to the plan's folder.
    pub file: String,
    pub spot: Spot,
}

/// Where in a file a mistake is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Spot {
    /// The file as a whole.
    File,
    /// So many bytes of its text; line and column are counted when shown.
    Text(Range<usize>),
    /// From this byte on, in a file that is no text.
    Byte(usize),
    /// A value of a glTF's JSON, with its bytes where it is a text file.
    Json { path: String, text: Option<Range<usize>>, byte: Option<usize> },
}

impl Place {
    /// A file as a whole.
    pub fn file(file: impl fmt::Display) -> Self {
        Self { file: file.to_string(), spot: Spot::File }
    }

    /// Some bytes of a text file.
    pub fn text(file: impl fmt::Display, bytes: Range<usize>) -> Self {
        Self { file: file.to_string(), spot: Spot::Text(bytes) }
    }
}

/// All mistakes of a plan's files, in the order in which they were met.
#[derive(Clone, Debug, Default)]
pub struct Problems {
    list: Vec<Problem>,
    /// How many more there are.
    more: usize,
    /// Texts of the files, to show lines from.
    texts: BTreeMap<String, Arc<str>>,
}

impl Problems {
    /// Makes a file's text known, to show lines from.
    pub fn know(&mut self, file: impl fmt::Display, text: &Arc<str>) {
        self.texts.insert(file.to_string(), Arc::clone(text));
    }

    /// Adds a mistake.
    pub fn add(&mut self, at: Place, what: impl Into<String>, expected: impl Into<String>) {
        self.push(Problem { at, what: what.into(), expected: expected.into(), nearest: None });
    }

    /// Adds a mistake that is built already.
    pub fn push(&mut self, problem: Problem) {
        if self.is_full() {
            self.more += 1;
        } else {
            self.list.push(problem);
        }
    }

    /// Adds a name that is none of those that exist; `kind` says what it should name, as in `a worksite`.
    pub fn misspelt<'a>(&mut self, at: Place, word: &str, kind: &str, names: impl IntoIterator<Item = &'a str>) {
        if self.is_full() {
            self.more += 1;
            return;
        }
        let names: Vec<&str> = names.into_iter().take(COMPARED_NAMES).collect();
        let near = nearest(word, names.iter().copied());
        let expected = match (&near, names.as_slice()) {
            (Some(_), _) => format!("expected the name of {kind}"),
            (None, []) => format!("expected the name of {kind}; there is none"),
            (None, names) => format!("expected the name of {kind}: {}", listed(names)),
        };
        self.push(Problem { at, what: format!("`{}` does not exist", shortened(word)), expected, nearest: near });
    }

    /// The line of a place in a text that is known, counted from 1.
    pub(super) fn line(&self, at: &Place) -> Option<usize> {
        let Spot::Text(bytes) = &at.spot else { return None };
        Some(Window::around(self.texts.get(&at.file)?, bytes).line)
    }

    /// The mistakes that are kept.
    pub fn list(&self) -> &[Problem] {
        &self.list
    }

    /// How many mistakes there are.
    pub fn count(&self) -> usize {
        self.list.len() + self.more
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Whether further ones are only counted.
    pub(super) fn is_full(&self) -> bool {
        self.list.len() >= KEPT
    }
}

impl std::error::Error for Problems {}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, problem) in self.list.iter().enumerate() {
            if index > 0 {
                f.write_str("\n\n")?;
            }
            f.write_str(&self.shown(problem))?;
        }
        if self.more > 0 {
            write!(f, "\n\nand {} more", self.more)?;
        }
        Ok(())
    }
}

impl Problems {
    /// One problem as text.
    fn shown(&self, problem: &Problem) -> String {
        let Problem { at: Place { file, spot }, what, expected, nearest } = problem;
        let mut label = expected.clone();
        if let Some(near) = nearest {
            label.push_str(if label.is_empty() { "" } else { "; " });
            label.push_str(&format!("nearest: `{near}`"));
        }
        let title = Level::ERROR.primary_title(what.as_str());
        let (bytes, path) = match spot {
            Spot::Text(bytes) => (Some(bytes), None),
            Spot::Json { path, text, .. } => (text.as_ref(), Some(path.as_str())),
            Spot::File | Spot::Byte(_) => (None, None),
        };
        if let (Some(bytes), Some(text)) = (bytes, self.texts.get(file)) {
            let window = Window::around(text, bytes);
            if let Some(path) = path {
                label.insert_str(0, if label.is_empty() { "" } else { ": " });
                label.insert_str(0, path);
            }
            let snippet = Snippet::source(window.text)
                .line_start(window.line)
                .annotation(AnnotationKind::Primary.span(window.marked).label(label.as_str()));
            if window.is_cut {
                // The library would count the column from where the text begins.
                let origin = Origin::path(file.as_str()).line(window.line).char_column(window.column);
                return Renderer::plain().render(&[title.element(origin).element(snippet)]);
            }
            return Renderer::plain().render(&[title.element(snippet.path(file.as_str()))]);
        }
        let place = match spot {
            Spot::Byte(byte) => format!("{file}: byte {byte}"),
            Spot::Json { path, byte: Some(byte), .. } => format!("{file}: {path} (byte {byte})"),
            Spot::Json { path, byte: None, .. } => format!("{file}: {path}"),
            Spot::File | Spot::Text(_) => file.clone(),
        };
        let mut group = title.element(Origin::path(place));
        if !label.is_empty() {
            group = group.element(Level::HELP.no_name().message(label.as_str()));
        }
        Renderer::plain().render(&[group])
    }
}

/// The line of a text that a mistake begins in, cut where it is long.
struct Window<'a> {
    text: &'a str,
    /// Counted from 1.
    line: usize,
    /// In characters, counted from 1.
    column: usize,
    /// Whether the line begins before `text`.
    is_cut: bool,
    /// Bytes of `text` that are marked.
    marked: Range<usize>,
}

impl<'a> Window<'a> {
    fn around(text: &'a str, bytes: &Range<usize>) -> Self {
        let start = boundary(text, bytes.start);
        let end = boundary(text, bytes.end.max(start));
        let before = text.get(..start).unwrap_or_default();
        let after = text.get(start..).unwrap_or_default();
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        let line_end = start + after.find(['\n', '\r']).unwrap_or(after.len());
        let shown_start = boundary(text, line_start.max(start.saturating_sub(LINE_BEFORE)));
        let shown_end = boundary(text, line_end.min(start + LINE_FROM));
        let column = text.get(line_start..start).map_or(0, |part| part.chars().count()) + 1;
        let marked_end = end.clamp(start, shown_end.max(start));
        Self {
            text: text.get(shown_start..shown_end).unwrap_or_default(),
            line: before.bytes().filter(|byte| *byte == b'\n').count() + 1,
            column,
            is_cut: shown_start > line_start,
            marked: start - shown_start..marked_end - shown_start,
        }
    }
}

/// The character boundary at or before a byte of a text.
fn boundary(text: &str, byte: usize) -> usize {
    let mut at = byte.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

/// The name most like `word`, where one is near enough to be meant.
///
/// Near enough: at most a third of the letters, and at least one, changed, added, dropped or swapped.
pub fn nearest<'a>(word: &str, names: impl IntoIterator<Item = &'a str>) -> Option<String> {
    if word.len() > LONGEST_NAME {
        return None;
    }
    let allowed = (word.chars().count() / 3).max(1);
    names
        .into_iter()
        .filter(|name| name.len() <= LONGEST_NAME)
        .map(|name| (strsim::osa_distance(word, name), name))
        .filter(|(distance, _)| *distance <= allowed)
        .min()
        .map(|(_, name)| name.to_owned())
}

/// What to tell of a name that is none of those that exist: the nearest one, else all.
pub fn unknown_name<'a>(name: &str, kind: &str, names: impl IntoIterator<Item = &'a str>) -> anyhow::Error {
    let names: BTreeSet<&str> = names.into_iter().collect();
    match nearest(name, names.iter().copied()) {
        Some(nearest) => anyhow::anyhow!("`{name}` is no {kind} of this plan; nearest: `{nearest}`"),
        None if names.is_empty() => anyhow::anyhow!("`{name}` is no {kind} of this plan; it has none"),
        None => {
            let names: Vec<&str> = names.into_iter().collect();
            anyhow::anyhow!("`{name}` is no {kind} of this plan; expected one of: {}", names.join(", "))
        }
    }
}

/// The first few names of a list.
fn listed(names: &[&str]) -> String {
    const SHOWN: usize = 8;
    let mut text: Vec<String> = names.iter().take(SHOWN).map(|name| format!("`{}`", shortened(name))).collect();
    if names.len() > SHOWN {
        text.push("…".to_owned());
    }
    text.join(", ")
}

/// A text that is short enough for a message.
pub(super) fn shortened(text: &str) -> String {
    const LONGEST: usize = 60;
    if text.chars().count() <= LONGEST {
        return text.to_owned();
    }
    text.chars().take(LONGEST).chain(['…']).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_text_shows_line_column_what_was_expected_and_the_nearest_name() {
        let text: Arc<str> = "title = \"a\"\nto = \"mount-nort\"\n".into();
        let mut problems = Problems::default();
        problems.know("plan.toml", &text);
        problems.misspelt(Place::text("plan.toml", 17..29), "mount-nort", "a worksite", ["mount-north", "mount-south"]);
        let shown = problems.to_string();
        let lines: Vec<&str> = shown.lines().map(str::trim_end).collect();
        assert_eq!(
            lines,
            [
                "error: `mount-nort` does not exist",
                " --> plan.toml:2:6",
                "  |",
                "2 | to = \"mount-nort\"",
                "  |      ^^^^^^^^^^^^ expected the name of a worksite; nearest: `mount-north`",
            ]
        );
    }

    #[test]
    fn a_long_line_is_cut_and_its_column_still_counted_from_the_line() {
        let text: Arc<str> = format!("{}x = 1{}", "é".repeat(5000), "z".repeat(5000)).into();
        let mut problems = Problems::default();
        problems.know("f", &text);
        problems.add(Place::text("f", 10000..10001), "`x` is wrong", "");
        let shown = problems.to_string();
        assert!(shown.contains("f:1:5001"), "{shown}");
        assert!(shown.len() < 1000, "{} bytes", shown.len());
    }

    #[test]
    fn problems_beyond_the_cap_are_counted() {
        let mut problems = Problems::default();
        for _ in 0..KEPT + 3 {
            problems.add(Place::file("f"), "a", "b");
        }
        assert_eq!(problems.list().len(), KEPT);
        assert_eq!(problems.count(), KEPT + 3);
        assert!(problems.to_string().ends_with("and 3 more"));
    }

    #[test]
    fn a_name_that_is_too_different_is_not_suggested() {
        assert_eq!(nearest("worksit", ["worksite", "stand"]), Some("worksite".to_owned()));
        assert_eq!(nearest("banana", ["worksite", "stand"]), None);
    }
}
