//! Source: dense sampling of whole motions of random mechanisms; closed forms of the project's check values.
//!
//! A lower end must be under every sample, without tolerance: the search allows for rounding itself. An upper end is a
//! distance that was seen, so the same moment must give it again to 1e-9 m (rounding). Brackets close to the 1 mm that is
//! asked for.

use rayon::prelude::*;

use trusswalk::mechanism::{
    Body, BodyId, BodyMotion, Extent, JointMotion, LinkId, Mechanism, MechanismBuilder, Posed, Range, Slack,
    VirtualJoint, common_link,
};
use trusswalk::model::{BodyClass, Bound};
use trusswalk::motion::{
    Budget, Clearance, ClearanceSearch, Entry, Group, JointPace, Overrun, Rule, Seen, Segment, Task, profile,
    segment_time, still_world,
};
use trusswalk::space::{Convex, Core, Point, Pose, Separation, Vector, separation};

use super::random::{Draw, body_on};
use super::stored::{Deviation, assert_allowed};

/// One part in 10⁹ of a metre, for values that are computed twice.
const ROUNDING: f64 = 1e-9;
/// Brackets this narrow may straddle a limit.
const TOO_NARROW: f64 = 1e-5;
const SAMPLES: usize = 240;
const SCENES: u64 = 100;

