//! Which points of two line segments are nearest to one another?
//!
//! # Law
//! Minimise `|p₀ + s·u − q₀ − t·v|²` over `s, t ∈ [0, 1]`: the unconstrained minimum in `s`, clamped; the best `t` for it;
//! if that `t` is outside, clamped, and the best `s` for the clamped `t`. The determinant of the two equations is taken as
//! `|u × v|²`, which keeps its digits for nearly parallel segments where `u²v² − (u·v)²` has none left.
//!
//! # Source
//! Ericson, *Real-Time Collision Detection*, 2005, section 5.1.9 (from memory); the determinant is ours.

use super::Point;

/// A nearest point of each segment, for crossing segments twice the same; ends may coincide (a point).
#[inline]
pub(super) fn nearest_points([p_start, p_end]: [&Point; 2], [q_start, q_end]: [&Point; 2]) -> (Point, Point) {
    let u = p_end - p_start;
    let v = q_end - q_start;
    let from_q_to_p = p_start - q_start;
    let (uu, vv) = (u.norm_squared(), v.norm_squared());
    let (along_u, along_v) = (u.dot(&from_q_to_p), v.dot(&from_q_to_p));
    let (s, t) = if uu == 0.0 && vv == 0.0 {
        (0.0, 0.0)
    } else if uu == 0.0 {
        (0.0, (along_v / vv).clamp(0.0, 1.0))
    } else if vv == 0.0 {
        ((-along_u / uu).clamp(0.0, 1.0), 0.0)
    } else {
        let uv = u.dot(&v);
        let across = u.cross(&v);
        let determinant = across.norm_squared();
        let s =
            if determinant > 0.0 { (v.cross(&from_q_to_p).dot(&across) / determinant).clamp(0.0, 1.0) } else { 0.0 };
        let t = (uv * s + along_v) / vv;
        if t < 0.0 {
            ((-along_u / uu).clamp(0.0, 1.0), 0.0)
        } else if t > 1.0 {
            (((uv - along_u) / uu).clamp(0.0, 1.0), 1.0)
        } else {
            (s, t)
        }
    };
    (p_start + u * s, q_start + v * t)
}
