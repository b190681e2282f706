//! Source: dense sampling of whole motions of random mechanisms; closed forms of the project's check values.
//!
//! A lower end must be under every sample, without tolerance: the search allows for rounding itself. An upper end is a
//! distance that was seen, so the same moment must give it again to 1e-9 m (rounding). Brackets close to the 1 mm that is
//! asked for.

use rayon::prelude::*;

use trusswalk::mechanism::{
    Body, BodyId, BodyMotion, Extent, JointMotion, LinkId, Mechanism, MechanismBuilder, PartId, Posed, Range, Slack,
    VirtualJoint, common_link,
};
use trusswalk::model::{BodyClass, Bound};
use trusswalk::motion::{
    Budget, Clearance, ClearanceSearch, Entry, Group, Rule, Seen, Segment, Task, profile, still_world,
};
use trusswalk::space::{Convex, Core, Point, Pose, Separation, Vector, separation};

use super::random::{Draw, body_on};

/// One part in 10⁹ of a metre, for values that are computed twice.
const ROUNDING: f64 = 1e-9;
/// Brackets this narrow may straddle a limit.
const TOO_NARROW: f64 = 1e-5;
const SAMPLES: usize = 240;

/// A mechanism among bodies that stand still, and a motion of it.
struct Scene {
    mechanism: Mechanism,
    segments: Vec<Segment>,
    overrun: Vec<Vec<f64>>,
}

impl Scene {
    fn drawn(seed: u64) -> Self {
        let mut draw = Draw::seeded(seed ^ 0x5CE4E);
        let joints = 2 + draw.below(5);
        let mut tree = draw.tree(joints);
        for link in tree.links.clone().into_iter().skip(1) {
            for _ in 0..1 + draw.below(2) {
                let shape = draw.shape();
                tree.body(link, shape);
            }
            tree.builder.readout(link, draw.log_between(1e-5, 1e-2));
            let by = draw.log_between(1e-5, 1e-2);
            let at = draw.place(0.5);
            let slack = if draw.chance(0.5) { Slack::Slide { by } } else { Slack::Turn { axis: Vector::z(), by } };
            tree.builder.slack(link, VirtualJoint { at, slack });
        }
        let outermost = tree.links[tree.links.len() - 1];
        tree.builder.body(Body {
            name: "of two parts".to_owned(),
            class: BodyClass::Payload,
            link: outermost,
            parts: vec![draw.shape(), draw.shape()],
            filled: None,
            growth: 0.004,
        });
        for _ in 0..12 {
            let place = draw.pose(6.0);
            let shape = draw.shape().moved(&place);
            body_on(&mut tree.builder, LinkId::STRUCTURE, shape);
        }
        let by = draw.log_between(0.05, 0.8);
        let mut waypoints = vec![tree.configuration(&mut draw)];
        for k in 0..2 {
            let next = waypoints[k].iter().map(|q| q + draw.between(-by, by)).collect();
            waypoints.push(next);
        }
        let segments =
            waypoints.windows(2).map(|ends| Segment { from: ends[0].clone(), to: ends[1].clone() }).collect();
        let overrun = (0..2).map(|_| waypoints[0].iter().map(|_| draw.log_between(1e-4, 0.05)).collect()).collect();
        Self { mechanism: tree.builder.finish(), segments, overrun }
    }

    /// Nine groups, with limits of their own; neighbours may touch, and on the second segment a few others.
    fn rule(&self, segment: usize, a: BodyId, b: BodyId) -> Option<Rule> {
        let links = [a, b].map(|body| self.mechanism.body(body).link);
        let neighbours = links[0] == links[1] || links[0].0.abs_diff(links[1].0) == 1;
        let exempt = segment == 1 && (a.0 + b.0).is_multiple_of(7);
        let group = 3 * (a.0 % 3) + b.0 % 3;
        let limit = [0.0, 0.1, 0.3][group % 3];
        (!neighbours && !exempt).then_some(Rule { group: Group(group), limit, stopping_limit: -0.05 })
    }

    fn searched(&self, budget: Budget) -> Clearance {
        self.searched_on(&self.segments, budget)
    }

    fn searched_on(&self, segments: &[Segment], budget: Budget) -> Clearance {
        let world = still_world(&self.mechanism);
        let rules = |segment, a, b| self.rule(segment, a, b);
        let task = Task { segments, rules: &rules, overrun: &self.overrun };
        ClearanceSearch::new(&self.mechanism, &world, budget).run(&task)
    }