/// A mechanism among bodies that stand still, and a motion of it.
struct Scene {
    mechanism: Mechanism,
    segments: Vec<Segment>,
    overrun: Vec<Overrun>,
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
        for _ in 0..16 {
            let place = draw.pose(4.0);
            let shape = draw.shape().moved(&place);
            body_on(&mut tree.builder, LinkId::STRUCTURE, shape);
        }
        let by = draw.log_between(0.05, 0.8);
        let mut waypoints = vec![tree.configuration(&mut draw)];
        for k in 0..2 {
            let next = waypoints[k].iter().map(|q| q + draw.between(-by, by)).collect();
            waypoints.push(next);
        }
        let segments: Vec<Segment> =
            waypoints.windows(2).map(|ends| Segment { from: ends[0].clone(), to: ends[1].clone() }).collect();
        let overrun = segments.iter().map(|segment| timed_overrun(segment, &mut draw)).collect();
        Self { mechanism: tree.builder.finish(), segments, overrun }
    }

    /// The same, with an overrun that doesn't depend on where it is stopped.
    fn overrunning_alike(self, seed: u64) -> Self {
        let mut draw = Draw::seeded(seed ^ 0x0A11);
        let of = |segment: &Segment, draw: &mut Draw| {
            Overrun::same(segment.from.iter().map(|_| draw.log_between(1e-4, 0.05)).collect())
        };
        let overrun = self.segments.iter().map(|segment| of(segment, &mut draw)).collect();
        Self { overrun, ..self }
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
        let world = still_world(&self.mechanism);
        let rules = |segment, a, b| self.rule(segment, a, b);
        let task = Task { segments: &self.segments, rules: &rules, same_rules: &|a, b| a == b, overrun: &self.overrun };
        ClearanceSearch::new(&self.mechanism, &world, budget).run(&task)
    }

    /// The same motion, each segment cut in three; it must overrun alike all along.
    fn searched_in_thirds(&self, budget: Budget) -> Clearance {
        let cuts = [0.0, 0.21, 0.6, 1.0];
        let cut = |segment: &Segment| {
            let pieces = cuts.windows(2).map(|ends| Segment { from: segment.at(ends[0]), to: segment.at(ends[1]) });
            pieces.collect::<Vec<_>>()
        };
        let segments: Vec<Segment> = self.segments.iter().flat_map(cut).collect();
        let overrun: Vec<Overrun> = (0..segments.len()).map(|k| self.overrun[k / 3].clone()).collect();
        let world = still_world(&self.mechanism);
        let rules = |segment, a, b| self.rule(segment / 3, a, b);
        let same_rules = |a, b| a / 3 == b / 3;
        let task = Task { segments: &segments, rules: &rules, same_rules: &same_rules, overrun: &overrun };
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

    /// The play of two bodies as seen from what both hang on, at rest and when stopped, at a fraction of a segment.
    fn play(&self, posed: &Posed, (segment, fraction): (usize, f64), bodies: [BodyId; 2]) -> [f64; 2] {
        let links = bodies.map(|body| self.mechanism.body(body).link);
        let inner = common_link(&self.mechanism, links[0], links[1]);
        let still = vec![0.0; self.mechanism.variable_count()];
        let mut overrun = Vec::new();
        self.overrun[segment].within([fraction; 2], &mut overrun);
        let mut sum = [0.0; 2];
        for body in bodies {
            let extent = Extent::of(&self.mechanism, body);
            let on = self.mechanism.body(body);
            let steps = (still.as_slice(), overrun.as_slice());
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
        let [play, stopping] = self.play(&posed, (seen.segment, seen.fraction), entry.bodies);
        let found = self.separations(&posed, entry.bodies, f64::INFINITY);
        found.iter().map(|found| [found.upper, found.upper - play, found.upper - stopping]).collect()
    }
}

/// What joints overrun on a segment that is timed, a profile and a reaction drawn for it.
fn timed_overrun(segment: &Segment, draw: &mut Draw) -> Overrun {
    let change = segment.change();
    let pace = |_| JointPace { rate: draw.log_between(0.02, 0.3), acceleration: draw.log_between(0.2, 3.0) };
    let paces: Vec<JointPace> = change.iter().map(pace).collect();
    let time = segment_time(&change, &paces, &[], 1.0);
    Overrun::of(&change, &paces, time, draw.log_between(0.01, 0.3))
}

fn point(at: [f64; 3]) -> Convex {
    Convex { core: Core::Point(Point::from(at)), radius: 0.0 }
}

fn line(from: [f64; 3], to: [f64; 3]) -> Convex {
    Convex { core: Core::Segment(Point::from(from), Point::from(to)), radius: 0.0 }
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
                    let [play, stopping] = scene.play(&posed, (k, fraction), *bodies);
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

/// What the distance routine leaves open for a pair, m: 0.5 % of the radius of an overlapping cylinder.
fn left_open(scene: &Scene, entry: &Entry) -> f64 {
    let of_part = |part: &Convex| match part.core {
        Core::Cylinder { radius, .. } if entry.nominal.bound.upper < 0.0 => 0.005 * radius,
        _ => 0.0,
    };
    let of_body = |body: &BodyId| scene.mechanism.body(*body).parts.iter().map(of_part).fold(0.0, f64::max);
    entry.bodies.iter().map(of_body).sum()
}

/// What a result says of itself, without any sample.
fn assert_consistent(scene: &Scene, clearance: &Clearance, Budget { gap, own_gap, near_limit, .. }: Budget) {
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
        let close = |bound: Bound, limit: f64| {
            let is_near = (limit..limit + near_limit).contains(&bound.lower);
            !is_near || bound.gap() <= gap + left_open(scene, entry) + ROUNDING
        };
        assert!(close(worst, entry.rule.limit) && close(stopping, entry.rule.stopping_limit), "{entry:?}");
        if nominal.upper < entry.rule.limit {
            let allowed = own_gap.max(left_open(scene, entry) + 0.1 * own_gap) + ROUNDING;
            assert!(nominal.gap() <= allowed, "{entry:?} is below its limit without a bracket of its own");
        }
    }
    for group in (0..9).map(Group) {
        let Some(bound) = clearance.bound(group) else { continue };
        assert!(!clearance.above_cap.contains(&group));
        let of_group = clearance.entries.iter().filter(|entry| entry.group == group);
        let open = of_group.map(|entry| left_open(scene, entry)).fold(0.0, f64::max);
        let allowed = gap.max(open + 0.1 * gap) + ROUNDING;
        assert!(clearance.budget_spent || bound.gap() <= allowed, "{group:?}: {bound:?}");
    }
}

#[test]
fn no_sample_of_a_motion_refutes_its_brackets() {
    let counts: Vec<[usize; 3]> = (0..SCENES)
        .into_par_iter()
        .map(|seed| {
            let scene = Scene::drawn(seed);
            let budget = Budget { cap: [0.5, 2.0][seed as usize % 2], ..Budget::default() };
            let clearance = scene.searched(budget);
            assert_consistent(&scene, &clearance, budget);
            assert_no_sample_refutes(&scene, &clearance, budget.cap);
            [clearance.entries.len(), clearance.above_cap.len(), usize::from(clearance.budget_spent)]
        })
        .collect();
    let of = |k: usize| counts.iter().map(|count| count[k]).sum::<usize>();
    println!("{} pairs with a bracket, {} groups above the cap, {} budgets spent", of(0), of(1), of(2));
    assert!(of(0) > 1000 && of(1) > 10 && of(2) == 0);
}

/// A motion of one body on its own link past one that stands still, with one rule.
fn searched_alone(mechanism: &Mechanism, segment: Segment, limit: f64, cap: f64) -> Clearance {
    let world = still_world(mechanism);
    let rule = Rule { group: Group(0), limit, stopping_limit: limit };
    let task = Task { segments: &[segment], rules: &|_, _, _| Some(rule), same_rules: &|_, _| true, overrun: &[] };
    ClearanceSearch::new(mechanism, &world, Budget { cap, ..Budget::default() }).run(&task)
}

#[test]
fn tolerances_count_where_the_distance_is_above_the_cap_too() {
    // A point slides out along x from 0.5 m to 5 m on a hinge read to 0.1 rad, beside a wall that is slightly slanted:
    // from 3 m on it is more than the cap of 0.5 m away, and at 5 m the play of 0.5 m leaves least.
    let mut builder = MechanismBuilder::new();
    body_on(&mut builder, LinkId::STRUCTURE, line([0.0, 0.4, 0.0], [6.0, 0.6, 0.0]));
    let (turns, slides) = (JointMotion::Revolute, JointMotion::Prismatic);
    let hinge = builder.joint("hinge", LinkId::STRUCTURE, Pose::identity(), turns, Vector::z_axis(), Range::FREE);
    builder.readout(hinge, 0.1);
    let slide = builder.joint("slide", hinge, Pose::identity(), slides, Vector::x_axis(), Range::FREE);
    body_on(&mut builder, slide, point([0.0; 3]));
    let mechanism = builder.finish();
    let clearance = searched_alone(&mechanism, Segment { from: vec![0.0, 0.5], to: vec![0.0, 5.0] }, 0.0, 0.5);
    let worst = clearance.entries[0].worst.bound;
    let at_end = (0.4 + 0.2 * 5.0 / 6.0) / (1.0_f64 + (0.2 / 6.0_f64).powi(2)).sqrt() - 0.1 * 5.0;
    assert!(worst.lower <= at_end, "{worst:?} leaves out the end, {at_end}");
    assert!(clearance.entries[0].nominal.bound.upper < 0.42);
}

#[test]
fn a_deep_overlap_with_a_cylinder_does_not_spend_the_budget() {
    // The depth of an overlapping cylinder is known to 0.5 % of its radius only: no interval is so short that its
    // bracket would close.
    let mut builder = MechanismBuilder::new();
    let tank = Core::Cylinder { link_from_cylinder: Pose::identity(), half_length: 3.0, radius: 2.0 };
    body_on(&mut builder, LinkId::STRUCTURE, Convex { core: tank, radius: 0.0 });
    let aside = Pose::rotation(Vector::z() * 5.625_f64.to_radians());
    let slides = JointMotion::Prismatic;
    let slide = builder.joint("slide", LinkId::STRUCTURE, aside, slides, Vector::x_axis(), Range::FREE);
    let boom = line([-6.0, 0.0, 0.0], [-4.0, 0.0, 0.5]);
    body_on(&mut builder, slide, Convex { radius: 0.1, ..boom });
    let mechanism = builder.finish();
    let clearance = searched_alone(&mechanism, Segment { from: vec![0.0], to: vec![2.7] }, 0.3, 2.0);
    let nominal = clearance.entries[0].nominal.bound;
    println!("{nominal:?} in {} intervals", clearance.intervals);
    assert!(!clearance.budget_spent && clearance.intervals < 200, "{} intervals", clearance.intervals);
    // At the end the boom's tip is at 1.3 m from the tank's axis: 0.7 m inside, and the boom's radius more.
    assert!(nominal.lower <= -0.8 && nominal.upper >= -0.8 && nominal.gap() < 0.011, "{nominal:?}");
}

#[test]
fn a_spent_budget_is_told_and_its_brackets_are_still_true() {
    let spent = (0..SCENES / 4).filter(|seed| {
        let scene = Scene::drawn(*seed);
        let budget = Budget { intervals: 6, ..Budget::default() };
        let clearance = scene.searched(budget);
        assert_consistent(&scene, &clearance, budget);
        assert_no_sample_refutes(&scene, &clearance, budget.cap);
        clearance.budget_spent
    });
    assert!(spent.count() > 5);
}

#[test]
fn cutting_a_segment_moves_no_bracket_by_more_than_the_gap() {
    for seed in 0..SCENES {
        let scene = Scene::drawn(seed).overrunning_alike(seed);
        let budget = Budget::default();
        let (whole, cut) = (scene.searched(budget), scene.searched_in_thirds(budget));
        for group in whole.groups().into_iter().chain(cut.groups()) {
            let (Some(a), Some(b)) = (whole.bound(group), cut.bound(group)) else {
                // A group near the cap may be within it by one bracket and above it by the other.
                let bound = whole.bound(group).or(cut.bound(group)).expect("one of them names the group");
                assert!(bound.upper > budget.cap, "seed {seed}, {group:?}: {bound:?}");
                continue;
            };
            assert!(a.lower <= b.upper && b.lower <= a.upper, "seed {seed}, {group:?}: {a:?} and {b:?}");
        }
    }
}

#[test]
fn any_number_of_threads_gives_the_same_result() {
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a pool of threads");
        let search = |seed: u64| format!("{:?}", Scene::drawn(seed).searched(Budget::default()));
        pool.install(|| (0..SCENES).into_par_iter().map(search).collect::<Vec<_>>())
    };
    assert_eq!(with(1), with(4));
}

