//! A search that meets many collisions ends after few intervals: counted, as times depend on the machine.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use trusswalk::check::{Case, Known, Silent};
use trusswalk::files::read_project;
use trusswalk::mechanism::{Body, JointMotion, LinkId, MechanismBuilder, Range};
use trusswalk::model::BodyClass;
use trusswalk::motion::{Budget, Clearance, ClearanceSearch, Group, Rule, Segment, Task, still_world};
use trusswalk::space::{Convex, Core, Point, Pose, Vector};
use trusswalk::state::{Scene, walk};

/// Pairs that come below their limit, by number, and the widest bracket among them, m.
fn below_limit(clearance: &Clearance) -> (usize, f64) {
    let broken = clearance.entries.iter().filter(|entry| entry.nominal.bound.upper < entry.rule.limit);
    broken.fold((0, 0.0), |(count, widest), entry| (count + 1, f64::max(widest, entry.nominal.bound.gap())))
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
        let (broken, widest) = below_limit(&moved.clearance);
        let intervals = moved.clearance.intervals;
        collisions += broken;
        println!("{}: {broken} pairs below their limits, {intervals} intervals", moved.moved.id);
        assert!(!moved.clearance.budget_spent && intervals < 600, "{}: {intervals}", moved.moved.id);
        assert!(widest <= Budget::default().own_gap, "{}: {widest}", moved.moved.id);
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
    let (broken, widest) = below_limit(&clearance);
    println!("{broken} pairs below their limits, {} intervals", clearance.intervals);
    assert!(broken > 20 && widest <= Budget::default().own_gap, "{broken} {widest}");
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
