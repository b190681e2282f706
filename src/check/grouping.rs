//! Against which limit is a pair of bodies measured, and with which others does it share a result?
//!
//! A group is a pair of classes in one situation, under one limit. Pairs that are carried as one rigid piece keep their
//! distance, so the at-work limit holds for them all along.

use std::collections::BTreeSet;

use crate::mechanism::{BodyId, LinkId, Mechanism};
use crate::model::{AtLeast, AtMost, BodyClass, ClassPair, Contact, Limits, Plan, Regime};
use crate::motion::{Clearance, Group, Rule};
use crate::state::{Assembly, Move, Scene, Touch, touch};

/// What the pairs of a group have in common.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupKey {
    pub classes: ClassPair,
    pub situation: Situation,
    pub limit: AtLeast,
    pub stopping_limit: AtLeast,
}

/// Why a limit holds for a pair.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Situation {
    /// Away from worksites.
    Moving,
    /// At a worksite, or within the plan's distance of it on an approach or retreat.
    NearWorksite,
    /// Both hang on the same moving link.
    OnePiece,
    /// A declared contact, by its number in the plan.
    Contact(usize),
    /// Glove or tool on what they work on.
    OnTarget,
}

impl Situation {
    /// Situations before the plan's contacts, as groups are numbered.
    const FIXED: [Self; 4] = [Self::Moving, Self::NearWorksite, Self::OnePiece, Self::OnTarget];

    const fn slot(self) -> usize {
        match self {
            Self::Moving => 0,
            Self::NearWorksite => 1,
            Self::OnePiece => 2,
            Self::OnTarget => 3,
            Self::Contact(number) => Self::FIXED.len() + number,
        }
    }

    const fn of_slot(slot: usize) -> Self {
        if slot < Self::FIXED.len() { Self::FIXED[slot] } else { Self::Contact(slot - Self::FIXED.len()) }
    }

    /// The regimes whose limits hold, for the clearance and for stopping; none where an overlap is stated instead.
    const fn regimes(self) -> Option<[Regime; 2]> {
        match self {
            Self::Moving => Some([Regime::Moving, Regime::Stopping]),
            Self::NearWorksite => Some([Regime::AtWork, Regime::Stopping]),
            Self::OnePiece => Some([Regime::AtWork, Regime::AtWork]),
            Self::Contact(_) | Self::OnTarget => None,
        }
    }

    /// What tells the group from others of the same classes, for reports.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Moving => "",
            Self::NearWorksite => " (near or at work)",
            Self::OnePiece => " (carried as one piece)",
            Self::Contact(_) => " (contact)",
            Self::OnTarget => " (at work on it)",
        }
    }
}

impl GroupKey {
    /// What a group's number stands for.
    pub fn of(scene: &Scene, group: Group) -> Self {
        let plan = &scene.project.plan;
        let slots = Situation::FIXED.len() + plan.contact.len();
        let classes = ClassPair::all().nth(group.0 / slots).expect("a group's number names a pair of classes");
        let situation = Situation::of_slot(group.0 % slots);
        let [limit, stopping_limit] = match situation.regimes() {
            Some(regimes) => regimes.map(|regime| {
                let limit = clearance_limit(&plan.limits, regime, classes);
                // What is held together stays as near as it is: only an overlap is worth a word.
                let held = situation == Situation::OnePiece;
                AtLeast { tight: limit.tight.or(held.then_some(0.0)), ..limit }
            }),
            None => {
                let limit = overlap_limit(plan, situation);
                [limit.clone(), limit]
            }
        };
        Self { classes, situation, limit, stopping_limit }
    }
}

/// The limit of a situation for which a plan states the greatest overlap.
fn overlap_limit(plan: &Plan, situation: Situation) -> AtLeast {
    let (overlap, tight, source) = match situation {
        Situation::Contact(number) => (plan.contact[number].overlap_m, None, &plan.contact[number].source),
        Situation::Moving | Situation::NearWorksite | Situation::OnePiece | Situation::OnTarget => {
            let AtMost { value, tight, source } = &plan.limits.overlap_on_target_m;
            (*value, *tight, source)
        }
    };
    // What may not overlap may still touch: not even the tight band applies to it.
    AtLeast { value: -overlap, tight: tight.or(Some(0.0)), source: source.clone() }
}

/// The default of a clearance limit that the plan does not state.
fn default_limit(regime: Regime) -> AtLeast {
    match regime {
        Regime::Moving => AtLeast::default_of(0.61, "default; common practice, no source"),
        Regime::AtWork | Regime::Stopping => AtLeast::default_of(0.0, "default: no overlap"),
    }
}

