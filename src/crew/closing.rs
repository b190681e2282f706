//! How far is a closing limb's middle joint from where a tree has it, if the limb's end strays a little?
//!
//! # Law
//! A limb of lengths *a* (root H to middle K) and *b* (K to end A), d = |HA|. The tree has its end ε and its end's axes τ
//! away from where they are held in truth; the root is the same. Going from the one to the other, K moves by at most the
//! sum of
//! - a·ε/d, as the line HA turns,
//! - a·|β(d ± ε) − β(d)|, as it changes length: cos β = (a² + d² − b²)/(2ad) at H,
//! - h·(τ + ε/d)/sin γ, as the limb's plane turns: h = a·sin β is K's distance from HA, and γ the angle between HA and the
//!   axis of the end that the plane contains (of a boot: towards the toes, as knee and ankle bend about parallel axes).
//!
//! Where the limb is nearly straight the second is far greater than ε: 21 mm for 1 mm on two lengths of 0.43 m. It holds
//! to first order in ε and τ; [`ALLOWANCE`] covers the rest, and a property test defends it.

use crate::space::{Point, Vector};

/// For what the law leaves out beyond first order.
const ALLOWANCE: f64 = 1.1;

/// A limb where a tree has it, in the structure's frame.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limb {
    pub root: Point,
    pub middle: Point,
    pub end: Point,
    /// The axis of the end that the limb's plane contains; none where nothing but the end's place is held and the limb
    /// keeps its plane.
    pub in_plane: Option<Vector>,
}

impl Limb {
    /// How far the middle may be from where the tree has it, m, the end straying by at most `stray` m and `turn` rad.
    pub fn middle_stray(&self, stray: f64, turn: f64) -> f64 {
        let (a, b) = ((self.middle - self.root).norm(), (self.end - self.middle).norm());
        let to_end = self.end - self.root;
        let d = to_end.norm();
        let swing = stray / d;
        let angle_at_root = |d: f64| {
            let cosine = (a * a + d * d - b * b) / (2.0 * a * d);
            cosine.clamp(-1.0, 1.0).acos()
        };
        let now = angle_at_root(d);
        let bend = [d - stray, (d + stray).min(a + b)].map(|d| (angle_at_root(d) - now).abs());
        let plane = self.in_plane.map_or(0.0, |axis| {
            let sine = to_end.cross(&axis).norm() / (d * axis.norm());
            now.sin() * (turn + swing) / sine
        });
        ALLOWANCE * a * (swing + bend[0].max(bend[1]) + plane)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::Crewmember;
    use crate::crew::descent::descend;
    use crate::crew::posture_change::right_leg;
    use crate::crew::rows::{N, Row};
    use crate::crew::testing::{closed_postures, in_empty_space};
    use crate::mechanism::Range;
    use crate::mechanism::random_tree::Draw;

    #[test]
    fn a_straight_leg_lets_its_knee_go_21_mm_for_one() {
        // Design: 1 mm on two lengths of 0.43 m is 21 mm; here with the allowance and the swing of the line.
        let limb = Limb {
            root: Point::origin(),
            middle: Point::new(0.0, 0.0, -0.43),
            end: Point::new(0.0, 0.0, -0.86),
            in_plane: None,
        };
        let stray = limb.middle_stray(1e-3, 0.0) / ALLOWANCE;
        assert!((stray - 0.021).abs() < 0.0005, "{stray}");
    }

    #[test]
    fn the_knee_of_a_closed_posture_is_within_the_stray_of_one_that_is_not_quite() {
        // Closed postures are the truth. What the tree has is the right leg with its boot moved and turned a little.
        in_empty_space(|crew| {
            let mut draw = Draw(17);
            let (mut tightest, mut compared) = (0.0_f64, 0);
            for q in closed_postures(600) {
                let mut size = || if draw.between(0.0, 3.0) < 1.0 { 0.0 } else { 10f64.powf(draw.between(-5.0, -2.7)) };
                let sizes = [size(), size()];
                let [moved, turned] = sizes.map(|size| draw.direction().into_inner() * size);
                let Some(off) = with_right_boot_off(crew, &q, &moved, &turned) else {
                    continue;
                };
                let [tree, true_one] = [off, q].map(|q| crew.mechanism.pose(&q));
                let [limb, truth] = [&tree, &true_one].map(|posed| right_leg(crew.links, posed));
                let boot = crew.links.right_boot;
                let turn = tree.link(boot).rotation.angle_to(&true_one.link(boot).rotation);
                let bound = limb.middle_stray((limb.end - truth.end).norm(), turn);
                let stray = (limb.middle - truth.middle).norm();
                assert!(stray <= bound + 1e-12, "{stray} > {bound}: {moved:?} {turned:?}");
                compared += 1;
                if bound > 1e-6 {
                    tightest = tightest.max(stray / bound);
                }
            }
            assert!(compared > 400 && tightest > 0.6, "{compared} compared, {tightest} of the bound");
        });
    }

    /// The same posture but for the right leg, which has its boot moved and turned; none where it has no such posture.
    fn with_right_boot_off(crew: &Crewmember, q: &[f64; N], moved: &Vector, turned: &Vector) -> Option<[f64; N]> {
        const RIGHT_LEG: std::ops::Range<usize> = N - 6..N;
        let held = |k: usize| Range { lowest: q[k], highest: q[k] };
        let ranges = std::array::from_fn(|k| if RIGHT_LEG.contains(&k) { crew.ranges[k] } else { held(k) });
        let rows = |q: &[f64; N], rows: &mut Vec<Row>| {
            crew.boot_rows(&crew.mechanism.pose(q), rows);
            for k in 0..3 {
                rows[k].residual -= moved[k];
                rows[3 + k].residual -= turned[k];
            }
        };
        let found = descend(rows, q, q, &ranges);
        (found.norm < 1e-9).then_some(found.q)
    }
}
