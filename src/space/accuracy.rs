//! Are the errors that `space` states the errors that it makes?
//!
//! Every pair of kinds of core is asked about on the same random pairs, at our sizes: bodies of 0.1 to 3 m, within 10 m.
//! *Bracket* is `upper − lower`: both are bounds whatever the routine did, so it bounds the error of either. *Library* is the
//! difference from the geometry library's general routine on its own shapes, for cores apart.

use super::library::reference;
use super::random::{Kind, Random};
use super::separation::nearest_points;
use super::{Point, PosedCore, separation};

const PAIRS_OF_EACH: usize = 10_000;

/// The worst seen, in metres.
struct Worst {
    bracket_apart: f64,
    bracket_overlapping: f64,
    library: f64,
}

fn measured(a_kind: Kind, b_kind: Kind) -> Worst {
    let mut random = Random::seeded(20);
    let mut worst = Worst { bracket_apart: 0.0, bracket_overlapping: 0.0, library: 0.0 };
    for _ in 0..PAIRS_OF_EACH {
        let spread = if random.unit() < 0.5 { 3.0 } else { 1.0 };
        let (a, b) = (random.shape(a_kind), random.shape(b_kind));
        let (a_pose, b_pose) = (random.pose(spread), random.pose(spread));
        let (a_posed, b_posed) = (a.posed(&a_pose), b.posed(&b_pose));
        let found = separation(&a_posed, &b_posed);
        let bracket = found.upper - found.lower;
        assert!(bracket >= 0.0, "bounds in the wrong order: {found:?}");
        let normal = found.normal.into_inner();
        let core_points =
            [(&a_posed.core, found.point_a - normal * a.radius), (&b_posed.core, found.point_b + normal * b.radius)];
        let core_distance = found.upper + a.radius + b.radius;
        let library_distance = reference::distance(&a.core, &a_pose, &b.core, &b_pose);
        if core_distance > 1e-12 {
            worst.bracket_apart = worst.bracket_apart.max(bracket);
            worst.library = worst.library.max((core_distance - library_distance).abs());
            for (core, point) in core_points {
                assert!(outside_by(core, point) < 1e-13, "witness is not in the core: {found:?}");
            }
        } else {
            worst.bracket_overlapping = worst.bracket_overlapping.max(bracket);
            assert!(library_distance < 1e-12, "overlap that the library does not see");
        }
    }
    worst
}

fn outside_by(core: &PosedCore, point: Point) -> f64 {
    nearest_points(&PosedCore::Point(point), core).map_or(0.0, |(p, q)| (q - p).norm())
}

/// Rows of the table in the layer's documentation: the pair and three figures.
fn stated() -> Vec<(String, [f64; 3])> {
    include_str!("mod.rs")
        .lines()
        .filter_map(|line| line.strip_prefix("//! | "))
        .filter_map(|row| {
            let cells: Vec<&str> = row.split('|').map(str::trim).collect();
            let figure = |k: usize| cells.get(k).and_then(|cell| cell.parse().ok());
            Some((cells.first()?.to_string(), [figure(1)?, figure(2)?, figure(3)?]))
        })
        .collect()
}

#[test]
fn no_error_is_greater_than_the_table_says() {
    let stated = stated();
    let mut too_great = Vec::new();
    for (a_kind, b_kind) in Kind::pairs() {
        let pair = format!("{a_kind:?}, {b_kind:?}").to_lowercase();
        let row = stated.iter().find(|(name, _)| *name == pair);
        let allowed = row.map_or([0.0; 3], |(_, figures)| *figures);
        let worst = measured(a_kind, b_kind);
        let seen = [worst.bracket_apart, worst.bracket_overlapping, worst.library];
        println!("//! | {pair} | {:.0e} | {:.0e} | {:.0e} |", seen[0], seen[1], seen[2]);
        if row.is_none() || seen.iter().zip(allowed).any(|(seen, allowed)| *seen > allowed) {
            too_great.push(format!("{pair}: seen {seen:?}, stated {allowed:?}"));
        }
    }
    assert!(too_great.is_empty(), "{too_great:#?}");
}