/// The clearance limit of a pair of classes in a regime. The segments of one body come near each other by nature: for
/// them only a limit of their own counts, never the plan's default.
pub fn clearance_limit(limits: &Limits, regime: Regime, pair: ClassPair) -> AtLeast {
    let stated = match regime {
        Regime::Moving => &limits.moving,
        Regime::AtWork => &limits.at_work,
        Regime::Stopping => &limits.stopping,
    };
    let (first, second) = pair.classes();
    if first == second && matches!(first, BodyClass::Rider | BodyClass::SecondCrew) {
        let own = stated.clearance_m.iter().find(|(key, _)| ClassPair::from_key(key) == Some(pair));
        let no_overlap = || AtLeast { tight: Some(0.0), ..AtLeast::default_of(0.0, "default: no overlap") };
        return own.map_or_else(no_overlap, |(_, limit)| limit.clone());
    }
    stated.stated(pair).cloned().unwrap_or_else(|| default_limit(regime))
}

/// Pairs farther apart than this need not be measured, m: the plan's cap, and no less than any limit.
pub fn cap(plan: &Plan) -> f64 {
    plan.cap_m.max(greatest_limit(plan))
}

/// The greatest limit of clearance of any pair in any regime, m.
pub fn greatest_limit(plan: &Plan) -> f64 {
    let regimes = [Regime::Moving, Regime::AtWork, Regime::Stopping];
    let limits = regimes.into_iter().flat_map(|regime| ClassPair::all().map(move |pair| (regime, pair)));
    limits.map(|(regime, pair)| clearance_limit(&plan.limits, regime, pair).value).fold(0.0, f64::max)
}

/// The rules of a search: which pairs are measured, and against what.
pub struct PairRules<'a> {
    assembly: &'a Assembly,
    contacts: &'a [Contact],
    steps: Vec<&'a str>,
    near_worksite: f64,
    cap: f64,
    /// Of each segment, the greatest distance from the worksite, m.
    distances: &'a [f64],
    /// The innermost link that still moves, of each body.
    carried_by: Vec<LinkId>,
    /// Limits by pair of classes and regime.
    limits: Vec<[f64; 3]>,
    /// Greatest overlap of glove and tool with what they work on, m.
    on_target: f64,
}

impl<'a> PairRules<'a> {
    /// For a motion of the arm, its base or the restraint; `frozen` is the mechanism in which only that still moves.
    pub fn of_move(scene: &'a Scene, moved: &'a Move, assembly: &'a Assembly, frozen: &Mechanism) -> Self {
        let steps = moved.contact_steps.iter().map(String::as_str).collect();
        Self::new(scene, (assembly, frozen), steps, &moved.distances)
    }

