//! What does the report rest on: which files, which stated values, which invented figures?

use crate::check::Unit;
use crate::model::{Angle, Tolerances};

use super::table::{Set, Table};
use super::{Ink, section};
use crate::report::{Report, number};

/// The files with their digests, the plan's stated values, and the notes.
pub fn write(report: &Report, ink: Ink, out: &mut String) {
    section("what this rests on", ink, out);
    let project = report.project;
    let plan = &project.plan;
    let mut table = Table::new([("", Set::Left), ("", Set::Wrap)]);
    let mut line = |what: &str, text: String| table.row([what.into(), text.into()]);
    line("checked by", format!("trusswalk {}", env!("CARGO_PKG_VERSION")));
    for (what, title) in [("arm", &project.arm.title), ("restraint", &project.restraint.title)] {
        if !title.is_empty() {
            line(what, title.clone());
        }
    }
    line("suit", format!("{} ({})", project.suit.title, project.suit.source));
    let metres = |value| number::limit(value, Unit::Metre);
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
fn tolerances(stated: &Tolerances) -> String {
    let turn = |angle: Angle| (angle.radians(), number::limit(angle.radians(), Unit::Radian));
    let slide = |metres: f64| (metres, number::limit(metres, Unit::Metre));
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
