//! Which two bodies are too near to each other, whatever the arm's joints do?
//!
//! # Law
//! A ball within a body that hangs on the arm's first joint, or its second, stays where these joints alone take it. Both
//! are turned through grids of their ranges; at each vertex the ball is so far from what stands still (the upper end of the
//! bracket of [`separation`]), and between vertices no farther than that plus what half a cell moves it: for each joint
//! half a step times the middle's greatest distance from it. Where that is below the pair's limit at every vertex, no
//! configuration keeps the limit: a proof. The middle is the core's nearest point to the joint, as it moves least. Of tolerances
//! are taken off those of the shapes, and how far base and links may slide; what joints and links may turn is not.
//!
//! # Limits
//! Bodies beyond the second joint, and joints that slide, are not looked at.

use std::f64::consts::{PI, TAU};

use crate::mechanism::{BodyId, JointMotion, LinkId, Mechanism, Range, Slack};
use crate::model::ClassPair;
use crate::motion::Rule;
use crate::space::{Convex, Point, Pose, PosedConvex, PosedCore, separation};

/// Steps of the grid through a whole turn, for a body on the first joint ...
const STEPS_OF_ONE: usize = 144;
/// ... and for each joint of one on the second.
const STEPS_OF_TWO: usize = 48;

/// Two bodies that break their limit in every configuration.
#[derive(Clone, Debug, PartialEq)]
pub struct AlwaysNear {
    /// One of the arm, and the one that is near where the two are farthest apart.
    pub bodies: [BodyId; 2],
    pub classes: ClassPair,
    /// They are never farther apart than this with tolerances, m.
    pub at_most: f64,
    /// The limit there, m.
    pub limit: f64,
}

/// The pair that lacks most, of a mechanism in which the arm's joints alone are driven, the first of them first; none where
/// nothing is proven.
pub fn always_near(mechanism: &Mechanism, rule: impl Fn(BodyId, BodyId) -> Option<Rule>) -> Option<AlwaysNear> {
    let lacks = |near: &AlwaysNear| near.limit - near.at_most;
    let near = mechanism.body_ids().filter_map(|body| Swing::of(mechanism, body)?.always_near(&rule));
    near.max_by(|a, b| lacks(a).total_cmp(&lacks(b)))
}

/// A ball within a body, as one joint or two swing it.
struct Swing<'a> {
    mechanism: &'a Mechanism,
    body: BodyId,
    link: LinkId,
    /// Its middle, in the link's frame.
    middle: Point,
    radius: f64,
    /// The joints' variables, ranges and the middle's greatest distances from them, m; from the base out.
    joints: Vec<(usize, Range, f64)>,
    /// How much nearer tolerances may bring it, m.
    slides: f64,
}

impl<'a> Swing<'a> {
    fn of(mechanism: &'a Mechanism, body: BodyId) -> Option<Self> {
        let link = mechanism.body(body).link;
        let mut driven: Vec<LinkId> =
            mechanism.path_inwards(link).filter(|at| mechanism.link(*at).joint.variable.is_some()).collect();
        driven.reverse();
        let turns = |at: &LinkId| mechanism.link(*at).joint.motion == JointMotion::Revolute;
        let last = *driven.last()?;
        if driven.len() > 2 || !driven.iter().all(turns) {
            return None;
        }
        let posed = mechanism.pose(&vec![0.0; mechanism.variable_count()]);
        let joint_in_link = Point::from((posed.link(link).inverse() * posed.link(last)).translation.vector);
        let (middle, radius) = nearest_of(&mechanism.body(body).parts, &joint_in_link)?;
        let mut beyond = (middle - joint_in_link).norm();
        let mut joints = Vec::new();
        for (n, at) in driven.iter().enumerate().rev() {
            let joint = &mechanism.link(*at).joint;
            joints.push((joint.variable?, within_a_turn(joint.range), beyond));
            if n > 0 {
                let [here, before] = [*at, driven[n - 1]].map(|link| posed.link(link).translation.vector);
                beyond += (here - before).norm();
            }
        }
        joints.reverse();
        let slacks = mechanism.path_inwards(link).flat_map(|at| &mechanism.link(at).slack);
        let slides = slacks.map(|slack| if let Slack::Slide { by } = slack.slack { by } else { 0.0 });
        let slides = mechanism.body(body).growth + slides.sum::<f64>();
        Some(Self { mechanism, body, link, middle, radius, joints, slides })
    }

