//! How near do arm, crew and payload come to anything on the way, and at work?
//!
//! # Question
//! For each pair of classes: what is the least distance over a whole motion, over a change of posture, or at rest, and
//! between which bodies?
//! # Law
//! See [`crate::motion::ClearanceSearch`]: a bracket over all configurations between the waypoints, not a sample. The
//! worst case takes the plan's tolerances off; it decides the status.
//! # Source
//! Bounds: Schwarzer, Saha, Latombe 2005, and Taylor's theorem. Limits: the plan's, else common practice, no source.
//! # Limits
//! Pairs above the plan's cap, or above the greatest limit where that is more, are not measured. Neighbours in a mechanism, and hands on what they hold, may touch;
//! declared contacts, and glove and tool on what they work on, are held to a greatest overlap. Bodies that stand still
//! against each other on a motion are measured at rest, if one of them is a crewmember's, the arm's, or a payload just
//! placed.
//! # Findings
//! One a motion, change of posture or moment at rest, and group (pair of classes under one limit): for the governing pair
//! where all keep the limit, else for every pair of bodies that breaks it. One, "> cap", for a group of which no pair came
//! near enough to be measured; one for every body inside a solid; one, not checked, where there is no way to be bounded.

use crate::mechanism::{BodyId, Mechanism, Posed, point_jacobian};
use crate::model::{AtLeast, Bound, ClassPair, Who};
use crate::motion::{Bracket, Clearance, Entry, Group, Segment};
use crate::space::{Point, Vector};
use crate::state::Scene;

use super::case::{Change, MoveCase, StayCase};
use super::finding::{Finding, Kind, Moment, Pair, Place, Unit, Value, pair_subject};
use super::grouping::{GroupKey, cap};
use super::judge::{Measure, key};
use super::piece::Piece;
use super::rest::RestCase;
use super::stance::StanceCase;

pub const NAME: &str = "clearance";

/// Findings of a motion, of changes of posture, or of a moment at rest.
pub fn findings(scene: &Scene, piece: Piece) -> Vec<Finding> {
    match piece {
        Piece::Move(moved) => of_move(scene, moved),
        Piece::Stay(stay) => of_stay(scene, stay),
        Piece::Stance(stance) => of_stance(scene, stance),
        Piece::Rest(rest) => of_rest(scene, rest),
    }
}

fn of_move(scene: &Scene, moved: &MoveCase) -> Vec<Finding> {
    let place = Place::Motion { motion: moved.moved.id.clone() };
    if let (true, Some(_)) = (moved.moved.segments.is_empty(), &moved.moved.fault) {
        let key = key(NAME, place, None, "all pairs");
        return vec![Finding::not_checked(key, Unit::Metre, "the motion has no way")];
    }
    let told = Told::of_move(scene, moved);
    let mut findings = told.findings(&moved.clearance, NAME, |entry| (entry.worst, entry.rule.limit));
    findings.extend(moved.swallowed.iter().map(|pair| told.swallowed(*pair)));
    findings
}

fn of_stay(scene: &Scene, stay: &StayCase) -> Vec<Finding> {
    let place = Place::Worksite { worksite: stay.stay.worksite.clone(), step: stay.stay.step.clone() };
    let way =
        |change: &Result<Change, String>| change.as_ref().ok().and_then(|change| change.detour).unwrap_or_default();
    let uses = stay.uses.iter().map(|used| (&used.change, format!(", to {}{}", used.subject, way(&used.change))));
    let changes = uses.chain(stay.back.iter().map(|back| (back, format!(", back to rest{}", way(back)))));
    changes.flat_map(|(change, suffix)| of_change(scene, change, (&place, stay.stay.who, &suffix))).collect()
}

fn of_stance(scene: &Scene, stance: &StanceCase) -> Vec<Finding> {
    let told = (&stance.place(), stance.stance.who, format!(", to {}", stance.stance.subject));
    let findings = |change| of_change(scene, change, (told.0, told.1, &told.2));
    stance.change.as_ref().map(findings).unwrap_or_default()
}

fn of_change(
    scene: &Scene,
    change: &Result<Change, String>,
    (place, who, suffix): (&Place, Who, &str),
) -> Vec<Finding> {
    let Change { mechanism, segments, clearance, swallowed, .. } = match change {
        Ok(change) => change,
        Err(reason) => {
            let key = key(NAME, place.clone(), Some(who), format!("change of posture{suffix}"));
            return vec![Finding::not_checked(key, Unit::Metre, reason.clone())];
        }
    };
    let place = place.clone();
    let told = Told { scene, place, who: Some(who), suffix, mechanism, segments, seconds: Box::new(|_, _| None) };
    let mut findings = told.findings(clearance, NAME, |entry| (entry.worst, entry.rule.limit));
    findings.extend(swallowed.iter().map(|pair| told.swallowed(*pair)));
    findings
}