#[test]
fn a_profile_agrees_with_the_motion_and_its_samples() {
    for seed in 0..SCENES / 4 {
        let scene = Scene::drawn(seed);
        let budget = Budget::default();
        let whole = scene.searched(budget);
        let world = still_world(&scene.mechanism);
        let rules = |segment, a, b| scene.rule(segment, a, b);
        let task =
            Task { segments: &scene.segments, rules: &rules, same_rules: &|a, b| a == b, overrun: &scene.overrun };
        let search = ClearanceSearch::new(&scene.mechanism, &world, budget);
        let Some(group) = whole.groups().first().copied() else { continue };
        let profile = profile(&search, &task, group, 5);
        assert_eq!(profile.len(), 10);
        let bounds = || profile.iter().filter_map(|(_, bound)| *bound);
        let least = |end: fn(Bound) -> f64| bounds().map(end).fold(f64::INFINITY, f64::min);
        let bound = whole.bound(group).expect("it has pairs within the cap");
        assert!(least(|bound| bound.lower) <= bound.upper && bound.lower <= least(|bound| bound.upper));
        for (interval, bound) in &profile {
            let lower = bound.map_or(budget.cap, |bound| bound.lower);
            for share in [0.0, 0.3, 0.7, 1.0] {
                let fraction = interval.start + share * (interval.end - interval.start);
                let posed = scene.mechanism.pose(&scene.segments[interval.segment].at(fraction));
                for (bodies, _) in scene.watched(interval.segment).iter().filter(|(_, rule)| rule.group == group) {
                    let found = scene.separations(&posed, *bodies, budget.cap);
                    assert!(found.iter().all(|found| lower <= found.upper), "seed {seed}, {interval:?}: {found:?}");
                }
            }
        }
    }
}

