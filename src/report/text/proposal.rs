//! What was found of what a plan left open, and how?

use crate::check::Unit;
use crate::model::Project;
use crate::propose::{Judged, Proposal, SecondProposal, SiteProposal, Violation, WayProposal};

use super::table::{Cell, Paint, Set, Table};
use super::unsettled::{self, off_by, second_tried, tried};
use super::{Ink, caution_line, cautions, count, paragraph, section};
use crate::report::number::{self, Rounding};

/// So many settings of a worksite are listed.
const LISTED: usize = 6;
/// What the columns of a table of settings are.
const COLUMNS: &str = "reach, body (joints of the body), arm (joints of the arm), singular (configuration) and clear \
                       (clearance, stopping and access) are the least margins above their limits in the visit; sight is \
                       the least share seen above its limit, neutral how near the posture at work is to the neutral one, \
                       at most 1. The score is the mean of the seven as shares of what is ample, each at most 1 and under \
                       a root: reach 0.30 m, body 20\u{b0}, neutral 1, sight 50%, arm 30\u{b0}, singular 0.5 m, clear 0.10 m. \
                       Chosen are the settings that go best together, with the ways between them: by itself, another may \
                       score more.";

/// A proposal for people: settings by worksite, ways, and what could not be settled.
pub fn proposal(project: &Project, proposal: &Proposal, ink: Ink) -> String {
    let mut out = String::new();
    out.push_str(&ink.paint(&project.plan.title, Paint::Bold));
    out.push('\n');
    caution_line(&mut out);
    for odd in &proposal.odd {
        paragraph(&format!("look at: {odd}"), 0, &mut out);
    }
    let found = !proposal.sites.is_empty() || !proposal.ways.is_empty() || !proposal.second_crew.is_empty();
    if !found && proposal.unsettled.is_none() {
        paragraph("nothing is left open, and every transit has its waypoints", 0, &mut out);
    }
    if !proposal.second_crew.is_empty() {
        section("second crew", ink, &mut out);
        for found in &proposal.second_crew {
            paragraph(&second_crew(found), 0, &mut out);
        }
    }
    if !proposal.sites.is_empty() {
        section("settings", ink, &mut out);
        for site in &proposal.sites {
            write_site(project, site, ink, &mut out);
        }
        paragraph(COLUMNS, 0, &mut out);
    }
    if !proposal.ways.is_empty() {
        section("transits", ink, &mut out);
        let mut table = Table::new([
            ("step", Set::Left),
            ("waypoints", Set::Right),
            ("min:s", Set::Right),
            ("to spare", Set::Right),
            ("nodes", Set::Right),
            ("stretches asked", Set::Right),
        ]);
        for way in &proposal.ways {
            let found = &way.way;
            table.row([
                way.step.clone().into(),
                found.waypoints.len().to_string().into(),
                found.seconds.map_or_else(String::new, |seconds| number::minutes(seconds, 0, Rounding::Up)).into(),
                format!("> {}", number::value(found.margin, Unit::Metre, Rounding::Down)).into(),
                found.nodes.to_string().into(),
                found.edges.to_string().into(),
            ]);
        }
        table.write(ink, 0, &mut out);
        paragraph(
            "min:s is of the transit alone, without retreat, approach and setting the restraint, which a step's time counts, \
             too; to spare: certified above every limit of clearance and stopping, tolerances taken off",
            0,
            &mut out,
        );
    }
    if let Some(unsettled) = &proposal.unsettled {
        section("not settled", ink, &mut out);
        for (number, line) in unsettled::unsettled(unsettled).iter().enumerate() {
            paragraph(line, if number == 0 { 0 } else { 2 }, &mut out);
        }
    }
    out + &cautions()
}

/// What a plan's check finds violated, one to a line; nothing where it finds nothing.
pub fn violated(violations: &[Violation]) -> String {
    let mut out = String::new();
    for violation in violations {
        paragraph(&off_by(violation), 2, &mut out);
    }
    out
}