    /// The pairs that a search watches on a segment, moving body first, as entries name them.
    fn watched(&self, segment: usize) -> Vec<([BodyId; 2], Rule)> {
        let mut pairs = Vec::new();
        for a in self.mechanism.body_ids() {
            for b in self.mechanism.body_ids() {
                let still = [a, b].map(|body| self.mechanism.body(body).link == LinkId::STRUCTURE);
                let in_order = !still[0] && (still[1] || b < a);
                if let Some(rule) = self.rule(segment, a, b).filter(|_| in_order) {
                    pairs.push(([a, b], rule));
                }
            }
        }
        pairs
    }

    /// The play of a body as seen from what both hang on, at rest and when stopped.
    fn play(&self, posed: &Posed, segment: usize, bodies: [BodyId; 2]) -> [f64; 2] {
        let links = bodies.map(|body| self.mechanism.body(body).link);
        let inner = common_link(&self.mechanism, links[0], links[1]);
        let still = vec![0.0; self.mechanism.variable_count()];
        let mut sum = [0.0; 2];
        for body in bodies {
            let extent = Extent::of(&self.mechanism, body);
            let on = self.mechanism.body(body);
            let steps = (still.as_slice(), self.overrun[segment].as_slice());
            let motion = BodyMotion::of(&self.mechanism, posed, (on.link, inner), &extent, steps);
            sum[0] += motion.tolerance_here + on.growth;
            sum[1] += motion.stopping_here + on.growth;
        }
        sum
    }

    /// The separations of all parts of two bodies that may be within `within` of each other.
    fn separations(&self, posed: &Posed, bodies: [BodyId; 2], within: f64) -> Vec<Separation> {
        let [a, b] = bodies.map(|body| {
            let on = self.mechanism.body(body);
            on.parts.iter().map(|part| (part.ball(), part.posed(posed.link(on.link)), posed.link(on.link)))
        });
        let mut found = Vec::new();
        for ((a_centre, a_radius), a, a_link) in a {
            for ((b_centre, b_radius), b, b_link) in b.clone() {
                if (a_link * a_centre - b_link * b_centre).norm() - a_radius - b_radius <= within {
                    found.push(separation(&a, &b));
                }
            }
        }
        found
    }

    /// What a bracket's witness says when it is asked again: nominal, with play, with play and overrun, of each pair
    /// of parts.
    fn witnessed(&self, entry: &Entry, seen: &Seen) -> Vec<[f64; 3]> {
        let posed = self.mechanism.pose(&self.segments[seen.segment].at(seen.fraction));
        let [play, stopping] = self.play(&posed, seen.segment, entry.bodies);
        let found = self.separations(&posed, entry.bodies, f64::INFINITY);
        found.iter().map(|found| [found.upper, found.upper - play, found.upper - stopping]).collect()
    }
}

fn entry_of(clearance: &Clearance, group: Group, bodies: [BodyId; 2]) -> Option<&Entry> {
    clearance.entries.iter().find(|entry| entry.group == group && entry.bodies == bodies)
}

/// Compares every watched pair with samples of the motion.
fn assert_no_sample_refutes(scene: &Scene, clearance: &Clearance, cap: f64) {
    let mut posed = scene.mechanism.workspace();
    for (k, segment) in scene.segments.iter().enumerate() {
        let watched = scene.watched(k);
        for sample in 0..=SAMPLES {
            let fraction = sample as f64 / SAMPLES as f64;
            scene.mechanism.pose_into(&segment.at(fraction), &mut posed);
            for (bodies, rule) in &watched {
                let entry = entry_of(clearance, rule.group, *bodies);
                let within = cap.max(entry.map_or(0.0, |entry| entry.nominal.bound.lower));
                for found in scene.separations(&posed, *bodies, within) {
                    let told = format!("{bodies:?} on {k} at {fraction}: {found:?}, {entry:?}");
                    let [play, stopping] = scene.play(&posed, k, *bodies);
                    let values = [found.upper, found.upper - play, found.upper - stopping];
                    match entry {
                        Some(entry) => {
                            let lower = brackets(entry).map(|bound| bound.lower);
                            assert!(
                                lower.iter().zip(values).all(|(lower, value)| *lower <= value),
                                "{told} {values:?}"
                            );
                        }
                        None => {
                            assert!(values[0] > cap, "{told}");
                            assert!(values[1] >= rule.limit && values[2] >= rule.stopping_limit, "{told}");
                        }
                    }
                }
            }
        }
    }
}