/// A capsule from the origin along x that turns about z past a post, a ball: signed distance of the two along the way.
struct LinkAndPost {
    mechanism: Mechanism,
    segment: Segment,
}

impl LinkAndPost {
    fn new((length, link_radius): (f64, f64), (radius, at, post_radius): (f64, f64, f64), turn: f64) -> Self {
        let mut builder = MechanismBuilder::new();
        let post = point([radius * at.to_radians().cos(), radius * at.to_radians().sin(), 0.0]);
        body_on(&mut builder, LinkId::STRUCTURE, Convex { radius: post_radius, ..post });
        let (turns, z) = (JointMotion::Revolute, Vector::z_axis());
        let link = builder.joint("link", LinkId::STRUCTURE, Pose::identity(), turns, z, Range::FREE);
        body_on(&mut builder, link, Convex { radius: link_radius, ..line([0.0; 3], [length, 0.0, 0.0]) });
        let segment = Segment { from: vec![0.0], to: vec![turn.to_radians()] };
        Self { mechanism: builder.finish(), segment }
    }

    fn bracketed(&self, limit: f64) -> Entry {
        searched_alone(&self.mechanism, self.segment.clone(), limit, 3.0).entries[0]
    }

    /// The least of `count` evenly spread samples, ends included.
    fn sampled(&self, count: usize) -> f64 {
        let at = |k: usize| {
            let posed = self.mechanism.pose(&self.segment.at(k as f64 / (count - 1) as f64));
            let [a, b] = [BodyId(0), BodyId(1)]
                .map(|body| self.mechanism.body(body).parts[0].posed(posed.link(self.mechanism.body(body).link)));
            separation(&a, &b).upper
        };
        (0..count).map(at).fold(f64::INFINITY, f64::min)
    }
}

