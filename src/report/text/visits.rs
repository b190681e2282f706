//! What does a crewmember do at each worksite, and in which position?

use crate::check::{Finding, Place, TargetUse, Visit};
use crate::crew;
use crate::model::{Hands, Suit, Who};
use crate::space::{Point, Vector};

use super::findings_table::{FindingsTable, grouped};
use super::table::{Paint, Set, Table};
use super::{Ink, paragraph, section};
use crate::report::{Report, number, words};

/// A body joint this near to zero or to its neutral angle is left out of the prose.
const LEFT_OUT_DEG: f64 = 0.5;

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
    paragraph(&neutral_posture(&report.project.suit), 0, out);
    let title = |title: String, out: &mut String| {
        out.push('\n');
        out.push_str(&ink.paint(&title, Paint::Bold));
        out.push('\n');
    };
    for visit in &report.outcome.visits {
        let (deed, who) = (words::deed(visit.deed), words::who(visit.who));
        title(format!("{}, {} ({deed}), {who}", visit.worksite, visit.step), out);
        place(report, visit).write(ink, 2, out);
        targets(report, visit).write(ink, 2, out);
        let of_visit = report.outcome.findings.iter().filter(|finding| belongs(finding, visit));
        by_check(report, of_visit).write(ink, 2, out);
    }
    for ((place, who), findings) in only_stood {
        let Place::Worksite { worksite, step } = place else { continue };
        let who = who.map(|who| format!(", {}", words::who(who))).unwrap_or_default();
        title(format!("{worksite}, {step} (at rest){who}"), out);
        by_check(report, findings).write(ink, 2, out);
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
    let mut before: Option<(&str, Vec<JointSaid>)> = None;
    for target in &visit.targets {
        let body = body(&report.project.suit, target);
        let said = match &before {
            _ if target.joints.is_empty() => "no posture".to_owned(),
            None if body.is_empty() => "neutral".to_owned(),
            None => listed(&body),
            Some((name, then)) => {
                let differs = changes(then, &body, target);
                if differs.is_empty() { format!("as at {name}") } else { format!("as at {name}, save: {differs}") }
            }
        };
        table.row([target.target.as_str().into(), hands(target).into(), said.into()]);
        if !target.joints.is_empty() {
            before = Some((&target.target, body));
        }
    }
    table
}

/// What differs from the posture before: joints now elsewhere, then those back at zero.
fn changes(then: &[JointSaid], now: &[JointSaid], target: &TargetUse) -> String {
    let mut elsewhere: Vec<JointSaid> = now.iter().filter(|joint| !then.contains(joint)).cloned().collect();
    let mut straight = Vec::new();
    for joint in then.iter().filter(|then| !now.iter().any(|now| now.joint == then.joint)) {
        match target.joints.iter().find(|(name, _)| *name == joint.joint) {
            Some((name, angle)) if angle.to_degrees().abs() > LEFT_OUT_DEG => elsewhere.push(joint_said(name, *angle)),
            _ => straight.push(joint.meaning.as_str()),
        }
    }
    let straight = if straight.is_empty() { String::new() } else { format!("no longer {}", straight.join(", ")) };
    [listed(&elsewhere), straight].into_iter().filter(|text| !text.is_empty()).collect::<Vec<_>>().join("; ")
}

/// A body joint in words.
#[derive(Clone, Debug, PartialEq)]
struct JointSaid {
    joint: String,
    /// "right elbow bent".
    meaning: String,
    /// In whole degrees; with a sign where the meaning is but a name.
    size: String,
}

fn listed(joints: &[JointSaid]) -> String {
    joints.iter().map(|joint| format!("{} {}", joint.meaning, joint.size)).collect::<Vec<_>>().join(", ")
}

/// Every body joint that is neither straight nor neutral.
fn body(suit: &Suit, target: &TargetUse) -> Vec<JointSaid> {
    let near = |angle: f64, other: f64| (angle - other).to_degrees().abs() <= LEFT_OUT_DEG;
    let notable = |(name, angle): &&(String, f64)| {
        !near(*angle, 0.0) && !crew::neutral(suit, name).is_some_and(|neutral| near(*angle, neutral))
    };
    target.joints.iter().filter(notable).map(|(name, angle)| joint_said(name, *angle)).collect()
}

fn joint_said(name: &str, angle: f64) -> JointSaid {
    let degrees = |angle: f64| format!("{}°", number::fixed(angle.to_degrees(), 0, number::Rounding::Nearest));
    let joint = name.to_owned();
    match crew::words(name, angle) {
        Some(meaning) => JointSaid { joint, meaning, size: degrees(angle.abs()) },
        None => JointSaid { joint, meaning: name.to_owned(), size: degrees(angle) },
    }
}

/// Which joints the prose leaves out, and how they are then.
fn neutral_posture(suit: &Suit) -> String {
    let bent = |name: &&str| crew::neutral(suit, name).filter(|angle| angle.to_degrees().abs() > LEFT_OUT_DEG);
    let alike = |stem: &str| bent(&format!("left-{stem}").as_str()) == bent(&format!("right-{stem}").as_str());
    let said = crew::JOINTS.iter().filter_map(|name| {
        let angle = bent(name)?;
        let JointSaid { meaning, size, .. } = joint_said(name, angle);
        match (name.strip_prefix("left-"), name.strip_prefix("right-")) {
            (Some(stem), _) if alike(stem) => Some(format!("{} {size}", meaning.replacen("left ", "each ", 1))),
            (_, Some(stem)) if alike(stem) => None,
            _ => Some(format!("{meaning} {size}")),
        }
    });
    format!(
        "Body joints that are not named are within {LEFT_OUT_DEG}° of zero or of their neutral angle; neutral are: {}.",
        said.collect::<Vec<_>>().join(", ")
    )
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
fn by_check<'a>(report: &Report, findings: impl IntoIterator<Item = &'a Finding>) -> FindingsTable {
    let mut table = FindingsTable::new("check");
    for (check, findings) in grouped(findings, |finding| finding.key.check) {
        table.row(report, words::check(check), &findings);
    }
    table
}
