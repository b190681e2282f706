//! What does a person read?
//!
//! The verdict first: how many findings of each status, what to mend first, where it is tightest. Then each violation,
//! causes first; what is tight; what was not checked and why; the worksites as visited; the motions; what may touch; what
//! all of this rests on; and the verdict again with the cautions. No line is wider than 120 columns; colour only repeats
//! what the words say.

mod basis;
mod edits;
mod findings_table;
mod lists;
mod mends;
mod motions;
mod proposal;
pub(super) mod table;
mod tight;
mod unsettled;
mod verdict;
mod violations;
mod visits;

use crate::check::Status;

pub use edits::edits;
pub use mends::{change, mends};
pub use proposal::{parts, proposal, setting, violated, way};
pub use unsettled::unsettled;
pub use verdict::counted;
pub use violations::{causes, entries};

use super::{CAUTION, CAUTIONS, Report};
use table::{Cell, Paint, WIDTH, wrap};

/// Whether the text may be coloured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    Plain,
    /// With the terminal's colours.
    Coloured,
}

impl Ink {
    fn paint(self, text: &str, paint: Paint) -> String {
        let code = match (self, paint) {
            (Self::Plain, _) | (_, Paint::None) => return text.to_owned(),
            (_, Paint::Bold) => "1",
            (_, Paint::Good) => "32",
            (_, Paint::Near) => "33",
            (_, Paint::Bad) => "31;1",
            (_, Paint::Unknown) => "36",
        };
        format!("\x1b[{code}m{text}\x1b[0m")
    }
}

/// The whole report.
pub fn text(report: &Report, ink: Ink) -> String {
    let mut out = String::new();
    out.push_str(&ink.paint(&report.outcome.title, Paint::Bold));
    out.push('\n');
    caution_line(&mut out);
    out.push('\n');
    verdict::write(report, ink, &mut out);
    violations::write(report, ink, &mut out);
    tight::write(report, ink, &mut out);
    lists::not_checked(report, ink, &mut out);
    visits::write(report, ink, &mut out);
    motions::write(report, ink, &mut out);
    lists::exemptions(report, ink, &mut out);
    basis::write(report, ink, &mut out);
    lists::summary(report, ink, &mut out);
    out
}

/// A heading of a section.
fn section(title: &str, ink: Ink, out: &mut String) {
    out.push('\n');
    out.push_str(&ink.paint(&title.to_uppercase(), Paint::Bold));
    out.push('\n');
}

/// Where the cautions stand, and the first of them.
fn caution_line(out: &mut String) {
    paragraph(&format!("{CAUTION}; cautions at the end."), 0, out);
}

/// All cautions, below whatever is told.
pub fn cautions() -> String {
    let mut out = String::from("\n");
    paragraph(CAUTIONS, 0, &mut out);
    out
}

/// A text over as many lines as it takes.
fn paragraph(text: &str, indent: usize, out: &mut String) {
    for line in wrap(text, WIDTH - indent) {
        out.push_str(&" ".repeat(indent));
        out.push_str(&line);
        out.push('\n');
    }
}

/// A number of things: "1 violation", "2 violations".
fn count(number: usize, what: &str) -> String {
    format!("{number} {what}{}", if number == 1 { "" } else { "s" })
}

/// The word of a status in its colour.
fn status_cell(status: &Status) -> Cell {
    Cell::painted(status.word(), status_paint(status))
}

const fn status_paint(status: &Status) -> Paint {
    match status {
        Status::Ok => Paint::Good,
        Status::Tight => Paint::Near,
        Status::Violation(_) => Paint::Bad,
        Status::NotChecked(_) => Paint::Unknown,
    }
}
