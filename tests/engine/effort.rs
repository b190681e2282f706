//! A search that meets many collisions ends after few intervals: counted, as times depend on the machine.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use trusswalk::check::{Case, Known, Silent};
use trusswalk::files::read_project;
use trusswalk::mechanism::{Body, BodyId, JointMotion, LinkId, Mechanism, MechanismBuilder, Range};
use trusswalk::model::BodyClass;
use trusswalk::motion::{Budget, Clearance, ClearanceSearch, Entry, Group, Rule, Segment, Task, still_world};
use trusswalk::space::{Convex, Core, Point, Pose, Vector};
use trusswalk::state::{Scene, walk};

/// Pairs that come below their limit, by number, and the most by which one of their brackets is wider than it may be, m.
fn below_limit(clearance: &Clearance, mechanism: &Mechanism) -> (usize, f64) {
    let broken = clearance.entries.iter().filter(|entry| entry.nominal.bound.upper < entry.rule.limit);
    broken.fold((0, f64::NEG_INFINITY), |(count, most), entry| {
        (count + 1, f64::max(most, entry.nominal.bound.gap() - allowed(entry, mechanism)))
    })
}

/// How wide the bracket of a pair below its limit may be, m. Of an overlapping cylinder the distance routine leaves 0.5 % of
/// the radius open, and the search a tenth of its own width beside that.
fn allowed(entry: &Entry, mechanism: &Mechanism) -> f64 {
    let of_part = |part: &Convex| match part.core {
        Core::Cylinder { radius, .. } if entry.nominal.bound.upper < 0.0 => 0.005 * radius,
        _ => 0.0,
    };
    let of_body = |body: &BodyId| mechanism.body(*body).parts.iter().map(of_part).fold(0.0, f64::max);
    let own_gap = Budget::default().own_gap;
    own_gap.max(entry.bodies.iter().map(of_body).sum::<f64>() + 0.1 * own_gap)
}

#[test]
fn the_demo_flown_straight_through_its_trusses_is_bounded_in_a_few_hundred_intervals() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes/demo");
    let mut loaded = read_project(&folder).unwrap_or_else(|problems| panic!("{problems}"));
    loaded.project.plan.step.iter_mut().for_each(|step| step.waypoint.clear());
    let scene = Scene::new(&loaded.project, &loaded.meshes);
    let walked = walk(&scene);
    let stop = AtomicBool::new(false);
    let case = Case::new((&scene, &walked), &Known::default(), &Silent, &stop).expect("nobody stops it");
    let mut collisions = 0;
    for moved in &case.moves {
        let (broken, too_wide) = below_limit(&moved.clearance, &moved.frozen);
        let intervals = moved.clearance.intervals;
        collisions += broken;
        println!("{}: {broken} pairs below their limits, {intervals} intervals", moved.moved.id);
        assert!(!moved.clearance.budget_spent && intervals < 600, "{}: {intervals}", moved.moved.id);
        assert!(too_wide <= 1e-9, "{}: {too_wide}", moved.moved.id);
    }
    assert!(collisions > 300, "{collisions}");
}

#[test]
fn a_carried_mesh_drawn_through_a_lattice_is_bounded_in_a_few_hundred_intervals() {
    let mut builder = MechanismBuilder::new();
    for k in 0..30 {
        let x = -3.0 + 0.2 * f64::from(k);
        let bar = Core::Segment(Point::new(x, -2.0, -1.0), Point::new(x + 0.3, 2.0, 1.0));
        builder.body(body(format!("bar-{k}"), BodyClass::Structure, LinkId::STRUCTURE, vec![(bar, 0.05)]));
    }
    let base = Pose::translation(0.0, -4.0, 0.0);
    let turns = JointMotion::Revolute;
    let first = builder.joint("first", LinkId::STRUCTURE, base, turns, Vector::z_axis(), Range::FREE);
    let second = builder.joint("second", first, Pose::translation(2.0, 0.0, 0.0), turns, Vector::z_axis(), Range::FREE);
    builder.body(body("load".to_owned(), BodyClass::Payload, second, torus()));
    let mechanism = builder.finish();
    let world = still_world(&mechanism);
    let rule = Rule { group: Group(0), limit: 0.2, stopping_limit: 0.0 };
    let clearance = ClearanceSearch::new(&mechanism, &world, Budget::default()).run(&Task {
        segments: &[Segment { from: vec![0.2, 0.1], to: vec![2.4, 1.0] }],
        rules: &|_, _, _| Some(rule),
        same_rules: &|_, _| true,
        overrun: &[],
    });
    let (broken, too_wide) = below_limit(&clearance, &mechanism);
    println!("{broken} pairs below their limits, {} intervals", clearance.intervals);
    assert!(broken > 20 && too_wide <= 1e-9, "{broken} {too_wide}");
    assert!(!clearance.budget_spent && clearance.intervals < 600, "{}", clearance.intervals);
}

fn body(name: String, class: BodyClass, link: LinkId, parts: Vec<(Core, f64)>) -> Body {
    let parts = parts.into_iter().map(|(core, radius)| Convex { core, radius }).collect();
    Body { name, class, link, parts, filled: None, growth: 0.0 }
}

/// The facets of a ring of 32 by 16 quadrangles, two metres from the joint.
fn torus() -> Vec<(Core, f64)> {
    let at = |k: usize, l: usize| {
        let turn = |number: usize, of: f64| number as f64 / of * std::f64::consts::TAU;
        let ((sin, cos), (up, out)) = (turn(k, 32.0).sin_cos(), turn(l, 16.0).sin_cos());
        let reach = 0.6 + 0.2 * out;
        Point::new(2.0 + reach * cos, reach * sin, 0.2 * up)
    };
    let facets = |k: usize, l: usize| {
        let [a, b, c, d] = [at(k, l), at(k + 1, l), at(k + 1, l + 1), at(k, l + 1)];
        [(Core::Triangle([a, b, c]), 0.0), (Core::Triangle([a, c, d]), 0.0)]
    };
    (0..32).flat_map(|k| (0..16).flat_map(move |l| facets(k, l))).collect()
}
