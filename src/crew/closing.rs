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
    use crate::crew::testing::{closed_postures, standing};

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
        // Closed postures are the truth; joint values of the right leg a little off are what the tree has.
        let (mechanism, links) = standing();
        let mut draw = crate::mechanism::random_tree::Draw(17);
        let mut tightest: f64 = 0.0;
        for q in closed_postures(400) {
            let truth = mechanism.pose(&q);
            let mut off = q;
            let size = 10f64.powf(draw.between(-5.0, -2.0));
            for joint in &mut off[crate::crew::rows::N - 6..] {
                *joint += draw.between(-size, size);
            }
            let posed = mechanism.pose(&off);
            let limb = crate::crew::posture_change::right_leg(&links, &posed);
            let truly = crate::crew::posture_change::right_leg(&links, &truth);
            let turn = truth.link(links.right_boot).rotation.angle_to(&posed.link(links.right_boot).rotation);
            let bound = limb.middle_stray((limb.end - truly.end).norm(), turn);
            let moved = (limb.middle - truly.middle).norm();
            assert!(moved <= bound, "{moved} > {bound}");
            tightest = tightest.max(moved / bound);
        }
        assert!(tightest > 0.3, "loose: {tightest}");
    }
}