    fn always_near(&self, rule: impl Fn(BodyId, BodyId) -> Option<Rule>) -> Option<AlwaysNear> {
        let still: Vec<(BodyId, f64, Vec<PosedConvex>)> = self.still(rule);
        let mut posed = self.mechanism.workspace();
        let mut q = vec![0.0; self.mechanism.variable_count()];
        let mut worst: Option<AlwaysNear> = None;
        let turn_steps = if self.joints.len() == 1 { STEPS_OF_ONE } else { STEPS_OF_TWO };
        let steps: Vec<usize> = self.joints.iter().map(|(_, range, _)| steps(*range, turn_steps)).collect();
        for mut cell in 0..steps.iter().product() {
            let mut strays = 0.0;
            for ((variable, range, beyond), steps) in self.joints.iter().zip(&steps) {
                let step = (range.highest - range.lowest) / *steps as f64;
                q[*variable] = range.lowest + (0.5 + (cell % steps) as f64) * step;
                strays += 0.5 * step * beyond;
                cell /= steps;
            }
            self.mechanism.pose_into(&q, &mut posed);
            let ball = ball(posed.link(self.link) * self.middle, self.radius);
            let here = still.iter().map(|(body, limit, parts)| {
                let nearest = parts.iter().map(|part| separation(&ball, part).upper).fold(f64::INFINITY, f64::min);
                let tolerance = self.slides + self.mechanism.body(*body).growth;
                let classes = [self.body, *body].map(|body| self.mechanism.body(body).class);
                let classes = ClassPair::new(classes[0], classes[1]);
                AlwaysNear { bodies: [self.body, *body], classes, at_most: nearest + strays - tolerance, limit: *limit }
            });
            let lacks = |near: &AlwaysNear| near.limit - near.at_most;
            let here = here.max_by(|a, b| lacks(a).total_cmp(&lacks(b))).filter(|near| lacks(near) > 0.0)?;
            if worst.as_ref().is_none_or(|worst| lacks(&here) < lacks(worst)) {
                worst = Some(here);
            }
        }
        worst
    }

    /// What stands still, has a limit to the body, and may be nearer than that.
    fn still(&self, rule: impl Fn(BodyId, BodyId) -> Option<Rule>) -> Vec<(BodyId, f64, Vec<PosedConvex<'a>>)> {
        let mechanism = self.mechanism;
        let posed = mechanism.pose(&vec![0.0; mechanism.variable_count()]);
        let is_driven =
            |link: LinkId| mechanism.path_inwards(link).any(|at| mechanism.link(at).joint.variable.is_some());
        let (first, _, reach) = self.joints[0];
        let first = Point::from(posed.link(mechanism.link_of_variable(first)).translation.vector);
        let mut still = Vec::new();
        for other in mechanism.body_ids().filter(|other| !is_driven(mechanism.body(*other).link)) {
            let Some(Rule { limit, .. }) = rule(self.body, other) else { continue };
            let body = mechanism.body(other);
            let parts = body.parts.iter().map(|part| part.posed(posed.link(body.link)));
            let near: Vec<PosedConvex> = parts
                .filter(|part| {
                    separation(&ball(first, self.radius), part).lower <= reach + limit + self.slides + body.growth
                })
                .collect();
            if !near.is_empty() {
                still.push((other, limit, near));
            }
        }
        still
    }
}

/// Of some parts, the point of a core that is nearest to a place, all in one frame, and the radius about it.
fn nearest_of(parts: &[Convex], place: &Point) -> Option<(Point, f64)> {
    let nearest = |part: &Convex| {
        let core = PosedConvex { radius: 0.0, ..part.posed(&Pose::identity()) };
        let found = separation(&ball(*place, 0.0), &core);
        let (distance, point) = if found.upper <= 0.0 { (0.0, *place) } else { (found.upper, found.point_b) };
        (distance, (point, part.radius))
    };
    parts.iter().map(nearest).min_by(|(a, _), (b, _)| a.total_cmp(b)).map(|(_, ball)| ball)
}

fn ball(middle: Point, radius: f64) -> PosedConvex<'static> {
    PosedConvex { core: PosedCore::Point(middle), radius }
}

/// A range of no more than a turn that takes a link to all the same places.
fn within_a_turn(range: Range) -> Range {
    if range.highest - range.lowest < TAU { range } else { Range { lowest: -PI, highest: PI } }
}