/// What was found for the second crew at a worksite.
fn second_crew(found: &SecondProposal) -> String {
    let chosen = found.chosen.as_ref().map_or_else(String::new, |chosen| {
        let [score, ..] = parts(chosen);
        format!("{}, score {}; ", detents(chosen), score.1)
    });
    format!("{}: {chosen}{}", found.worksite, second_tried(found))
}

/// The settings of a restraint.
fn detents(judged: &Judged) -> String {
    let detents: Vec<String> = judged.setting.detents.iter().map(|detent| number::joint(*detent, true)).collect();
    detents.join(" ")
}

fn write_site(project: &Project, site: &SiteProposal, ink: Ink, out: &mut String) {
    out.push_str(&ink.paint(&site.worksite, Paint::Bold));
    out.push('\n');
    let mut table = Table::new([
        ("", Set::Left),
        ("score", Set::Right),
        ("reach", Set::Right),
        ("body", Set::Right),
        ("neutral", Set::Right),
        ("sight", Set::Right),
        ("arm", Set::Right),
        ("singular", Set::Right),
        ("clear", Set::Right),
        ("stand; detents; configuration", Set::Wrap),
    ]);
    let others = site.candidates.good.iter().filter(|good| good.setting != site.chosen.setting);
    for (number, judged) in std::iter::once(&site.chosen).chain(others.take(LISTED - 1)).enumerate() {
        table.row(row(project, judged, number == 0));
    }
    table.write(ink, 2, out);
    paragraph(&format!("tried: {}", tried(&site.candidates)), 2, out);
}

fn row(project: &Project, judged: &Judged, chosen: bool) -> [Cell; 10] {
    let [score, reach, body, neutral, sight, arm, singular, clear] = parts(judged).map(|(_, value)| value.into());
    let mark = if chosen { "chosen" } else { "" }.into();
    [mark, score, reach, body, neutral, sight, arm, singular, clear, setting(project, judged).into()]
}

/// The score of a setting and what it is made of, each with its name; empty where nothing of the kind was checked.
pub fn parts(judged: &Judged) -> [(&'static str, String); 8] {
    let parts = &judged.parts;
    let of = |margin: Option<f64>, unit: Unit| {
        margin.map_or_else(String::new, |margin| number::value(margin, unit, Rounding::Down))
    };
    [
        ("score", number::fixed(judged.score, 2, Rounding::Down)),
        ("reach", of(parts.reach, Unit::Metre)),
        ("body", of(parts.body_joints, Unit::Radian)),
        ("neutral", of(parts.neutral, Unit::Share)),
        ("sight", of(parts.sight, Unit::Share)),
        ("arm", of(parts.arm_joints, Unit::Radian)),
        ("singular", of(parts.singularity, Unit::Metre)),
        ("clear", of(parts.clearance, Unit::Metre)),
    ]
}

/// A setting in words: stand; detents; configuration of the arm.
pub fn setting(project: &Project, judged: &Judged) -> String {
    let turns = project.arm.joint.iter().map(|joint| joint.kind == crate::model::JointKind::Revolute);
    let arm: Vec<String> =
        judged.setting.arm.iter().zip(turns).map(|(value, turns)| number::joint(*value, turns)).collect();
    format!("{}; {}; {}", judged.setting.stand, detents(judged), arm.join(" "))
}

/// A way in one line: step, waypoints, time, what is to spare.
pub fn way(way: &WayProposal) -> String {
    let found = &way.way;
    let time =
        found.seconds.map_or_else(String::new, |seconds| format!(", {}", number::minutes(seconds, 0, Rounding::Up)));
    let spare = number::value(found.margin, Unit::Metre, Rounding::Down);
    format!("{}: {}{time}, > {spare} to spare", way.step, count(found.waypoints.len(), "waypoint"))
}
