//! How does a body get from one posture to another without letting go?
//!
//! # Law
//! A chain of postures; between two neighbours every joint moves in a straight line. The tree holds the left boot; the
//! right boot, and a hand that holds something, must stay where they are held: between two postures they stray by at most
//! the greater of the two ends' own strays, as rounded, plus ½A (A: bound of the acceleration in σ,
//! [`crate::mechanism::BodyMotion`]), because a point's way departs from its chord by no more. Where that is more than
//! [`STRAY`], the middle of the two is closed again and added, until it is not.
//!
//! While the chain strays, the limbs in truth stay closed, and their middle joints are somewhere else than the tree has
//! them: their bodies are to be grown by that ([`super::closing`]).

use crate::mechanism::{BodyId, BodyMotion, Extent, LinkId, Posed, common_link};
use crate::space::{Point, Vector};

use super::body::BodyLinks;
use super::closing::Limb;
use super::crewmember::Crewmember;
use super::descent::descend;
use super::posture::SOLVED;
use super::rows::{N, Row};
use super::side::Side;

/// What is held strays by no more than this between two postures, m.
pub const STRAY: f64 = 1e-3;
/// Most postures of a chain.
const MOST_POSTURES: usize = 4096;

/// A hand that holds something while the posture changes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    pub side: Side,
    /// The link whose origin the grip's centre must stay at: fixed on the plate, or on what the other hand holds.
    pub place: LinkId,
}

/// A chain of postures.
#[derive(Clone, Debug, PartialEq)]
pub struct PostureChange {
    /// From the first to the last, rad, rounded as they are printed; two where the straight way will do.
    pub postures: Vec<[f64; N]>,
    /// Nothing that is held strays by more than this on the way, m.
    pub stray: f64,
    /// By how much bodies of closing limbs are to be grown on the way, m.
    pub growth: Vec<(BodyId, f64)>,
}

/// Why there is no chain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoChange {
    /// One of the two ends doesn't hold what is to be held: it is off by so many m.
    End { stray: f64 },
    /// Somewhere between them no posture was found that holds it.
    NotClosed,
    /// More postures would be needed than are allowed.
    TooMany,
}

impl Crewmember<'_> {
    /// A chain of postures from one to another, both boots on the plate and `held` hands where they hold.
    pub fn change(&self, from: &[f64; N], to: &[f64; N], held: &[Held]) -> Result<PostureChange, NoChange> {
        for end in [from, to] {
            let stray = self.stray_at(&self.mechanism.pose(end), held);
            if stray > 0.5 * STRAY {
                return Err(NoChange::End { stray });
            }
        }
        let mut postures = vec![*from];
        let mut ahead = vec![*to];
        let (mut stray, mut growth) = (0.0_f64, Vec::new());
        while let Some(next) = ahead.last() {
            let last = postures.last().expect("the first posture");
            let way = self.way(last, next, held);
            if way.stray <= STRAY {
                stray = stray.max(way.stray);
                keep_greater(&mut growth, way.growth);
                postures.extend(ahead.pop());
                continue;
            }
            if postures.len() + ahead.len() >= MOST_POSTURES {
                return Err(NoChange::TooMany);
            }
            let middle = self.closed_between(last, next, held).ok_or(NoChange::NotClosed)?;
            ahead.push(middle);
        }
        Ok(PostureChange { postures, stray, growth })
    }

    /// The straight way between two postures: what strays on it, and what grows.
    fn way(&self, from: &[f64; N], to: &[f64; N], held: &[Held]) -> Way {
        let middle: [f64; N] = std::array::from_fn(|k| 0.5 * (from[k] + to[k]));
        let delta: [f64; N] = std::array::from_fn(|k| 0.5 * (to[k] - from[k]));
        let poses = [from, &middle, to].map(|q| self.mechanism.pose(q));
        let [start, midway, end] = &poses;
        let links = self.links;

        let boot = (links.right_boot, links.right_boot_place);
        let boot_bend = self.bend(boot, &self.boot_extent(), midway, &delta);
        let boot_stray = self.boot_stray(start).max(self.boot_stray(end)) + boot_bend;
        let turn =
            self.boot_turn(start).max(self.boot_turn(end)) + turn_bend(self.path_steps(links.right_boot, &delta));
        let knee = poses.iter().map(|posed| right_leg(links, posed).middle_stray(boot_stray, turn)).fold(0.0, f64::max);
        let mut way = Way { stray: boot_stray, growth: Vec::new() };
        way.grow(self, "right-thigh", knee);
        way.grow(self, "right-shank", knee + boot_stray);
        way.grow(self, "right-boot", boot_stray);

        for hand in held {
            let pair = (*links.grip.on(hand.side), hand.place);
            let point = Extent { points: vec![Point::origin()], radius: 0.0 };
            let bend = self.bend(pair, &point, midway, &delta);
            let stray = hand_stray(links, hand, start).max(hand_stray(links, hand, end)) + bend;
            let elbow =
                poses.iter().map(|posed| arm(links, hand.side, posed).middle_stray(stray, 0.0)).fold(0.0, f64::max);
            way.stray = way.stray.max(stray);
            let side = hand.side.word();
            way.grow(self, &format!("{side}-upper-arm"), elbow);
            way.grow(self, &format!("{side}-forearm"), elbow + stray);
            way.grow(self, &format!("{side}-hand"), stray);
        }
        way
    }

    /// ½A of what is held and of where it is held, seen from the link that both hang on.
    fn bend(&self, (a, b): (LinkId, LinkId), extent: &Extent, midway: &Posed, delta: &[f64; N]) -> f64 {
        let inner = common_link(self.mechanism, a, b);
        let of = |link: LinkId, extent: &Extent| {
            BodyMotion::of(self.mechanism, midway, (link, inner), extent, (delta, &[])).acceleration
        };
        0.5 * (of(a, extent) + of(b, extent))
    }

    /// Half steps of the joints that a link hangs on.
    fn path_steps(&self, link: LinkId, delta: &[f64; N]) -> Vec<f64> {
        let joints = self.mechanism.path_inwards(link).filter_map(|link| self.mechanism.link(link).joint.variable);
        joints.map(|variable| delta[variable].abs()).collect()
    }

    /// The ankle and all that is as far from it as any point of the boot.
    fn boot_extent(&self) -> Extent {
        Extent { points: vec![Point::origin()], radius: self.boot_reach }
    }

    fn stray_at(&self, posed: &Posed, held: &[Held]) -> f64 {
        held.iter().map(|hand| hand_stray(self.links, hand, posed)).fold(self.boot_stray(posed), f64::max)
    }

    /// No point of the right boot is farther from its place, m.
    fn boot_stray(&self, posed: &Posed) -> f64 {
        let (boot, place) = (posed.link(self.links.right_boot), posed.link(self.links.right_boot_place));
        (boot.translation.vector - place.translation.vector).norm() + self.boot_turn(posed) * self.boot_reach
    }

    fn boot_turn(&self, posed: &Posed) -> f64 {
        let (boot, place) = (posed.link(self.links.right_boot), posed.link(self.links.right_boot_place));
        boot.rotation.angle_to(&place.rotation)
    }

    /// The middle of two postures, closed and rounded; none where that can't be done.
    fn closed_between(&self, from: &[f64; N], to: &[f64; N], held: &[Held]) -> Option<[f64; N]> {
        let middle: [f64; N] = std::array::from_fn(|k| 0.5 * (from[k] + to[k]));
        let mut posed = self.mechanism.workspace();
        let rows = |q: &[f64; N], rows: &mut Vec<Row>| {
            self.mechanism.pose_into(q, &mut posed);
            self.boot_rows(&posed, rows);
            held.iter().for_each(|hand| self.held_rows((*self.links.grip.on(hand.side), hand.place), &posed, rows));
        };
        let found = descend(rows, &middle, &middle, &self.ranges);
        (found.norm <= SOLVED).then(|| self.rounded(&found.q))
    }
}

