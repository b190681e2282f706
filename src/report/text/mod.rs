//! What does a person read?
//!
//! In this order: what was checked, the worksites as visited, the motions, then each violation, what is tight, what was
//! not checked and why, what may touch, how many of each there were, and the cautions. No line is wider than 120
//! columns; colour only repeats what the words say.

mod entries;
mod findings_table;
mod lists;
mod motions;
mod table;
mod visits;

use crate::check::Status;

use super::{CAUTION_LINE, Report, number};
use table::{Cell, Paint, Set, Table, WIDTH, wrap};

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
    heading(report, ink, &mut out);
    visits::write(report, ink, &mut out);
    motions::write(report, ink, &mut out);
    entries::write(report, ink, &mut out);
    lists::not_checked(report, ink, &mut out);
    lists::exemptions(report, ink, &mut out);
    lists::summary(report, ink, &mut out);
    out
}

/// What was checked, against which files, under which stated values.
fn heading(report: &Report, ink: Ink, out: &mut String) {
    let project = report.project;
    let plan = &project.plan;
    out.push_str(&ink.paint(&report.outcome.title, Paint::Bold));
    out.push('\n');
    paragraph(CAUTION_LINE, 0, out);
    out.push('\n');
    let mut table = Table::new([("", Set::Left), ("", Set::Wrap)]);
    let mut line = |what: &str, text: String| table.row([what.into(), text.into()]);
    line("checked by", format!("trusswalk {}", env!("CARGO_PKG_VERSION")));
    if let Some(only) = &report.options.only {
        line("only", only.clone());
    }
    for (what, title) in [("arm", &project.arm.title), ("restraint", &project.restraint.title)] {
        if !title.is_empty() {
            line(what, title.clone());
        }
    }
    line("suit", format!("{} ({})", project.suit.title, project.suit.source));
    let metres = |value| number::limit(value, crate::check::Unit::Metre);
    line(
        "near a worksite",
        format!("at-work limits hold within {} of it, along its line", metres(plan.near_worksite_m)),
    );
    line("cap", format!("pairs farther apart than {} are not measured", metres(plan.cap_m)));
    line("tolerances", tolerances(&plan.tolerances));
    for input in report.inputs {
        line("read", format!("{} (SHA-256 {}…)", input.path, input.sha256.chars().take(12).collect::<String>()));
    }
    for note in report.notes {
        line("note", note.clone());
    }
    table.write(ink, 0, out);
}

/// Tolerances that are not zero.
fn tolerances(stated: &crate::model::Tolerances) -> String {
    let turn =
        |angle: crate::model::Angle| (angle.radians(), number::limit(angle.radians(), crate::check::Unit::Radian));
    let slide = |metres: f64| (metres, number::limit(metres, crate::check::Unit::Metre));
    let all = [
        ("turning joints", turn(stated.joint)),
        ("sliding joints", slide(stated.joint_m)),
        ("base", slide(stated.base_m)),
        ("base about each axis", turn(stated.base)),
        ("link ends", slide(stated.link_m)),
        ("link ends about each axis", turn(stated.link)),
    ];
    let both_ways = all.into_iter().filter(|(_, (value, _))| *value != 0.0);
    let mut words: Vec<String> = both_ways.map(|(what, (_, written))| format!("{what} ±{written}")).collect();
    if stated.shape_m != 0.0 {
        words.push(format!("shapes of structure and payload +{}", slide(stated.shape_m).1));
    }
    if words.is_empty() { "none stated".to_owned() } else { words.join(", ") }
}

/// A heading of a section.
fn section(title: &str, ink: Ink, out: &mut String) {
    out.push('\n');
    out.push_str(&ink.paint(&title.to_uppercase(), Paint::Bold));
    out.push('\n');
}

/// A text over as many lines as it takes.
fn paragraph(text: &str, indent: usize, out: &mut String) {
    for line in wrap(text, WIDTH - indent) {
        out.push_str(&" ".repeat(indent));
        out.push_str(&line);
        out.push('\n');
    }
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
