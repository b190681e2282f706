//! What is the surface of a mesh, and what does it enclose?
//!
//! # Law
//! Vertices in exactly the same place are one vertex: files repeat them for each facet. Triangles with a repeated vertex have no
//! surface and do not count; flat ones with three vertices do, as they may close a gap between others.
//! - Each triangle uses its three edges, each in a direction. An edge used an odd number of times is *open*; a mesh without open
//!   edges is *closed*; one whose every edge is used as often in either direction is *oriented*.
//! - A closed, oriented mesh winds round a point w = Σ Ω / 4π times, Ω the solid angle of each triangle seen from the point,
//!   tan(Ω/2) = a·(b × c) / (|a||b||c| + (a·b)|c| + (b·c)|a| + (c·a)|b|). It contains the point when w is not nearer to 0 than to ±1:
//!   an inner surface the other way round is a hole, whichever way round the whole is.
//!
//! # Source
//! van Oosterom & Strackee, *The solid angle of a plane triangle*, 1983 (from memory).
//!
//! # Not covered
//! Surfaces that cut through themselves; points within 1e-9 m of the surface may be told to be on either side of it.

use std::collections::BTreeMap;

use super::Point;

/// Triangles over vertices, metres.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    pub vertices: Vec<Point>,
    /// Corners as indices into `vertices`; a triangle whose index is out of range does not count.
    pub triangles: Vec<[usize; 3]>,
}

impl Mesh {
    /// How many edges are open: none on the surface of a solid.
    pub fn open_edges(&self) -> usize {
        self.edge_uses().values().filter(|(forward, backward)| (forward + backward) % 2 == 1).count()
    }

    /// Whether there is a surface and no edge of it is open.
    pub fn is_closed(&self) -> bool {
        let uses = self.edge_uses();
        !uses.is_empty() && uses.values().all(|(forward, backward)| (forward + backward) % 2 == 0)
    }

    /// Whether the surface has the same side outside everywhere; an open one never has.
    pub fn is_oriented(&self) -> bool {
        self.edge_uses().values().all(|(forward, backward)| forward == backward)
    }

    /// Whether the point is inside. Means something only for a mesh that is closed and oriented.
    pub fn contains(&self, point: &Point) -> bool {
        let mut half_angles = 0.0;
        for [a, b, c] in self.facets().filter_map(|(_, corners)| self.points(corners)) {
            let (a, b, c) = (a - point, b - point, c - point);
            let (a_length, b_length, c_length) = (a.norm(), b.norm(), c.norm());
            let across = a.dot(&b.cross(&c));
            let along =
                a_length * b_length * c_length + a.dot(&b) * c_length + b.dot(&c) * a_length + c.dot(&a) * b_length;
            half_angles += across.atan2(along);
        }
        // Ω / 4π is half the angle over 2π; half a turn or more is inside.
        f64::abs(half_angles) >= std::f64::consts::PI
    }

    /// The volume enclosed, in cubic metres: positive when facets run counter-clockwise seen from outside.
    ///
    /// Means something only for a mesh that is closed and oriented.
    pub fn volume(&self) -> f64 {
        let Some(middle) = self.vertices.first() else {
            return 0.0;
        };
        self.facets()
            .filter_map(|(_, corners)| self.points(corners))
            .map(|[a, b, c]| (a - middle).dot(&(b - middle).cross(&(c - middle))) / 6.0)
            .sum()
    }

    /// The triangles of each part that hangs together by shared vertices, in the order of their first triangles.
    pub fn connected_parts(&self) -> Vec<Vec<usize>> {
        let mut leader: Vec<usize> = (0..self.vertices.len()).collect();
        for (_, [a, b, c]) in self.facets() {
            for (p, q) in [(a, b), (b, c)] {
                let (p, q) = (leader_of(&mut leader, p), leader_of(&mut leader, q));
                leader[p.max(q)] = p.min(q);
            }
        }
        let mut part_of_leader = BTreeMap::new();
        let mut parts: Vec<Vec<usize>> = Vec::new();
        for (index, [a, _, _]) in self.facets() {
            let part = *part_of_leader.entry(leader_of(&mut leader, a)).or_insert_with(|| {
                parts.push(Vec::new());
                parts.len() - 1
            });
            parts[part].push(index);
        }
        parts
    }

