//! Does the order of work make sense, and does each step say what it needs and no more?
//!
//! Steps are followed one by one with who stands where, what the hands hold and where the base is. A step that makes
//! no sense is told, and the following goes on as if it had been done.

use std::collections::BTreeMap;

use crate::model::{Deed, Plan, Step, Who, Worksite};

use super::problem::Problems;
use super::toml_file::Node;

/// What has happened so far. Names are those of the plan.
#[derive(Default)]
struct Now<'a> {
    rider: Crewmember<'a>,
    second_crew: Crewmember<'a>,
    /// The stand of the base, once a worksite has told.
    stand: Option<&'a str>,
    held: Option<Held<'a>>,
    /// Which payload is in which seat.
    in_seat: BTreeMap<&'a str, &'a str>,
}

/// What the rider's hands hold.
#[derive(Clone, Copy)]
struct Held<'a> {
    payload: &'a str,
    /// The step that took it.
    taken: Node<'a>,
}

#[derive(Default)]
struct Crewmember<'a> {
    in_restraint: bool,
    at: Whereabouts<'a>,
}

#[derive(Clone, Copy, Default)]
enum Whereabouts<'a> {
    /// Between worksites, as after the base has moved.
    #[default]
    OnTheWay,
    At(&'a Worksite),
    /// At a worksite that the step does not tell.
    Untold,
}

impl<'a> Whereabouts<'a> {
    fn told(worksite: Option<&'a Worksite>) -> Self {
        worksite.map_or(Self::Untold, Self::At)
    }
}

/// Looks at the steps of a plan.
pub(super) fn check<'a>(plan: &'a Plan, file: Node<'a>, problems: &mut Problems) {
    for (step, node) in plan.step.iter().zip(file.key("step").items()) {
        keys(step, node, problems);
    }
    let mut now = Now::default();
    for (payload, node) in plan.payload.iter().zip(file.key("payload").items()) {
        if let Some(other) = now.in_seat.insert(&payload.seat, &payload.id) {
            let what = format!("`{}` is taken by `{other}`", payload.seat);
            problems.add(node.key("seat").place(), what, "expected a free seat");
        }
    }
    for (step, node) in plan.step.iter().zip(file.key("step").items()) {
        follow(plan, step, node, &mut now, problems);
    }
}

fn word(deed: Deed) -> &'static str {
    match deed {
        Deed::Ingress => "ingress",
        Deed::Egress => "egress",
        Deed::Transit => "transit",
        Deed::Work => "work",
        Deed::Take => "take",
        Deed::Place => "place",
        Deed::MoveBase => "move-base",
    }
}

/// Keys that a deed needs, and keys that it may have besides.
fn keys_of(deed: Deed) -> (&'static [&'static str], &'static [&'static str]) {
    match deed {
        Deed::Ingress => (&["to"], &["posture"]),
        Deed::Egress => (&[], &[]),
        Deed::Transit => (&["to"], &["posture", "waypoint", "at_most_min"]),
        Deed::Work => (&[], &["targets"]),
        Deed::Take => (&["payload"], &[]),
        Deed::Place => (&["payload", "seat"], &[]),
        Deed::MoveBase => (&["stand"], &["way", "posture", "at_most_min"]),
    }
}

/// Keys that not every deed has.
const KEYS: [&str; 9] = ["to", "stand", "way", "posture", "waypoint", "payload", "seat", "targets", "at_most_min"];

fn keys(step: &Step, node: Node<'_>, problems: &mut Problems) {
    let (needed, allowed) = keys_of(step.deed);
    let deed = word(step.deed);
    for key in KEYS {
        let value = node.key(key);
        if needed.contains(&key) && !value.exists() {
            problems.add(
                node.key("do").place(),
                format!("`{deed}` without `{key}`"),
                format!("expected the key `{key}`"),
            );
        }
        if value.exists() && !needed.contains(&key) && !allowed.contains(&key) {
            let theirs = [needed, allowed].concat().iter().map(|key| format!("`{key}`")).collect::<Vec<_>>().join(", ");
            let expected =
                if theirs.is_empty() { "expected no such key".to_owned() } else { format!("it has {theirs}") };
            problems.add(value.key_place(), format!("`{deed}` has no `{key}`"), expected);
        }
    }
    for (waypoint, node) in step.waypoint.iter().zip(node.key("waypoint").items()) {
        let what = match (&waypoint.joints, &waypoint.tip) {
            (None, None) => "the waypoint has neither joint values nor a tip pose",
            (Some(_), Some(_)) => "the waypoint has both joint values and a tip pose",
            _ => continue,
        };
        problems.add(node.place(), what, "expected one of `joints_deg_m` and `tip`");
    }
}