fn of_rest(scene: &Scene, rest: &RestCase) -> Vec<Finding> {
    let told = Told {
        scene,
        place: rest.place(),
        who: Some(rest.rest.who),
        suffix: &rest.suffix(scene),
        mechanism: &rest.mechanism,
        segments: &rest.segments,
        seconds: Box::new(|_, _| None),
    };
    let mut findings = told.findings(&rest.clearance, NAME, |entry| (entry.worst, entry.rule.limit));
    findings.extend(rest.swallowed.iter().map(|pair| told.swallowed(*pair)));
    for at in findings.iter_mut().filter_map(|finding| finding.at.as_mut()) {
        *at = Moment { segment: None, segments: None, fraction: 0.0, ..at.clone() };
    }
    findings
}

/// Turns a search's result into findings.
pub(super) struct Told<'a> {
    pub scene: &'a Scene<'a>,
    pub place: Place,
    pub who: Option<Who>,
    /// Said after the pair in each subject.
    pub suffix: &'a str,
    pub mechanism: &'a Mechanism,
    pub segments: &'a [Segment],
    pub seconds: Box<dyn Fn(usize, f64) -> Option<f64> + 'a>,
}

impl<'a> Told<'a> {
    /// What is told of a motion.
    pub fn of_move(scene: &'a Scene<'a>, moved: &'a MoveCase) -> Self {
        Self {
            scene,
            place: Place::Motion { motion: moved.moved.id.clone() },
            who: None,
            suffix: "",
            mechanism: &moved.frozen,
            segments: &moved.moved.segments,
            seconds: Box::new(|segment, fraction| moved.seconds_at(segment, fraction)),
        }
    }

    /// Findings of each group; `judged` picks the bracket and limit that decide.
    pub fn findings(
        &self,
        clearance: &Clearance,
        check: &'static str,
        judged: impl Fn(&Entry) -> (Bracket, f64),
    ) -> Vec<Finding> {
        let mut findings = Vec::new();
        for group in clearance.groups() {
            let key_of = GroupKey::of(self.scene, group);
            let of_group: Vec<&Entry> = clearance.entries.iter().filter(|entry| entry.group == group).collect();
            let breaks = |entry: &Entry| judged(entry).0.bound.lower < judged(entry).1;
            let breaking: Vec<&Entry> = of_group.iter().copied().filter(|entry| breaks(entry)).collect();
            if breaking.is_empty() {
                findings.extend(self.governing(check, &key_of, &of_group, (&judged, clearance.budget_spent)));
            }
            for entry in breaking {
                let (bracket, _) = judged(entry);
                findings.push(self.of_entry(
                    check,
                    &key_of,
                    entry,
                    (entry.nominal.bound, bracket),
                    clearance.budget_spent,
                ));
            }
        }
        if check == NAME {
            findings.extend(clearance.above_cap.iter().map(|group| self.above_cap(*group)));
        }
        findings
    }

    /// The finding of a group that keeps its limit: the pair that was seen nearest, with the bracket of all its pairs.
    fn governing(
        &self,
        check: &'static str,
        group: &GroupKey,
        entries: &[&Entry],
        (judged, spent): (&impl Fn(&Entry) -> (Bracket, f64), bool),
    ) -> Option<Finding> {
        let seen = entries.iter().min_by(|a, b| judged(a).0.bound.upper.total_cmp(&judged(b).0.bound.upper))?;
        let least = |end: &dyn Fn(&Entry) -> f64| entries.iter().map(|entry| end(entry)).fold(f64::INFINITY, f64::min);
        let nominal = Bound { lower: least(&|entry| entry.nominal.bound.lower), ..seen.nominal.bound };
        let (bracket, _) = judged(seen);
        let bound = Bound { lower: least(&|entry| judged(entry).0.bound.lower), ..bracket.bound };
        let mut finding = self.of_entry(check, group, seen, (nominal, Bracket { bound, ..bracket }), spent);
        // Which pair governs may change from run to run; what the finding is about does not.
        finding.key.subject = format!("{}{}{}", group.classes, group.situation.words(), self.suffix);
        if nominal.upper.is_infinite() {
            // Balls about the bodies told it from the limit already; nothing was measured.
            finding.value = Value::Above(bound.lower);
        }
        Some(finding)
    }

    /// A body inside a solid.
    fn swallowed(&self, [solid, inside]: [BodyId; 2]) -> Finding {
        let [solid, inside] = [solid, inside].map(|id| self.mechanism.body(id));
        let classes = ClassPair::new(solid.class, inside.class);
        let subject = format!("{} inside {}{}", inside.name, solid.name, self.suffix);
        let measure = Measure::of(&AtLeast::new(0.0), Unit::Metre);
        let key = key(NAME, self.place.clone(), self.who, subject);
        let finding =
            Finding::failed(key, &measure, Kind::Nominal, "it lies inside the solid from the start".to_owned());
        Finding {
            pair: Some(Pair { classes, bodies: Some([inside.name.clone(), solid.name.clone()]), situation: None }),
            ..finding
        }
    }