    /// For changes of posture; `distances` is zero for each segment at a worksite.
    pub fn of_change(
        scene: &'a Scene,
        (assembly, frozen): (&'a Assembly, &Mechanism),
        contact_steps: &[&'a str],
        distances: &'a [f64],
    ) -> Self {
        Self::new(scene, (assembly, frozen), contact_steps.to_vec(), distances)
    }

    /// For a moment at which everything stands still in a step, bodies on their own links. What no joint carries counts
    /// as carried by the machine that it belongs to.
    pub fn at_rest(scene: &'a Scene, (assembly, frozen): (&'a Assembly, &Mechanism), step: &'a str) -> Self {
        let mut rules = Self::new(scene, (assembly, frozen), vec![step], &[0.0]);
        for (carried_by, body) in rules.carried_by.iter_mut().zip(frozen.bodies()) {
            if *carried_by == LinkId::STRUCTURE {
                *carried_by = frozen.path_inwards(body.link).last().unwrap_or(LinkId::STRUCTURE);
            }
        }
        rules
    }

    fn new(
        scene: &'a Scene,
        (assembly, frozen): (&'a Assembly, &Mechanism),
        steps: Vec<&'a str>,
        distances: &'a [f64],
    ) -> Self {
        let plan = &scene.project.plan;
        let moves = |at: &LinkId| frozen.link(*at).joint.variable.is_some();
        let carried_by = frozen
            .bodies()
            .iter()
            .map(|body| frozen.path_inwards(body.link).find(moves).unwrap_or(LinkId::STRUCTURE))
            .collect();
        let limits = ClassPair::all()
            .map(|pair| {
                [Regime::Moving, Regime::AtWork, Regime::Stopping]
                    .map(|regime| clearance_limit(&plan.limits, regime, pair).value)
            })
            .collect();
        Self {
            assembly,
            contacts: &plan.contact,
            steps,
            near_worksite: plan.near_worksite_m,
            cap: cap(plan),
            distances,
            carried_by,
            limits,
            on_target: plan.limits.overlap_on_target_m.value,
        }
    }

    /// Pairs farther apart than this need not be measured, m.
    pub fn cap(&self) -> f64 {
        self.cap
    }

    /// No limit is greater than the first, no stopping limit greater than the second, m; nor are these below zero.
    pub fn greatest(&self) -> [f64; 2] {
        let greatest = |regime: Regime| {
            let of_regime =
                self.limits.iter().map(|limits| limits[regime as usize].max(limits[Regime::AtWork as usize]));
            of_regime.fold(0.0, f64::max)
        };
        [greatest(Regime::Moving), greatest(Regime::Stopping)]
    }

    /// Adds the groups of which no pair came near enough to be looked at: something that moves and that is `asked` about,
    /// and something that stands. Pairs of what moves are all looked at.
    pub fn add_far_groups(&self, frozen: &Mechanism, asked: impl Fn(BodyId) -> bool, clearance: &mut Clearance) {
        let class = |body: BodyId| self.assembly.body(body).class;
        let stands = |body: &BodyId| frozen.body(*body).link == LinkId::STRUCTURE;
        let (standing, moving): (Vec<BodyId>, Vec<BodyId>) = frozen.body_ids().partition(stands);
        let standing: BTreeSet<BodyClass> = standing.into_iter().map(class).collect();
        let carried = |body: BodyId| (class(body), self.carried_by[body.0] == LinkId::STRUCTURE);
        let moving: BTreeSet<(BodyClass, bool)> = moving.into_iter().filter(|body| asked(*body)).map(carried).collect();
        let slots = Situation::FIXED.len() + self.contacts.len();
        let mut known: BTreeSet<Group> = clearance.entries.iter().map(|entry| entry.group).collect();
        known.extend(&clearance.above_cap);
        for near in self.distances.iter().map(|distance| *distance <= self.near_worksite) {
            for (class, one_piece) in &moving {
                let situation = match (one_piece, near) {
                    (true, _) => Situation::OnePiece,
                    (false, true) => Situation::NearWorksite,
                    (false, false) => Situation::Moving,
                };
                let group = |other| Group(pair_number(ClassPair::new(*class, other)) * slots + situation.slot());
                let far = standing.iter().map(|other| group(*other)).filter(|group| known.insert(*group));
                clearance.above_cap.extend(far.collect::<Vec<_>>());
            }
        }
        clearance.above_cap.sort();
    }

    /// Whether two segments have the same rules: all that tells them apart is which distances they are within.
    pub fn same(&self, one: usize, other: usize) -> bool {
        let [one, other] = [one, other].map(|segment| self.distances[segment]);
        let near = |distance: f64| distance <= self.near_worksite;
        near(one) == near(other) && self.contacts.iter().all(|contact| holds(contact, one) == holds(contact, other))
    }

    /// The rule of two bodies on a segment; none where they may touch without being measured.
    pub fn rule(&self, segment: usize, a: BodyId, b: BodyId) -> Option<Rule> {
        let classes = ClassPair::new(self.assembly.body(a).class, self.assembly.body(b).class);
        let pair = pair_number(classes);
        let distance = self.distances[segment];
        let one_piece = self.carried_by[a.0] == self.carried_by[b.0];
        let situation = match touch(self.assembly, (a, b), self.contacts, &self.steps) {
            Some(Touch::Neighbours(_) | Touch::InHand(_)) => return None,
            Some(Touch::Declared(contact)) if holds(contact, distance) => {
                let number = self.contacts.iter().position(|known| std::ptr::eq(known, contact));
                Situation::Contact(number.expect("a declared contact is one of the plan's"))
            }
            Some(Touch::OnTarget) => Situation::OnTarget,
            Some(Touch::Declared(_)) | None if one_piece => Situation::OnePiece,
            Some(Touch::Declared(_)) | None if distance <= self.near_worksite => Situation::NearWorksite,
            Some(Touch::Declared(_)) | None => Situation::Moving,
        };
        let [limit, stopping_limit] = match (situation, situation.regimes()) {
            (_, Some(regimes)) => regimes.map(|regime| self.limits[pair][regime as usize]),
            (Situation::Contact(number), None) => [-self.contacts[number].overlap_m; 2],
            (_, None) => [-self.on_target; 2],
        };
        let slots = Situation::FIXED.len() + self.contacts.len();
        Some(Rule { group: Group(pair * slots + situation.slot()), limit, stopping_limit })
    }
}

/// Whether a contact's own limit holds at a distance from the worksite, m.
fn holds(contact: &Contact, distance: f64) -> bool {
    distance <= contact.within_m || distance == 0.0
}

fn pair_number(pair: ClassPair) -> usize {
    let (first, second) = pair.classes();
    let (first, second) = (first as usize, second as usize);
    // Pairs are listed row by row of the upper triangle.
    first * BodyClass::ALL.len() - first * (first + 1) / 2 + second
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_situation_has_the_slot_that_names_it() {
        assert!((0..Situation::FIXED.len() + 3).all(|slot| Situation::of_slot(slot).slot() == slot));
    }

    #[test]
    fn pairs_are_numbered_as_they_are_listed() {
        assert!(ClassPair::all().enumerate().all(|(number, pair)| pair_number(pair) == number));
    }

    #[test]
    fn a_default_of_the_plan_does_not_reach_the_segments_of_one_body() {
        let mut limits = Limits::default();
        limits.moving.clearance_m.insert("default".to_owned(), AtLeast::new(0.3));
        let of = |a, b| clearance_limit(&limits, Regime::Moving, ClassPair::new(a, b)).value;
        assert_eq!(of(BodyClass::Rider, BodyClass::Rider), 0.0);
        assert_eq!(of(BodyClass::Arm, BodyClass::Arm), 0.3);
        assert_eq!(of(BodyClass::Rider, BodyClass::Structure), 0.3);
    }
}