fn follow<'a>(plan: &'a Plan, step: &'a Step, node: Node<'a>, now: &mut Now<'a>, problems: &mut Problems) {
    let at = node.key("do");
    if let Some(held) = now.held {
        hands_full(step, node, held, problems);
    }
    let mut wrong = |node: Node<'_>, what: String, expected: &str| problems.add(node.place(), what, expected);
    let deed = word(step.deed);
    let second = step.who == Who::SecondCrew;
    if second && !matches!(step.deed, Deed::Ingress | Deed::Egress | Deed::Work) {
        return wrong(at, format!("the second crew cannot `{deed}`"), "expected `who = \"rider\"`");
    }
    let place = |id: &Option<String>| plan.worksite.iter().find(|worksite| Some(&worksite.id) == id.as_ref());
    let held = now.held;
    let stand = now.stand;
    let who = if second { &mut now.second_crew } else { &mut now.rider };
    if !who.in_restraint && !matches!(step.deed, Deed::Ingress | Deed::MoveBase) {
        wrong(at, format!("`{deed}` while nobody is in the restraint"), "expected an `ingress` before");
        *who = Crewmember { in_restraint: true, at: Whereabouts::Untold };
    }
    match step.deed {
        Deed::Ingress => {
            let worksite = place(&step.to);
            if who.in_restraint {
                wrong(at, "`ingress` while in the restraint already".to_owned(), "expected an `egress` before");
            }
            if let Some(worksite) = worksite {
                if second && worksite.second_crew.is_none() {
                    let expected = "expected a worksite with a `[worksite.second_crew]`";
                    wrong(node.key("to"), format!("the second crew has no place at `{}`", worksite.id), expected);
                }
                if !second {
                    now.stand = served(worksite, stand, node, &mut wrong);
                }
            }
            *who = Crewmember { in_restraint: true, at: Whereabouts::told(worksite) };
        }
        Deed::Egress => {
            if !second && let Some(held) = held {
                let what = format!("`egress` with `{}` in the hands", held.payload);
                wrong(at, what, "expected a `place` before");
            }
            *who = Crewmember::default();
        }
        Deed::Transit => {
            let worksite = place(&step.to);
            if let Some(worksite) = worksite {
                if matches!(who.at, Whereabouts::At(here) if here.id == worksite.id) {
                    wrong(
                        node.key("to"),
                        format!("the rider is at `{}` already", worksite.id),
                        "expected another worksite",
                    );
                }
                now.stand = served(worksite, stand, node, &mut wrong);
            }
            who.at = Whereabouts::told(worksite);
        }
        Deed::Work => work(step, node, who, &mut wrong),
        Deed::Take | Deed::Place => {
            if matches!(who.at, Whereabouts::OnTheWay) {
                wrong(at, format!("`{deed}` on the way"), "expected a `transit` to a worksite before");
            }
            handle(step, node, now, &mut wrong);
        }
        Deed::MoveBase => {
            if stand.is_none() {
                let expected = "expected a step before that names a worksite, which is served from a stand";
                wrong(at, "`move-base` from nowhere".to_owned(), expected);
            }
            if let Some(to) = &step.stand {
                if stand == Some(to.as_str()) {
                    wrong(node.key("stand"), format!("the base is at `{to}` already"), "expected another stand");
                }
                now.stand = Some(to);
            }
            who.at = Whereabouts::OnTheWay;
        }
    }
}

/// Tells what a step cannot do while both hands of the rider hold a payload.
fn hands_full(step: &Step, node: Node<'_>, held: Held<'_>, problems: &mut Problems) {
    let payload = held.payload;
    if step.who == Who::Rider && step.deed == Deed::Work {
        let line =
            problems.line(&held.taken.place()).map(|line| format!(", taken in line {line},")).unwrap_or_default();
        let what = format!("`work` with `{payload}`{line} in the hands");
        problems.add(node.key("do").place(), what, "expected a `place` before");
    }
    let posture = node.key("posture");
    if posture.exists() && matches!(step.deed, Deed::Transit | Deed::MoveBase) {
        let what = format!("a posture for a rider whose hands hold `{payload}`");
        problems.add(posture.key_place(), what, "expected no `posture`: the hands stay on its handles");
    }
}

/// The stand that a worksite is served from; told where the base is at another one.
fn served<'a>(
    worksite: &'a Worksite,
    stand: Option<&str>,
    node: Node<'_>,
    wrong: &mut impl FnMut(Node<'_>, String, &str),
) -> Option<&'a str> {
    if let Some(stand) = stand
        && stand != worksite.stand
    {
        let what = format!("`{}` is served from `{}`, and the base is at `{stand}`", worksite.id, worksite.stand);
        wrong(node.key("to"), what, "expected a `move-base` before");
    }
    Some(&worksite.stand)
}

fn work(step: &Step, node: Node<'_>, who: &Crewmember<'_>, wrong: &mut impl FnMut(Node<'_>, String, &str)) {
    let worksite = match who.at {
        Whereabouts::At(worksite) => worksite,
        Whereabouts::Untold => return,
        Whereabouts::OnTheWay => {
            let expected = "expected a `transit` to a worksite before";
            return wrong(node.key("do"), "`work` on the way".to_owned(), expected);
        }
    };
    for (id, node) in step.targets.iter().flatten().zip(node.key("targets").items()) {
        match worksite.target.iter().find(|target| target.id == *id) {
            None => {
                let expected = format!("expected a target of `{}`", worksite.id);
                wrong(node, format!("`{id}` is no target of the worksite"), &expected);
            }
            Some(target) if target.who != step.who => {
                wrong(node, format!("`{id}` belongs to the other crewmember"), "expected a target of one's own");
            }
            Some(_) => {}
        }
    }
}

fn handle<'a>(step: &'a Step, node: Node<'a>, now: &mut Now<'a>, wrong: &mut impl FnMut(Node<'_>, String, &str)) {
    let Some(payload) = step.payload.as_deref() else { return };
    if step.deed == Deed::Take {
        if let Some(held) = now.held {
            let what = format!("`take` with `{}` in the hands", held.payload);
            wrong(node.key("payload"), what, "expected a `place` before");
        }
        now.in_seat.retain(|_, there| *there != payload);
        now.held = Some(Held { payload, taken: node });
        return;
    }
    if now.held.is_none_or(|held| held.payload != payload) {
        wrong(node.key("payload"), format!("`{payload}` is not in the hands"), "expected a `take` before");
    }
    now.held = None;
    let Some(seat) = step.seat.as_deref() else { return };
    if let Some(other) = now.in_seat.insert(seat, payload)
        && other != payload
    {
        wrong(node.key("seat"), format!("`{seat}` is taken by `{other}`"), "expected a free seat");
    }
}