/// Check values, "a least distance between samples": the post's radius, the true least distance R − L − r − ρ at 45°, and
/// the least of 2, 4, 10, 46, 92 samples; closed forms, printed to six digits.
const POSTS: [(f64, f64, [f64; 5]); 2] = [
    (2.20, 0.12, [1.475635, 0.502969, 0.191084, 0.123323, 0.120818]),
    (2.05, -0.03, [1.369569, 0.450579, 0.103585, -0.018772, -0.027034]),
];
const COUNTS: [usize; 5] = [2, 4, 10, 46, 92];

fn post(radius: f64) -> LinkAndPost {
    LinkAndPost::new((2.0, 0.05), (radius, 45.0, 0.03), 90.0)
}

pub fn deviations() -> Vec<Deviation> {
    let outside = POSTS.map(|(radius, least, _)| {
        let bound = post(radius).bracketed(0.1).nominal.bound;
        (bound.lower - least).max(least - bound.upper).max(0.0)
    });
    let samples = POSTS.into_iter().flat_map(|(radius, _, samples)| {
        COUNTS.into_iter().zip(samples).map(move |(count, expected)| (post(radius).sampled(count) - expected).abs())
    });
    vec![
        Deviation::of("link past a post: least distance, beyond the bracket (m)", "closed form", ROUNDING, outside),
        Deviation::of("link past a post: least of 2 to 92 samples (m)", "closed form, six digits", 1e-6, samples),
    ]
}

#[test]
fn the_bound_finds_the_least_distance_that_lies_between_samples() {
    assert_allowed(&deviations());
    for (radius, _, samples) in POSTS {
        let bound = post(radius).bracketed(0.1).nominal.bound;
        assert!(bound.gap() <= 1e-3, "{bound:?}");
        for (count, sampled) in COUNTS.into_iter().zip(samples).filter(|(count, _)| *count < 92) {
            assert!(sampled > bound.upper + 5e-4, "{count} samples are as good as the bound");
        }
    }
}

#[test]
fn a_limit_that_is_broken_between_samples_of_a_degree_is_told() {
    // Check values: a link of 7 m turns by 60° past a post at 7.05 m and 30.5°; both thin. True 0.05 m, each 1° 0.0791 m.
    let scene = LinkAndPost::new((7.0, 0.0), (7.05, 30.5, 0.0), 60.0);
    let sampled = scene.sampled(61);
    assert!((sampled - 0.07910875).abs() < 1e-8, "{sampled}");
    let limit = 0.06;
    let entry = scene.bracketed(limit);
    let bound = entry.nominal.bound;
    assert!(sampled > limit && bound.upper < limit && entry.worst.bound.lower < entry.rule.limit, "{bound:?}");
    assert!(bound.lower <= 0.05 && 0.05 <= bound.upper + ROUNDING && bound.gap() <= 1e-3, "{bound:?}");
}
