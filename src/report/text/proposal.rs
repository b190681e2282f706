//! What was found of what a plan left open, and how?

use crate::check::{Finding, Unit};
use crate::model::Project;
use crate::propose::{
    Answer, Candidates, End, Impossible, Judged, NoWay, NotFound, Proposal, Refusal, SiteProposal, Unsettled,
    WayProposal, Why,
};

use super::table::{Cell, Paint, Set, Table};
use super::{Ink, count, paragraph, section};
use crate::report::CAUTION_LINE;
use crate::report::number::{self, Rounding};

/// So many violations are told in full.
const BROKEN: usize = 3;
/// So many settings of a worksite are listed.
const LISTED: usize = 6;

/// A proposal for people: settings by worksite, ways, and what could not be settled.
pub fn proposal(project: &Project, proposal: &Proposal, ink: Ink) -> String {
    let mut out = String::new();
    out.push_str(&ink.paint(&project.plan.title, Paint::Bold));
    out.push('\n');
    paragraph(CAUTION_LINE, 0, &mut out);
    if proposal.sites.is_empty() && proposal.ways.is_empty() && proposal.unsettled.is_none() {
        paragraph("nothing is left open, and every transit has its waypoints", 0, &mut out);
    }
    if !proposal.sites.is_empty() {
        section("settings", ink, &mut out);
        for site in &proposal.sites {
            write_site(project, site, ink, &mut out);
        }
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
        paragraph("to spare: certified above every limit of clearance and stopping, tolerances taken off", 0, &mut out);
    }
    if let Some(unsettled) = &proposal.unsettled {
        section("not settled", ink, &mut out);
        for (number, line) in self::unsettled(unsettled).iter().enumerate() {
            paragraph(line, if number == 0 { 0 } else { 2 }, &mut out);
        }
    }
    out
}

fn write_site(project: &Project, site: &SiteProposal, ink: Ink, out: &mut String) {
    out.push_str(&ink.paint(&site.worksite, Paint::Bold));
    out.push('\n');
    paragraph(&tried(&site.candidates), 2, out);
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
    let detents: Vec<String> = judged.setting.detents.iter().map(|detent| number::joint(*detent, true)).collect();
    let turns = project.arm.joint.iter().map(|joint| joint.kind == crate::model::JointKind::Revolute);
    let arm: Vec<String> =
        judged.setting.arm.iter().zip(turns).map(|(value, turns)| number::joint(*value, turns)).collect();
    format!("{}; {}; {}", judged.setting.stand, detents.join(" "), arm.join(" "))
}

/// A way in one line: step, waypoints, time, what is to spare.
pub fn way(way: &WayProposal) -> String {
    let found = &way.way;
    let time =
        found.seconds.map_or_else(String::new, |seconds| format!(", {}", number::minutes(seconds, 0, Rounding::Up)));
    let spare = number::value(found.margin, Unit::Metre, Rounding::Down);
    format!("{}: {}{time}, > {spare} to spare", way.step, count(found.waypoints.len(), "waypoint"))
}

/// How many were looked at, and what ruled the others out.
fn tried(found: &Candidates) -> String {
    if found.nothing_done {
        return "nothing is done there that tells where the boot plate has to be; the plan must have its settings"
            .to_owned();
    }
    let (places, arms, tried) = (&found.places, &found.arms, &found.tried);
    let mut told = Vec::new();
    if places.drawn > 0 {
        told.push(format!(
            "{} of the boot plate drawn: {} leave a grip outside the envelopes, {} the body too near to the structure, {} a \
             target without a posture, {} were not asked",
            count(places.drawn, "place"),
            places.outside_envelope,
            places.near_structure,
            places.no_posture,
            places.not_asked,
        ));
    }
    let bodies = &found.bodies;
    if bodies.places > 0 {
        told.push(format!(
            "of {} from which everything is reached, {} were not found to be held with nothing too near, in {} the body \
             breaks a limit in the visit",
            bodies.places, bodies.not_held, bodies.violated,
        ));
    }
    if arms.combinations > 0 {
        told.push(format!(
            "{} of it with all settings of the restraint, {} in all: {} beyond the arm's length (proven), {} not met by the \
             arm; of {}, {} are too near to a joint limit, {} to a singular one, {} are worse than others of their setting",
            count(found.places_found, "place"),
            arms.combinations,
            arms.beyond_arm,
            arms.not_met,
            count(arms.configurations, "configuration"),
            arms.near_joint_limit,
            arms.near_singular,
            arms.not_kept,
        ));
    }
    told.push(format!(
        "of {} to serve the worksite, {} have something too near at rest; {} judged in full, {} of them break a limit, \
         which rules out {} in the same places",
        count(found.servings, "way"),
        tried.too_near,
        tried.judged,
        tried.violated,
        tried.in_bad_place,
    ));
    if arms.left_out > 0 {
        told.push(format!(
            "{} were left out, evenly spread: there are too many",
            count(arms.left_out, "combination of detents")
        ));
    }
    told.join("; ")
}

