//! What does a crewmember do at each worksite, and in which position?

use crate::check::{Finding, Place, TargetUse, Visit};
use crate::model::{Hands, Who};
use crate::space::{Point, Vector};

use super::findings_table::{FindingsTable, grouped};
use super::table::{Paint, Set, Table};
use super::{Ink, section};
use crate::report::{Report, number, words};

/// One block for each visit: how to get there, where to stand, what each hand does, what was found; then one for each
/// time that somebody only stood there.
pub fn write(report: &Report, ink: Ink, out: &mut String) {
    let only_stood = grouped(
        report.outcome.findings.iter().filter(|finding| {
            matches!(finding.key.place, Place::Worksite { .. })
                && !report.outcome.visits.iter().any(|visit| belongs(finding, visit))
        }),
        |finding| (&finding.key.place, finding.key.who),
    );
    if report.outcome.visits.is_empty() && only_stood.is_empty() {
        return;
    }
    section("worksites", ink, out);
    let mut blocks = 0;
    let mut title = |title: String, out: &mut String| {
        if blocks > 0 {
            out.push('\n');
        }
        blocks += 1;
        out.push_str(&ink.paint(&title, Paint::Bold));
        out.push('\n');
    };
    for visit in &report.outcome.visits {
        let (deed, who) = (words::deed(visit.deed), words::who(visit.who));
        title(format!("{}, {} ({deed}), {who}", visit.worksite, visit.step), out);
        place(report, visit).write(ink, 2, out);
        targets(report, visit).write(ink, 2, out);
        let of_visit = report.outcome.findings.iter().filter(|finding| belongs(finding, visit));
        by_check(of_visit).write(ink, 2, out);
    }
    for ((place, who), findings) in only_stood {
        let Place::Worksite { worksite, step } = place else { continue };
        let who = who.map(|who| format!(", {}", words::who(who))).unwrap_or_default();
        title(format!("{worksite}, {step} (at rest){who}"), out);
        by_check(findings).write(ink, 2, out);
    }
}

/// Where arm, restraint and boots are.
fn place(report: &Report, visit: &Visit) -> Table<2> {
    let mut table = Table::new([("", Set::Left), ("", Set::Wrap)]);
    let mut line = |what: &str, text: String| table.row([what.into(), text.into()]);
    match visit.who {
        Who::Rider => {
            line("stand", visit.stand.clone());
            let [x, y, z] = [0, 1, 2].map(|k| number::fixed(visit.approach[k], 3, number::Rounding::Nearest));
            line("comes in", format!("moving {}, along ({x}, {y}, {z})", words::direction(&visit.approach)));
        }
        Who::SecondCrew => line("socket", visit.stand.clone()),
    }
    let detents: Vec<String> =
        visit.detents.iter().map(|(name, angle)| format!("{name} {}", number::joint(*angle, true))).collect();
    line("detents", if detents.is_empty() { "none to set".to_owned() } else { detents.join(", ") });
    let plate = &visit.structure_from_plate;
    line(
        "boots",
        format!(
            "at {} m, toes {}, head {}",
            number::point(&Point::from(plate.translation.vector)),
            words::direction(&(plate.rotation * Vector::x())),
            words::direction(&(plate.rotation * Vector::z())),
        ),
    );
    if visit.who == Who::Rider {
        let joints = report.outcome.arm_joints.iter().zip(&visit.arm);
        let joints: Vec<String> =
            joints.map(|(joint, value)| format!("{} {}", joint.name, number::joint(*value, joint.turns))).collect();
        line("arm", joints.join(", "));
    }
    table
}

/// What the hands do at each target and how the body then is; a joint that stays as at the target before is left out.
fn targets(report: &Report, visit: &Visit) -> Table<3> {
    let mut table = Table::new([("target", Set::Left), ("hands", Set::Left), ("body", Set::Wrap)]);
    let mut before: Option<(&str, Vec<String>)> = None;
    for target in &visit.targets {
        let body = body(report, target);
        let said = match &before {
            _ if body.is_empty() => "no posture".to_owned(),
            None => body.join(", "),
            Some((name, then)) => {
                let changed: Vec<&str> =
                    body.iter().filter(|joint| !then.contains(joint)).map(String::as_str).collect();
                if changed.is_empty() {
                    format!("as at {name}")
                } else {
                    format!("as at {name}, save: {}", changed.join(", "))
                }
            }
        };
        table.row([target.target.as_str().into(), hands(target).into(), said.into()]);
        if !body.is_empty() {
            before = Some((&target.target, body));
        }
    }
    table
}

/// Every body joint in words, in whole degrees.
fn body(report: &Report, target: &TargetUse) -> Vec<String> {
    let joint = |(name, angle): &(String, f64)| {
        // A size after words has no sign of its own; a bare name needs it.
        match (report.joint_words)(name, *angle) {
            Some(words) => {
                format!("{words} {}°", number::fixed(angle.to_degrees().abs(), 0, number::Rounding::Nearest))
            }
            None => format!("{name} {}°", number::fixed(angle.to_degrees(), 0, number::Rounding::Nearest)),
        }
    };
    target.joints.iter().map(joint).collect()
}

fn hands(target: &TargetUse) -> String {
    let hands = match target.hands {
        None => return "none".to_owned(),
        Some(Hands::Both) => "both hands".to_owned(),
        Some(hand) => format!("{} hand", words::hands(hand)),
    };
    if target.tool == 0.0 {
        hands
    } else {
        format!("{hands}, tool {}", number::limit(target.tool, crate::check::Unit::Metre))
    }
}

/// Whether a finding is shown with a visit.
fn belongs(finding: &Finding, visit: &Visit) -> bool {
    let place = Place::Worksite { worksite: visit.worksite.clone(), step: visit.step.clone() };
    finding.key.place == place && finding.key.who.is_none_or(|who| who == visit.who)
}

/// Each check's governing finding.
fn by_check<'a>(findings: impl IntoIterator<Item = &'a Finding>) -> FindingsTable {
    let mut table = FindingsTable::new("check");
    for (check, findings) in grouped(findings, |finding| finding.key.check) {
        table.row(check, &findings);
    }
    table
}
