//! What stands in the way of a proposal, and how much was looked at?

use crate::check::Unit;
use crate::propose::{
    Answer, Candidates, End, Impossible, Judged, NoStand, NoWay, NotFound, Refusal, SecondProposal, Tally, Unsettled,
    Violation, Why,
};

use super::count;
use crate::report::number::{self, Rounding};
use crate::report::words;

/// So many violations are told in full.
const BROKEN: usize = 3;

/// How many were looked at, and what ruled the others out.
pub fn tried(found: &Candidates) -> String {
    let (places, arms, tried) = (&found.places, &found.arms, &found.tried);
    let mut told = Vec::new();
    if places.drawn > 0 {
        told.push(format!(
            "{} of the boot plate drawn: {} leave a grip outside the envelopes, {} the body too near to the structure, {} a \
             target without a posture{}, {} were not asked",
            count(places.drawn, "place"),
            places.outside_envelope,
            places.near_structure,
            places.no_posture.ruled_out,
            by(&places.no_posture),
            places.not_asked,
        ));
    }
    let bodies = &found.bodies;
    if bodies.places > 0 {
        told.push(format!(
            "of {} from which everything is reached, {} were not found to be held with nothing too near{}, in {} the body \
             breaks a limit in the visit{}{}",
            bodies.places,
            bodies.not_held.ruled_out,
            by(&bodies.not_held),
            bodies.violated.ruled_out,
            by(&bodies.violated),
            if bodies.hopeless { "; more were not looked at, as one limit rules out all of these" } else { "" },
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
        "of {} to serve the worksite, {} have something too near at rest{}; {} judged in full, {} of them break a limit{}, \
         which rules out {} in the same places{}",
        count(found.servings, "way"),
        tried.too_near.ruled_out,
        by(&tried.too_near),
        tried.judged,
        tried.violated.ruled_out,
        by(&tried.violated),
        tried.in_bad_place,
        if tried.hopeless { "; more were not judged, as one limit rules out all of these" } else { "" },
    ));
    if arms.left_out > 0 {
        told.push(format!(
            "{} were left out, evenly spread: there are too many",
            count(arms.left_out, "combination of detents")
        ));
    }
    told.join("; ")
}

/// How many settings of the second crew's restraint were looked at, and what ruled the others out.
pub fn second_tried(found: &SecondProposal) -> String {
    let left_out = match found.left_out {
        0 => String::new(),
        left_out => format!("; {left_out} more, evenly spread, were left out"),
    };
    let settings = count(found.tried, "setting");
    format!("of {settings} tried, {} keep every limit, others break one{}{left_out}", found.kept, by(&found.broken))
}

/// The limits that ruled out most, with how many.
fn by(tally: &Tally) -> String {
    let most = tally.most();
    let told = most
        .iter()
        .take(BROKEN)
        .map(|(broken, times)| format!("{times} by {} {}", words::check(&broken.check), broken.of));
    let more = if most.len() > BROKEN { ", ..." } else { "" };
    if most.is_empty() { String::new() } else { format!(" ({}{more})", told.collect::<Vec<_>>().join(", ")) }
}

/// Why a plan is not settled: what it comes to, what was looked at, and what would help.
pub fn unsettled(unsettled: &Unsettled) -> Vec<String> {
    let worksite = &unsettled.worksite;
    let mut told = match &unsettled.why {
        Why::NoSecondSetting(found) => vec![
            format!("{worksite}: no setting of the second crew's restraint was found that keeps every limit"),
            second_tried(found),
        ],
        Why::NoSetting(found) => no_setting(worksite, found),
        Why::NoWay { tried, last, given } => {
            let what = if given.contains(worksite) {
                format!("{worksite}: no way was found to the setting that the plan gives: {}", no_way(last))
            } else {
                let any = count(*tried, "setting");
                format!("{worksite}: no way was found to any of {any}; of the last: {}", no_way(last))
            };
            [what].into_iter().chain(given.iter().map(|site| look_anew(site))).collect()
        }
        Why::NoStand { ruled_out } => {
            let first = format!("{worksite}: proven: nothing can be done there from any stand that can be had there");
            [first].into_iter().chain(ruled_out.iter().map(|(stand, no)| no_stand(stand, no))).collect()
        }
        Why::StandsApart { served_from } => stands_apart(worksite, served_from),
        Why::Spent => vec![format!(
            "{worksite}: the searches are spent: there are ways to each worksite, and none was found through all of them"
        )],
    };
    if unsettled.others.iter().any(|(_, good)| *good > 0) {
        let found = |(worksite, good): &(String, usize)| format!("{worksite} {good}");
        let others: Vec<String> = unsettled.others.iter().map(found).collect();
        told.push(format!("settings found so far that keep every limit at the other worksites: {}", others.join(", ")));
    }
    told
}

fn look_anew(given: &str) -> String {
    format!("the setting at {given} is the plan's: `propose --only {given}` looks for others")
}

fn no_setting(worksite: &str, found: &Candidates) -> Vec<String> {
    let mut told = vec![format!("{worksite}: no setting was found that keeps every limit, which is no proof")];
    told.extend(found.no_stand.iter().map(|(stand, no)| no_stand(stand, no)));
    if found.base_has_moved {
        told.push("the order of work tells from which stand: no other one was asked about".to_owned());
    }
    if let Some(later) = &found.base_moves_to {
        told.push(format!("the order of work moves the base to {later} later: it was not asked about there"));
    }
    told.push(tried(found));
    told.extend(found.nearest.as_ref().map(nearest));
    if found.nearest.iter().flat_map(|nearest| &nearest.violations).any(Violation::is_of_base) {
        told.push(format!(
            "the base moves with the arm as it stands at {worksite}: a worksite without targets to park at before it, or \
             another order, would help"
        ));
    }
    told
}

/// Why nothing can be done from a stand.
fn no_stand(stand: &str, no: &NoStand) -> String {
    match no {
        NoStand::OutOfReach { subject, by } => {
            let by = number::value(*by, Unit::Metre, Rounding::Down);
            format!(
                "from the stand {stand}, {subject} is out of reach by at least {by}, arm, restraint and body all stretched"
            )
        }
        NoStand::AlwaysNear { bodies: [a, b], classes, by, limit, at_rest } => {
            let when = if *at_rest { "at rest there" } else { "on every transit" };
            let by = number::value(*by, Unit::Metre, Rounding::Down);
            let limit = number::limit(*limit, Unit::Metre);
            format!(
                "from the stand {stand}, {a} comes too near whatever the arm's joints do, {when}: where it is farthest, to \
                 {b} by at least {by}; the limit of {classes} is {limit}"
            )
        }
    }
}

fn stands_apart(worksite: &str, served_from: &[(String, Vec<String>)]) -> Vec<String> {
    let first = format!(
        "{worksite}: no stand was found that serves it and what comes before it, and no step moves the base between them"
    );
    let told = served_from.iter().map(|(site, stands)| format!("{site} is served from {}", stands.join(" or ")));
    let help = match served_from.last().map(|(_, stands)| stands.join("` or `")) {
        Some(stands) => format!(
            "a step `move-base` to `{stands}` before the transit to {worksite} would help; `propose` adds no such step"
        ),
        None => String::new(),
    };
    [first].into_iter().chain(told).chain([help]).collect()
}

/// What the nearest setting breaks.
fn nearest(nearest: &Judged) -> String {
    match &nearest.no_transit {
        Some(no) => format!("the nearest one allows no transit: {}", impossible(no)),
        None => format!("the nearest one breaks: {}", broken(&nearest.violations)),
    }
}

/// What is violated: the first few, and how many more there are.
fn broken(violations: &[Violation]) -> String {
    let first: Vec<String> = violations.iter().take(BROKEN).map(off_by).collect();
    let more = violations.len().saturating_sub(BROKEN);
    let more = if more > 0 { format!("; and {more} more") } else { String::new() };
    format!("{}{more}", first.join("; "))
}

/// A violation in a line: where, by how much, and what would help.
pub fn off_by(broken: &Violation) -> String {
    let by = match (broken.margin, broken.limit) {
        (Some(margin), Some(bar)) => {
            let off = number::value(-margin, broken.unit, Rounding::Up);
            format!(": off by {off}, {} wanted", words::limit(bar, broken.unit))
        }
        _ => broken.note.as_ref().map_or_else(String::new, |note| format!(": {note}")),
    };
    let help = broken.help.as_ref().map_or_else(String::new, |help| format!("; would help: {help}"));
    format!("{}, {}, {}{by}{help}", broken.place, words::check(&broken.check), broken.subject)
}

fn no_way(no: &NoWay) -> String {
    match no {
        NoWay::Violated(violations) => broken(violations),
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