    /// How often each edge is used from its lower to its higher vertex, and the other way.
    fn edge_uses(&self) -> BTreeMap<(usize, usize), (usize, usize)> {
        let mut uses = BTreeMap::new();
        for (_, [a, b, c]) in self.facets() {
            for (from, to) in [(a, b), (b, c), (c, a)] {
                let (forward, backward) = uses.entry((from.min(to), from.max(to))).or_insert((0, 0));
                if from < to {
                    *forward += 1;
                } else {
                    *backward += 1;
                }
            }
        }
        uses
    }

    /// The triangles that count, with their index; vertices in the same place go by the index of the first.
    fn facets(&self) -> impl Iterator<Item = (usize, [usize; 3])> {
        let mut first_at = BTreeMap::new();
        // Adding zero makes −0 and 0 the same bits.
        let place = |p: &Point| [p.x, p.y, p.z].map(|x| (x + 0.0).to_bits());
        let first: Vec<usize> =
            self.vertices.iter().enumerate().map(|(k, p)| *first_at.entry(place(p)).or_insert(k)).collect();
        self.triangles.iter().enumerate().filter_map(move |(index, [i, j, k])| {
            let corners @ [a, b, c] = [*first.get(*i)?, *first.get(*j)?, *first.get(*k)?];
            (a != b && b != c && c != a).then_some((index, corners))
        })
    }

    fn points(&self, corners: [usize; 3]) -> Option<[Point; 3]> {
        let [a, b, c] = corners.map(|k| self.vertices.get(k).copied());
        Some([a?, b?, c?])
    }
}