fn steps(range: Range, of_turn: usize) -> usize {
    ((range.highest - range.lowest) / TAU * of_turn as f64).ceil().max(1.0) as usize
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::mechanism::random_tree::Draw;
    use crate::mechanism::{Body, MechanismBuilder};
    use crate::model::BodyClass;
    use crate::motion::Group;
    use crate::space::{Core, Vector};

    /// A capsule on one joint or two, and some that stand still about it.
    fn arm_among_posts(seed: u64) -> Mechanism {
        let mut draw = Draw(seed);
        let mut builder = MechanismBuilder::new();
        let mut at = LinkId::STRUCTURE;
        let joints = draw.between(1.0, 3.0) as usize;
        for k in 0..joints {
            let (place, axis) = (draw.pose(0.4), draw.direction());
            let range = Range { lowest: draw.between(-2.0, -0.1), highest: draw.between(0.1, 4.0) };
            at = builder.joint(&format!("j{k}"), at, place, JointMotion::Revolute, axis, range);
        }
        at = builder.fixed("bracket", at, draw.pose(0.2));
        let capsule = |draw: &mut Draw, name: &str, link: LinkId, by: f64| {
            let ends = [draw.vector(by), draw.vector(by)].map(Point::from);
            let parts = vec![Convex { core: Core::Segment(ends[0], ends[1]), radius: draw.between(0.0, 0.1) }];
            Body { name: name.to_owned(), class: BodyClass::Arm, link, parts, filled: None, growth: 0.0 }
        };
        builder.body(capsule(&mut draw, "boom", at, 0.4));
        for k in 0..draw.between(1.0, 6.0) as usize {
            builder.body(capsule(&mut draw, &format!("post-{k}"), LinkId::STRUCTURE, 1.5));
        }
        builder.finish()
    }

    fn told(mechanism: &Mechanism, limit: f64) -> Option<AlwaysNear> {
        always_near(mechanism, |_, _| Some(Rule { group: Group(0), limit, stopping_limit: limit }))
    }

    /// From the boom to the nearest post, m.
    fn distance(mechanism: &Mechanism, q: &[f64]) -> f64 {
        let posed = mechanism.pose(q);
        let part = |body: &Body| body.parts[0].clone();
        let boom = &mechanism.bodies()[0];
        let (boom, at) = (part(boom), posed.link(boom.link));
        let posts = mechanism.bodies()[1..].iter().map(part);
        posts
            .map(|post| separation(&boom.posed(at), &post.posed(&Pose::identity())).lower)
            .fold(f64::INFINITY, f64::min)
    }

    proptest! {
        #[test]
        fn what_is_proven_too_near_is_so_in_every_configuration(seed: u64, limit in 0.05..1.5f64) {
            let mechanism = arm_among_posts(seed);
            let Some(near) = told(&mechanism, limit) else { return Ok(()) };
            prop_assert!(near.at_most < near.limit);
            let mut draw = Draw(seed ^ 7);
            for _ in 0..400 {
                let value = |range: &Range| draw.between(range.lowest, range.highest);
                let q: Vec<f64> = mechanism.ranges().iter().map(value).collect();
                prop_assert!(distance(&mechanism, &q) <= near.at_most + 1e-9, "{q:?}");
            }
        }
    }

    #[test]
    fn what_swings_about_a_post_is_proven_too_near_it_just_beyond_its_distance() {
        let mut builder = MechanismBuilder::new();
        let turn = |builder: &mut MechanismBuilder, at, x| {
            let place = Pose::translation(x, 0.0, 0.0);
            builder.joint("turn", at, place, JointMotion::Revolute, Vector::z_axis(), Range::FREE)
        };
        let first = turn(&mut builder, LinkId::STRUCTURE, 0.0);
        let ball = |name: &str, link: LinkId, radius: f64| Body {
            name: name.to_owned(),
            class: BodyClass::Arm,
            link,
            parts: vec![Convex { core: Core::Point(Point::origin()), radius }],
            filled: None,
            growth: 0.0,
        };
        let second = turn(&mut builder, first, 1.0);
        builder.body(ball("housing", second, 0.2));
        builder.body(ball("post", LinkId::STRUCTURE, 0.1));
        let mechanism = builder.finish();
        // It circles the post at 1 m: 0.7 m are between them, and half a step of the grid strays by 66 mm.
        assert_eq!(told(&mechanism, 0.69), None);
        let near = told(&mechanism, 0.80).expect("it is never farther off");
        assert!((0.70..0.77).contains(&near.at_most), "{}", near.at_most);
    }
}