struct Way {
    stray: f64,
    growth: Vec<(BodyId, f64)>,
}

impl Way {
    fn grow(&mut self, crew: &Crewmember, segment: &str, by: f64) {
        let body = crew.mechanism.body_named(&format!("{}{segment}", crew.links.prefix()));
        self.growth.extend(body.map(|body| (body, by)));
    }
}

fn keep_greater(growth: &mut Vec<(BodyId, f64)>, of_way: Vec<(BodyId, f64)>) {
    for (body, by) in of_way {
        match growth.iter_mut().find(|(known, _)| *known == body) {
            Some((_, known)) => *known = known.max(by),
            None => growth.push((body, by)),
        }
    }
}

/// How far a link's turn departs from its way straight from one end to the other: Σ_{k<l} |δ_k δ_l|, rad.
fn turn_bend(steps: Vec<f64>) -> f64 {
    let sum: f64 = steps.iter().sum();
    let squares: f64 = steps.iter().map(|step| step * step).sum();
    0.5 * (sum * sum - squares)
}

fn hand_stray(links: &BodyLinks, hand: &Held, posed: &Posed) -> f64 {
    let (grip, place) = (posed.link(*links.grip.on(hand.side)), posed.link(hand.place));
    (grip.translation.vector - place.translation.vector).norm()
}

/// Hip, knee and ankle of the right leg.
pub(super) fn right_leg(links: &BodyLinks, posed: &Posed) -> Limb {
    let at = |link: LinkId| Point::from(posed.link(link).translation.vector);
    Limb {
        root: at(links.thigh.right),
        middle: posed.link(links.thigh.right) * Point::new(0.0, 0.0, -links.figure.thigh),
        end: at(links.right_boot),
        in_plane: Some(posed.link(links.right_boot).rotation * Vector::x()),
    }
}