/// Why a plan is not settled: what it comes to, and what was looked at.
pub fn unsettled(unsettled: &Unsettled) -> Vec<String> {
    let worksite = &unsettled.worksite;
    match &unsettled.why {
        Why::NoSetting(found) => {
            let first = format!("{worksite}: no setting was found that keeps every limit, which is no proof");
            let nearest = found.nearest.as_ref().map(|nearest| match &nearest.no_transit {
                Some(no) => format!("the nearest one allows no transit: {}", impossible(no)),
                None => format!("the nearest one breaks: {}", broken(&nearest.violations)),
            });
            [first, tried(found)].into_iter().chain(nearest).collect()
        }
        Why::NoWay { tried, last } => {
            let what = format!("{worksite}: no way was found to any of {}", count(*tried, "setting"));
            vec![format!("{what}; of the last: {}", no_way(last))]
        }
        Why::Spent => vec![format!("{worksite}: the searches are spent")],
    }
}

/// What is violated: the first few, and how many more there are.
fn broken(findings: &[Finding]) -> String {
    let told =
        |finding: &Finding| format!("{}, {}: {}", finding.key.place.name(), finding.key.check, finding.key.subject);
    let first: Vec<String> = findings.iter().take(BROKEN).map(told).collect();
    let more = findings.len().saturating_sub(BROKEN);
    let more = if more > 0 { format!("; and {more} more") } else { String::new() };
    format!("{}{more}", first.join("; "))
}

fn no_way(no: &NoWay) -> String {
    match no {
        NoWay::Violated(findings) => broken(findings),
        NoWay::Transit(Answer::Found(_)) => "the transit was found".to_owned(),
        NoWay::Transit(Answer::NotFound(no)) => not_found(no),
        NoWay::Transit(Answer::Impossible(no)) => impossible(no),
    }
}

fn not_found(no: &NotFound) -> String {
    let apart = number::value(no.apart, Unit::Metre, Rounding::Nearest);
    let refused = no.refused.first().map_or_else(String::new, |(refusal, _)| {
        let why = match refusal {
            Refusal::Pair([a, b]) => format!("{a} too near to {b}"),
            Refusal::NotTold(Some([a, b])) => format!("{a} and {b} not told from their limit"),
            Refusal::NotTold(None) => "not told from the limits".to_owned(),
            Refusal::Singular => "a singular configuration".to_owned(),
        };
        format!("; most often refused: {why}")
    });
    format!("none found in {}, nearest {apart}{refused}", count(no.nodes, "node"))
}

fn impossible(no: &Impossible) -> String {
    let end = |at: End| match at {
        End::Start => "start",
        End::Goal => "goal",
    };
    match no {
        Impossible::Pair { at, bodies: [a, b], by } => {
            let by = number::value(*by, Unit::Metre, Rounding::Down);
            format!("proven: at the {} {a} is too near to {b}, by {by}", end(*at))
        }
        Impossible::Inside { bodies: [solid, inside] } => format!("proven: {inside} lies inside {solid} at the start"),
        Impossible::Joint { at, joint, .. } => format!("proven: at the {} {joint} is out of its range", end(*at)),
        Impossible::Singular { at, value } => {
            let value = number::value(*value, Unit::Metre, Rounding::Down);
            format!("proven: at the {} the least singular value is {value}", end(*at))
        }
    }
}