    fn above_cap(&self, group: Group) -> Finding {
        let group = GroupKey::of(self.scene, group);
        let cap = cap(&self.scene.project.plan);
        let measure = Measure::of(&group.limit, Unit::Metre);
        let subject = format!("{}{}{}", group.classes, group.situation.words(), self.suffix);
        let key = key(NAME, self.place.clone(), self.who, subject);
        let finding =
            Finding::new(key, Value::Above(cap), &measure, Some(measure.bar.margin(cap)), super::finding::Status::Ok);
        Finding {
            pair: Some(Pair { classes: group.classes, bodies: None, situation: Some(group.situation) }),
            ..finding
        }
    }

    fn of_entry(
        &self,
        check: &'static str,
        group: &GroupKey,
        entry: &Entry,
        (nominal, judged): (Bound, Bracket),
        spent: bool,
    ) -> Finding {
        let [a, b] = entry.bodies.map(|body| self.mechanism.body(body).name.clone());
        let limit = if check == NAME { &group.limit } else { &group.stopping_limit };
        let measure = Measure::of(limit, Unit::Metre);
        let margin = measure.bar.margin(judged.bound.lower);
        let kind = if nominal.upper < limit.value {
            Kind::Nominal
        } else if judged.bound.upper < limit.value {
            Kind::WithTolerances
        } else {
            Kind::NotTold
        };
        let status = super::finding::Status::of_margin(margin, measure.band, kind);
        let subject = format!("{}{}{}", pair_subject(&a, &b), group.situation.words(), self.suffix);
        let key = key(check, self.place.clone(), self.who, subject);
        let value = Value::Bounded { nominal, worst: judged.bound.lower };
        let mut finding = Finding::new(key, value, &measure, Some(margin), status);
        finding.pair = Some(Pair { classes: group.classes, bodies: Some([a, b]), situation: Some(group.situation) });
        // The moment is the one at which the printed upper end was seen.
        let seen = if check == NAME { entry.nominal.seen } else { judged.seen };
        if let Some(seen) = seen {
            let joints = self.segments[seen.segment].at(seen.fraction);
            finding.help = self.help(entry, &joints, seen.points);
            finding.at = Some(Moment {
                segment: Some(seen.segment),
                segments: Some(self.segments.len()),
                fraction: seen.fraction,
                seconds: (self.seconds)(seen.segment, seen.fraction),
                joints,
                points: Some(seen.points),
            });
        }
        if spent {
            finding.note = Some("the budget of intervals was spent".to_owned());
        }
        finding
    }

    /// The direction in which the first body must go, and, where the arm moves, which joint opens the gap most: nobody
    /// steers a joint of the body.
    fn help(&self, entry: &Entry, joints: &[f64], points: [Point; 2]) -> Option<String> {
        // Of two bodies that overlap, the nearest points lie each inside the other.
        let apart = if entry.nominal.bound.upper < 0.0 { points[1] - points[0] } else { points[0] - points[1] };
        let away = apart.try_normalize(1e-9)?;
        let name = &self.mechanism.body(entry.bodies[0]).name;
        let direction = format!("{name} towards ({:+.2}, {:+.2}, {:+.2})", away.x, away.y, away.z);
        if self.who.is_some() {
            return Some(format!("{direction}; another detent, hand or direction of the tool, or the plate elsewhere"));
        }
        let posed = self.mechanism.pose(joints);
        let gradient = gap_gradient(self.mechanism, &posed, entry.bodies, points, &away);
        let (variable, slope) =
            gradient.into_iter().enumerate().max_by(|(_, a), (_, b)| a.abs().total_cmp(&b.abs()))?;
        if slope.abs() < 1e-6 {
            return Some(direction);
        }
        let link = self.mechanism.link(self.mechanism.link_of_variable(variable));
        let sense = if slope > 0.0 { "more positive" } else { "more negative" };
        Some(format!("{direction}; most of all {} {sense}", link.name))
    }
}

/// Derivative of the pair's distance by each variable (m/rad or m/m): nearest points held on their bodies.
fn gap_gradient(
    mechanism: &Mechanism,
    posed: &Posed,
    bodies: [BodyId; 2],
    points: [Point; 2],
    away: &Vector,
) -> Vec<f64> {
    let [first, second] = [0, 1].map(|k| {
        let link = mechanism.body(bodies[k]).link;
        point_jacobian(mechanism, posed, link, &points[k])
    });
    (0..mechanism.variable_count())
        .map(|variable| {
            let column = |jacobian: &crate::mechanism::Jacobian| jacobian.fixed_view::<3, 1>(0, variable).dot(away);
            column(&first) - column(&second)
        })
        .collect()
}