/// Shoulder, elbow and wrist.
fn arm(links: &BodyLinks, side: Side, posed: &Posed) -> Limb {
    let at = |link: LinkId| Point::from(posed.link(link).translation.vector);
    Limb {
        root: at(*links.shoulder.on(side)),
        middle: at(*links.forearm.on(side)),
        end: at(*links.hand.on(side)),
        in_plane: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::testing::{closed_postures, in_empty_space, standing};
    use crate::mechanism::random_tree::Draw;

    #[test]
    fn between_neighbours_the_boot_strays_by_no_more_than_is_told() {
        in_empty_space(|crew| {
            let postures = closed_postures(8);
            let mut changes = 0;
            for pair in postures.windows(2) {
                let [from, to] = [crew.rounded(&pair[0]), crew.rounded(&pair[1])];
                let Ok(change) = crew.change(&from, &to, &[]) else {
                    continue;
                };
                changes += 1;
                assert_eq!((change.postures.first(), change.postures.last()), (Some(&from), Some(&to)));
                assert!(change.stray <= STRAY);
                for way in change.postures.windows(2) {
                    for step in 0..=10 {
                        let t = f64::from(step) / 10.0;
                        let q: [f64; N] = std::array::from_fn(|k| way[0][k] + t * (way[1][k] - way[0][k]));
                        assert!(crew.boot_stray(&crew.mechanism.pose(&q)) <= change.stray + 1e-12);
                    }
                }
            }
            assert!(changes >= 4, "{changes} changes");
        });
    }

    #[test]
    fn the_boots_way_departs_from_its_chord_by_no_more_than_its_bend() {
        in_empty_space(|crew| {
            let mut draw = Draw(3);
            let boot = (crew.links.right_boot, crew.links.right_boot_place);
            let mut tightest: f64 = 0.0;
            for q in closed_postures(100) {
                // One or all of the joints that the boot hangs on.
                let size = 10f64.powf(draw.between(-3.0, -0.5));
                let alone = draw.between(0.0, 2.0) < 1.0;
                let delta: [f64; N] =
                    std::array::from_fn(|k| if alone && k > 0 { 0.0 } else { draw.between(-size, size) });
                let ankle = |sigma: f64| {
                    let q: [f64; N] = std::array::from_fn(|k| q[k] + sigma * delta[k]);
                    crew.mechanism.pose(&q).link(boot.0).translation.vector
                };
                let bend = crew.bend(boot, &crew.boot_extent(), &crew.mechanism.pose(&q), &delta);
                let chord = |sigma: f64| ankle(-1.0) * (0.5 - 0.5 * sigma) + ankle(1.0) * (0.5 + 0.5 * sigma);
                for sigma in [-0.7, -0.2, 0.0, 0.4, 0.9] {
                    let departs = (ankle(sigma) - chord(sigma)).norm();
                    assert!(departs <= bend, "{departs} > {bend}");
                    tightest = tightest.max(departs / bend);
                }
            }
            assert!(tightest > 0.3, "loose: {tightest}");
        });
    }

    #[test]
    fn a_change_with_the_legs_still_needs_no_postures_between() {
        in_empty_space(|crew| {
            let from = crew.rounded(&closed_postures(1)[0]);
            let mut to = from;
            for (value, range) in to[9..25].iter_mut().zip(&crew.ranges[9..25]) {
                *value = 0.5 * (range.lowest + range.highest);
            }
            let change = crew.change(&from, &to, &[]).expect("nothing is closed by trunk and arms");
            assert_eq!(change.postures, vec![from, to]);
        });
    }

    #[test]
    fn a_hand_that_holds_the_plate_stays_there() {
        let (mechanism, links) = standing();
        let mut builder = crate::mechanism::MechanismBuilder::on(mechanism);
        let at = builder.so_far().pose(&closed_postures(1)[0]);
        let place = builder.fixed("handle", links.plate, *at.link(links.grip.right));
        let mechanism = builder.finish();
        let surroundings = crate::crew::Surroundings::none();
        let crew = Crewmember::new(&mechanism, &links, &surroundings);
        let held = [Held { side: Side::Right, place }];
        let from = crew.rounded(&closed_postures(1)[0]);
        let mut towards = from;
        let waist = crate::crew::JOINTS.iter().position(|name| *name == "waist-rotation").expect("a waist");
        towards[waist] = crew.ranges[waist].nearest(from[waist] - from[waist].signum() * 0.5);
        let to = crew.closed_between(&towards, &towards, &held).expect("turned");
        assert!((to[waist] - from[waist]).abs() > 0.2, "the waist turns: {} {}", to[waist], from[waist]);
        let change = crew.change(&from, &to, &held).expect("a way");
        assert!(change.postures.len() > 2 && change.stray <= STRAY);
        for way in change.postures.windows(2) {
            let q: [f64; N] = std::array::from_fn(|k| 0.3 * way[0][k] + 0.7 * way[1][k]);
            assert!(hand_stray(&links, &held[0], &mechanism.pose(&q)) <= change.stray);
        }
        let elbow = mechanism.body_named("rider/right-forearm").expect("a forearm");
        assert!(change.growth.iter().any(|(body, by)| *body == elbow && *by > 0.0));
    }

    #[test]
    fn a_posture_off_the_plate_is_no_end() {
        in_empty_space(|crew| {
            let from = closed_postures(1)[0];
            assert!(matches!(crew.change(&from, &[0.0; N], &[]), Err(NoChange::End { stray }) if stray > 0.01));
        });
    }
}