/// The lowest vertex known to hang together with `vertex`.
fn leader_of(leader: &mut [usize], mut vertex: usize) -> usize {
    while leader[vertex] != vertex {
        leader[vertex] = leader[leader[vertex]];
        vertex = leader[vertex];
    }
    vertex
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::space::Vector;
    use crate::space::random::Random;

    /// Six faces of two triangles each, counter-clockwise seen from outside.
    fn brick(half: [f64; 3]) -> Mesh {
        let sign = |k: usize, bit: usize| if k >> bit & 1 == 1 { 1.0 } else { -1.0 };
        let vertices =
            (0..8).map(|k| Point::new(sign(k, 0) * half[0], sign(k, 1) * half[1], sign(k, 2) * half[2])).collect();
        let faces = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
        let triangles = faces.iter().flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]).collect();
        Mesh { vertices, triangles }
    }

    /// As files hold it: each triangle with vertices of its own.
    fn unshared(mesh: &Mesh) -> Mesh {
        let vertices = mesh.triangles.iter().flatten().map(|k| mesh.vertices[*k]).collect::<Vec<_>>();
        let triangles = (0..mesh.triangles.len()).map(|k| [3 * k, 3 * k + 1, 3 * k + 2]).collect();
        Mesh { vertices, triangles }
    }

    fn reversed(mesh: &Mesh) -> Mesh {
        let triangles = mesh.triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect();
        Mesh { vertices: mesh.vertices.clone(), triangles }
    }

    fn together(one: &Mesh, other: &Mesh) -> Mesh {
        let offset = one.vertices.len();
        let mut both = one.clone();
        both.vertices.extend(&other.vertices);
        both.triangles.extend(other.triangles.iter().map(|corners| corners.map(|k| k + offset)));
        both
    }

    fn displaced(mesh: &Mesh, by: Vector) -> Mesh {
        Mesh { vertices: mesh.vertices.iter().map(|p| p + by).collect(), triangles: mesh.triangles.clone() }
    }

    #[test]
    fn a_box_is_closed_oriented_and_of_its_volume_with_shared_vertices_and_without() {
        let shared = brick([0.5, 1.0, 1.5]);
        for mesh in [unshared(&shared), shared] {
            assert!(mesh.is_closed() && mesh.is_oriented());
            assert!((mesh.volume() - 6.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_box_without_a_lid_has_four_open_edges_and_its_other_edges_match() {
        let mut mesh = brick([1.0; 3]);
        mesh.triangles.drain(2..4);
        assert_eq!(mesh.open_edges(), 4);
        assert!(!mesh.is_closed() && !mesh.is_oriented());
    }

    #[test]
    fn a_flipped_facet_opens_nothing_but_spoils_the_orientation() {
        let mut mesh = brick([1.0; 3]);
        mesh.triangles[5].swap(0, 1);
        assert_eq!(mesh.open_edges(), 0);
        assert!(mesh.is_closed() && !mesh.is_oriented());
    }

    #[test]
    fn a_triangle_with_a_repeated_vertex_changes_nothing() {
        let mut mesh = brick([1.0; 3]);
        mesh.triangles.push([3, 3, 4]);
        mesh.vertices.push(mesh.vertices[3]);
        mesh.triangles.push([3, 8, 5]);
        assert!(mesh.is_closed() && mesh.is_oriented());
        assert!((mesh.volume() - 8.0).abs() < 1e-12);
        assert!(mesh.contains(&Point::origin()));
        assert_eq!(mesh.connected_parts().concat().len(), 12);
    }

    #[test]
    fn a_triangle_whose_vertex_does_not_exist_does_not_count() {
        let mut mesh = brick([1.0; 3]);
        mesh.triangles.push([0, 1, 99]);
        assert!(mesh.is_closed() && mesh.is_oriented() && mesh.contains(&Point::origin()));
    }

    #[test]
    fn nothing_is_not_closed_and_contains_nothing() {
        let empty = Mesh::default();
        assert!(!empty.is_closed() && !empty.contains(&Point::origin()));
        assert_eq!(empty.volume(), 0.0);
        assert!(empty.connected_parts().is_empty());
    }

    #[test]
    fn a_box_contains_what_lies_between_its_faces_whichever_way_round_it_is() {
        let mut random = Random::seeded(51);
        let half = [0.5, 1.0, 1.5];
        let mesh = brick(half);
        let inside_out = reversed(&mesh);
        for _ in 0..20_000 {
            let point = random.point(2.0);
            let expected = (0..3).all(|k| point[k].abs() < half[k]);
            assert_eq!(mesh.contains(&point), expected, "{point}");
            assert_eq!(inside_out.contains(&point), expected, "{point}");
        }
    }

    #[test]
    fn points_a_nanometre_off_the_surface_are_told_apart() {
        let mesh = brick([0.5, 1.0, 1.5]);
        let mut random = Random::seeded(52);
        for _ in 0..1_000 {
            let (y, z) = (random.between(-0.999, 0.999), random.between(-1.499, 1.499));
            assert!(mesh.contains(&Point::new(0.5 - 1e-9, y, z)));
            assert!(!mesh.contains(&Point::new(0.5 + 1e-9, y, z)));
        }
    }

    #[test]
    fn a_cavity_is_outside() {
        let mesh = together(&brick([1.0; 3]), &reversed(&brick([0.4; 3])));
        assert!(mesh.is_closed() && mesh.is_oriented());
        assert!(!mesh.contains(&Point::origin()));
        assert!(mesh.contains(&Point::new(0.7, 0.0, 0.0)));
        assert!((mesh.volume() - (8.0 - 0.512)).abs() < 1e-12);
    }

    #[test]
    fn two_boxes_apart_are_two_parts_and_two_at_a_corner_are_one() {
        let one = brick([1.0; 3]);
        let apart = together(&one, &displaced(&one, Vector::new(5.0, 0.0, 0.0)));
        assert_eq!(apart.connected_parts(), [(0..12).collect::<Vec<_>>(), (12..24).collect()]);
        assert!(apart.contains(&Point::new(5.5, 0.0, 0.0)) && !apart.contains(&Point::new(2.5, 0.0, 0.0)));
        let at_a_corner = together(&one, &displaced(&one, Vector::new(2.0, 2.0, 2.0)));
        assert_eq!(at_a_corner.connected_parts().len(), 1);
    }
}