fn brackets(entry: &Entry) -> [Bound; 3] {
    [entry.nominal.bound, entry.worst.bound, entry.stopping.bound]
}

/// What a result says of itself, without any sample.
fn assert_consistent(scene: &Scene, clearance: &Clearance, gap: f64) {
    for entry in &clearance.entries {
        let [nominal, worst, stopping] = brackets(entry);
        assert!([nominal, worst, stopping].iter().all(|bound| bound.lower <= bound.upper), "{entry:?}");
        assert!(nominal.lower >= worst.lower && worst.lower >= stopping.lower, "{entry:?}");
        assert!(nominal.upper >= worst.upper && worst.upper >= stopping.upper, "{entry:?}");
        for (k, bracket) in [entry.nominal, entry.worst, entry.stopping].iter().enumerate() {
            let Some(seen) = &bracket.seen else { continue };
            let again = scene.witnessed(entry, seen);
            let off = again.iter().map(|values| (values[k] - bracket.bound.upper).abs()).fold(f64::INFINITY, f64::min);
            assert!(off <= ROUNDING, "{entry:?}: bracket {k} is {off} off what is seen at its moment");
        }
        if let Some(seen) = entry.nominal.seen.filter(|_| nominal.upper > 0.0) {
            let apart = (seen.points[1] - seen.points[0]).norm();
            assert!((apart - nominal.upper).abs() <= ROUNDING, "{entry:?}: the points are {apart} apart");
        }
        if clearance.budget_spent {
            continue;
        }
        let told = |bound: Bound, limit: f64| {
            bound.lower >= limit || bound.upper < limit || bound.upper - bound.lower < TOO_NARROW
        };
        assert!(told(worst, entry.rule.limit) && told(stopping, entry.rule.stopping_limit), "{entry:?}");
        if nominal.upper < entry.rule.limit {
            assert!(nominal.gap() <= gap + ROUNDING, "{entry:?} is below its limit without a bracket of its own");
        }
    }
    for group in (0..9).map(Group) {
        let Some(bound) = clearance.bound(group) else { continue };
        assert!(!clearance.above_cap.contains(&group));
        assert!(clearance.budget_spent || bound.gap() <= gap + ROUNDING, "{group:?}: {bound:?}");
        let governing = clearance.governing(group).expect("a group with a bracket has a pair that governs it");
        assert_eq!(governing.nominal.bound.lower, bound.lower);
    }
}

#[test]
fn no_sample_of_a_motion_refutes_its_brackets() {
    let counts: Vec<[usize; 3]> = (0..60_u64)
        .into_par_iter()
        .map(|seed| {
            let scene = Scene::drawn(seed);
            let budget = Budget { cap: [0.5, 2.0][seed as usize % 2], ..Budget::default() };
            let clearance = scene.searched(budget);
            assert_consistent(&scene, &clearance, budget.gap);
            assert_no_sample_refutes(&scene, &clearance, budget.cap);
            [clearance.entries.len(), clearance.above_cap.len(), usize::from(clearance.budget_spent)]
        })
        .collect();
    let of = |k: usize| counts.iter().map(|count| count[k]).sum::<usize>();
    println!("{} pairs with a bracket, {} groups above the cap, {} budgets spent", of(0), of(1), of(2));
    assert!(of(0) > 1000 && of(1) > 10);
}

#[test]
fn zz_timing() {
    for seed in 0..60_u64 {
        let scene = Scene::drawn(seed);
        let budget = Budget { cap: [0.5, 2.0][seed as usize % 2], ..Budget::default() };
        let t = std::time::Instant::now();
        let clearance = scene.searched(budget);
        let a = t.elapsed().as_millis();
        assert_consistent(&scene, &clearance, budget.gap);
        let t = std::time::Instant::now();
        assert_no_sample_refutes(&scene, &clearance, budget.cap);
        println!(
            "{seed} {} entries {} intervals spent {} search {} ms, sampling {} ms",
            clearance.entries.len(),
            clearance.intervals,
            clearance.budget_spent,
            a,
            t.elapsed().as_millis()
        );
        if clearance.budget_spent {
            for g in (0..9).map(Group) {
                if let Some(b) = clearance.bound(g) {
                    if b.gap() > 1e-3 {
                        let e = clearance.governing(g).unwrap();
                        println!("{e:?} {:?}", e.bodies.map(|b| scene.mechanism.body(b).parts.clone()));
                    }
                }
            }
        }
    }
}
