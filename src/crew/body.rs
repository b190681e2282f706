//! How does a suited body hang on a boot plate?
//!
//! # Law
//! The tree is rooted at the left boot, which the plate holds, and runs up the left leg to the pelvis, and from there to
//! trunk, head, arms and down the right leg. The right boot must come to rest in its place on the plate: that closes a
//! loop that a tree can't hold, so it is left to whoever solves for a posture.
//!
//! Every link's axes are x forward, y left, z up along the body when all joints are at zero. A limb that runs from the
//! trunk outwards has the joints flexion, abduction, rotation in that order; the left leg runs inwards, so its joints
//! come in reverse order about reversed axes, which gives each angle the same meaning as on the right.

use std::f64::consts::PI;
use std::ops::Range as Span;

use crate::mechanism::{BodyId, LinkId, MechanismBuilder};
use crate::model::{BodyClass, Suit};
use crate::space::{Pose, Vector};

use super::figure::Figure;
use super::growing::Growing;
use super::segment;
use super::side::{Side, Sides};
use super::suit;

/// The helmet's field of view about straight ahead: half angles, rad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    pub sideways: f64,
    pub up: f64,
    pub down: f64,
}

impl View {
    /// The same field of view, narrower by a factor.
    pub(super) fn scaled(self, by: f64) -> Self {
        Self { sideways: self.sideways * by, up: self.up * by, down: self.down * by }
    }

    /// How far a direction, so far to the left and up (rad), lies outside; zero or less inside.
    pub fn beyond(self, left: f64, up: f64) -> f64 {
        (left.abs() - self.sideways).max(up - self.up).max(-up - self.down)
    }
}

/// Where the parts of an attached body are in its mechanism.
#[derive(Clone, Debug, PartialEq)]
pub struct BodyLinks {
    pub class: BodyClass,
    /// The boot plate.
    pub plate: LinkId,
    /// Origin at the ankle, fixed on the plate: everything of the body hangs on it.
    pub left_boot: LinkId,
    /// Origin at the ankle.
    pub right_boot: LinkId,
    /// Where the right boot must be: fixed on the plate.
    pub right_boot_place: LinkId,
    /// Origin at the knee on the left, at the hip joint on the right: where the thigh hangs in the tree.
    pub thigh: Sides<LinkId>,
    /// Origin between the hip joints.
    pub pelvis: LinkId,
    /// Origin where the chest turns on the abdomen.
    pub chest: LinkId,
    /// Origin at the shoulder joint, fixed on the chest.
    pub shoulder: Sides<LinkId>,
    /// Origin at the elbow.
    pub forearm: Sides<LinkId>,
    /// Origin at the wrist.
    pub hand: Sides<LinkId>,
    /// Origin at the centre of the grip, z out of the hand along fingers and tool, x to the thumb.
    pub grip: Sides<LinkId>,
    /// Origin between the eyes, x straight ahead.
    pub eye: LinkId,
    /// The variables that are the body's own, in the order of [`suit::JOINTS`].
    pub variables: Span<usize>,
    /// Body segments, pack and helmet.
    pub bodies: Span<usize>,
    /// Pairs of them that may touch: neighbours, and what suit and flesh press together.
    pub may_touch: Vec<(BodyId, BodyId)>,
    /// The neutral posture, in the order of the variables, rad.
    pub neutral: Vec<f64>,
    pub view: View,
    pub figure: Figure,
}

impl BodyLinks {
    /// The names of all its links and bodies begin with this.
    pub fn prefix(&self) -> &'static str {
        prefix(self.class)
    }

    /// Values for a posture of named joints (rad), the others neutral; an unknown name is handed back.
    pub fn named_posture<'a>(&self, joints: impl IntoIterator<Item = (&'a str, f64)>) -> Result<Vec<f64>, &'a str> {
        let mut q = self.neutral.clone();
        for (name, value) in joints {
            let at = suit::JOINTS.iter().position(|joint| *joint == name).ok_or(name)?;
            q[at] = value;
        }
        Ok(q)
    }
}

fn prefix(class: BodyClass) -> &'static str {
    if class == BodyClass::SecondCrew { "second-crew/" } else { "rider/" }
}

/// Pairs beyond the neighbours in the tree that suit and flesh press together: thighs, the folds of hip and waist, and
/// the helmet on its ring.
const PRESSED: [[&str; 2]; 6] = [
    ["left-thigh", "right-thigh"],
    ["left-thigh", "abdomen"],
    ["right-thigh", "abdomen"],
    ["pelvis", "chest"],
    ["head", "chest"],
    ["helmet", "chest"],
];

/// Hangs a suited body on a boot plate. `plate` has its origin between the boots on its face, x where the toes point,
/// y left, z out of it towards the head; `boot_spacing` is between the boots' middle lines, m.
pub fn attach(
    builder: &mut MechanismBuilder,
    (plate, boot_spacing): (LinkId, f64),
    class: BodyClass,
    (figure, suit): (&Figure, &Suit),
) -> BodyLinks {
    let first_variable = builder.so_far().variable_count();
    let first_body = builder.so_far().bodies().len();
    let mut body = Growing::new(builder, class, prefix(class), suit);
    let f = figure;
    let up = |length: f64| Pose::translation(0.0, 0.0, length);
    let here = Pose::identity();

    let ankle_forward = f.heel_to_ankle - 0.5 * f.boot_length;
    let on_plate = |side: Side| Pose::translation(ankle_forward, side.sign() * 0.5 * boot_spacing, f.ankle_height);
    let right_boot_place = body.fixed("right-boot-place", plate, on_plate(Side::Right));
    let left_boot = body.fixed("left-boot", plate, on_plate(Side::Left));
    body.segment("left-boot", left_boot, segment::boot(f));

    let inversion = body.joint_inwards("left-ankle-inversion", left_boot, here);
    let shank = body.joint_inwards("left-ankle-flexion", inversion, here);
    body.segment("left-shank", shank, segment::along_z(0.0, f.shank, f.shank_radius));
    let left_thigh = body.joint_inwards("left-knee-flexion", shank, up(f.shank));
    body.segment("left-thigh", left_thigh, segment::along_z(0.0, f.thigh, f.thigh_radius));
    let rotation = body.joint_inwards("left-hip-rotation", left_thigh, up(f.thigh));
    let abduction = body.joint_inwards("left-hip-abduction", rotation, here);
    let hip = body.joint_inwards("left-hip-flexion", abduction, here);

    let pelvis = body.fixed("pelvis", hip, Pose::translation(0.0, -0.5 * f.hip_spacing, 0.0));
    body.segment("pelvis", pelvis, segment::pelvis(f));
    let abdomen = body.joint("waist-flexion", pelvis, up(f.hip_to_waist));
    body.segment("abdomen", abdomen, segment::abdomen(f));
    let side_bend = body.joint("waist-side-bend", abdomen, up(f.abdomen));
    let chest = body.joint("waist-rotation", side_bend, here);
    body.segment("chest", chest, segment::chest(f));
    body.segment("pack", chest, segment::pack(f));

    let neck = body.joint("neck-flexion", chest, up(f.chest_to_neck));
    body.segment("neck", neck, segment::along_z(0.0, 0.5 * f.neck_to_eye, f.neck_radius));
    let head = body.joint("neck-rotation", neck, here);
    body.segment("head", head, segment::head(f, f.head_radius));
    body.segment("helmet", head, segment::head(f, f.helmet_radius));
    let eye = body.fixed("eye", head, Pose::translation(f.head_forward + f.eye_forward, 0.0, f.neck_to_eye));

    let arms = Sides::of(|side| arm(&mut body, side, chest, f));

    let socket = Pose::translation(0.0, -0.5 * f.hip_spacing, 0.0);
    let flexion = body.joint("right-hip-flexion", pelvis, socket);
    let abduction = body.joint("right-hip-abduction", flexion, here);
    let right_thigh = body.joint("right-hip-rotation", abduction, here);
    body.segment("right-thigh", right_thigh, segment::along_z(-f.thigh, 0.0, f.thigh_radius));
    let shank = body.joint("right-knee-flexion", right_thigh, up(-f.thigh));
    body.segment("right-shank", shank, segment::along_z(-f.shank, 0.0, f.shank_radius));
    let flexion = body.joint("right-ankle-flexion", shank, up(-f.shank));
    let right_boot = body.joint("right-ankle-inversion", flexion, here);
    body.segment("right-boot", right_boot, segment::boot(f));

    let may_touch = body.may_touch(&PRESSED);
    let names = suit::JOINTS.iter();
    let view =
        View { sideways: suit.view_sideways.radians(), up: suit.view_up.radians(), down: suit.view_down.radians() };
    BodyLinks {
        class,
        plate,
        left_boot,
        right_boot,
        right_boot_place,
        thigh: Sides { left: left_thigh, right: right_thigh },
        pelvis,
        chest,
        shoulder: Sides::of(|side| arms.on(side).shoulder),
        forearm: Sides::of(|side| arms.on(side).forearm),
        hand: Sides::of(|side| arms.on(side).hand),
        grip: Sides::of(|side| arms.on(side).grip),
        eye,
        variables: first_variable..builder.so_far().variable_count(),
        bodies: first_body..builder.so_far().bodies().len(),
        may_touch,
        neutral: names.map(|name| suit::neutral(suit, name).expect("every joint has a kind")).collect(),
        view,
        figure: figure.clone(),
    }
}

#[derive(Clone, Copy)]
struct Arm {
    shoulder: LinkId,
    forearm: LinkId,
    hand: LinkId,
    grip: LinkId,
}

fn arm(body: &mut Growing, side: Side, chest: LinkId, f: &Figure) -> Arm {
    let named = |part: &str| format!("{}-{part}", side.word());
    let down = |length: f64| Pose::translation(0.0, 0.0, -length);
    let here = Pose::identity();
    let socket = Pose::translation(0.0, side.sign() * 0.5 * f.shoulder_spacing, f.chest_to_shoulder);
    let shoulder = body.fixed(&named("shoulder"), chest, socket);
    let flexion = body.joint(&named("shoulder-flexion"), shoulder, here);
    let abduction = body.joint(&named("shoulder-abduction"), flexion, here);
    let upper_arm = body.joint(&named("shoulder-rotation"), abduction, here);
    body.segment(&named("upper-arm"), upper_arm, segment::along_z(-f.upper_arm, 0.0, f.upper_arm_radius));
    let elbow = body.joint(&named("elbow-flexion"), upper_arm, down(f.upper_arm));
    let forearm = body.joint(&named("forearm-roll"), elbow, here);
    body.segment(&named("forearm"), forearm, segment::along_z(-f.forearm, 0.0, f.forearm_radius));
    let flexion = body.joint(&named("wrist-flexion"), forearm, down(f.forearm));
    let hand = body.joint(&named("wrist-deviation"), flexion, here);
    body.segment(&named("hand"), hand, segment::along_z(-f.wrist_to_grip, 0.0, f.hand_radius));
    let half_turn = Pose::new(Vector::new(0.0, 0.0, -f.wrist_to_grip), Vector::new(PI, 0.0, 0.0));
    let grip = body.fixed(&named("grip"), hand, half_turn);
    Arm { shoulder, forearm, hand, grip }
}

/// Puts a tool into a hand: a rod of invented thickness from the grip to the tool's end, `length` m out of the hand.
pub fn hold_tool(builder: &mut MechanismBuilder, links: &BodyLinks, side: Side, length: f64) -> BodyId {
    builder.body(crate::mechanism::Body {
        name: format!("{}{}-tool", links.prefix(), side.word()),
        class: links.class,
        link: *links.grip.on(side),
        parts: vec![segment::tool(&links.figure, length)],
        filled: None,
        growth: 0.0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::crew::testing::standing;
    use crate::model::BODY_SEGMENTS;
    use crate::space::Point;

    fn place(pose: &Pose) -> Point {
        Point::from(pose.translation.vector)
    }

    #[test]
    fn its_bodies_are_named_as_plans_name_them() {
        let (mechanism, links) = standing();
        let names = mechanism.bodies()[links.bodies].iter().map(|body| body.name.strip_prefix("rider/"));
        assert!(names.eq(BODY_SEGMENTS.map(Some)));
    }

    #[test]
    fn at_zero_the_body_stands_upright_as_tall_as_measured() {
        let (mechanism, links) = standing();
        let posed = mechanism.pose(&vec![0.0; mechanism.variable_count()]);
        let f = &links.figure;
        let (eye, shoulder) = (place(posed.link(links.eye)), place(posed.link(links.shoulder.right)));
        // ANSUR II, mean of men: eyes 1642.4 mm, acromion 1440.7 mm above the floor; the sole adds the suit's thickness.
        let sole = f.ankle_height - 0.0729;
        assert!((eye.z - sole - 1.6424).abs() < 1e-9 && (shoulder.z - sole - 1.4407).abs() < 1e-9);
        let grip = place(posed.link(links.grip.left));
        assert!((shoulder.z - grip.z - f.upper_arm - f.forearm - f.wrist_to_grip).abs() < 1e-9);
        assert!((posed.link(links.grip.left).rotation * Vector::z() + Vector::z()).norm() < 1e-12);
    }

    #[test]
    fn variables_come_in_the_order_of_the_named_joints() {
        let (mechanism, links) = standing();
        assert_eq!(links.variables, 0..suit::JOINTS.len());
        for (variable, name) in suit::JOINTS.iter().enumerate() {
            assert_eq!(mechanism.variable_named(&format!("rider/{name}")), Some(variable));
        }
    }

    #[test]
    fn nineteen_bodies_make_seventeen_segments_pack_and_helmet() {
        let (mechanism, links) = standing();
        assert_eq!(links.bodies.len(), 19);
        assert!(["rider/pack", "rider/helmet", "rider/left-forearm"].iter().all(|n| mechanism.body_named(n).is_some()));
    }

    #[test]
    fn an_angle_means_the_same_on_both_sides() {
        // Mirror the left arm's place in the plane of symmetry of the chest: it must be the right arm's. So for the legs,
        // though the left one's tree runs the other way.
        let (mechanism, links) = standing();
        let mut draw = crate::mechanism::random_tree::Draw(7);
        let mut q = vec![0.0; mechanism.variable_count()];
        for name in suit::JOINTS.iter().filter_map(|name| name.strip_prefix("left-")) {
            let value = draw.between(-0.8, 0.8);
            for side in Side::BOTH {
                let joint = format!("{}-{name}", side.word());
                q[suit::JOINTS.iter().position(|known| *known == joint).expect("both sides")] = value;
            }
        }
        let posed = mechanism.pose(&q);
        let mirrored = |p: Point| Point::new(p.x, -p.y, p.z);
        let seen_from = |base: LinkId, link: LinkId| place(&posed.link(base).inv_mul(posed.link(link)));
        for (base, left, right) in
            [(links.chest, links.grip.left, links.grip.right), (links.pelvis, links.left_boot, links.right_boot)]
        {
            assert!((mirrored(seen_from(base, left)) - seen_from(base, right)).norm() < 1e-12);
        }
        let toes =
            |boot: LinkId| posed.link(links.pelvis).rotation.inverse() * (posed.link(boot).rotation * Vector::x());
        let (left, right) = (toes(links.left_boot), toes(links.right_boot));
        assert!((Vector::new(left.x, -left.y, left.z) - right).norm() < 1e-12);
    }

    #[test]
    fn positive_angles_do_what_their_words_say() {
        let (mechanism, links) = standing();
        let with = |name: &str| {
            let q = suit::JOINTS.iter().map(|joint| if *joint == name { 0.5 } else { 0.0 }).collect::<Vec<f64>>();
            mechanism.pose(&q)
        };
        let seen = |name: &str, base: LinkId, link: LinkId| {
            let posed = with(name);
            place(&posed.link(base).inv_mul(posed.link(link)))
        };
        let zero = |base: LinkId, link: LinkId| {
            let posed = mechanism.pose(&vec![0.0; mechanism.variable_count()]);
            place(&posed.link(base).inv_mul(posed.link(link)))
        };
        let (pelvis, chest, hand, boot) = (links.pelvis, links.chest, links.grip.right, links.right_boot);
        let moves = |name: &str, base: LinkId, link: LinkId| seen(name, base, link) - zero(base, link);
        assert!(moves("right-elbow-flexion", chest, hand).x > 0.1, "bent: the hand comes forward");
        assert!(moves("right-shoulder-flexion", chest, hand).x > 0.1, "raised forward");
        assert!(moves("right-shoulder-abduction", chest, hand).y < -0.1, "raised sideways: to the right");
        assert!(moves("right-knee-flexion", pelvis, boot).x < -0.1, "bent: the foot goes back");
        assert!(moves("right-hip-flexion", pelvis, boot).x > 0.1, "raised forward");
        assert!(moves("right-hip-abduction", pelvis, boot).y < -0.1, "spread outward");
        assert!(moves("waist-flexion", pelvis, links.eye).x > 0.1, "bent forward");
        assert!(moves("waist-side-bend", pelvis, links.eye).y > 0.1, "bent to the left");
        assert!(moves("waist-rotation", pelvis, links.eye).y > 0.02, "turned to the left");
        assert!(moves("neck-flexion", chest, links.eye).z < -0.01, "bent forward: eyes go down");
        assert!(moves("right-wrist-flexion", chest, hand).y > 0.02, "to the palm, which faces the thigh");
        assert!(moves("right-wrist-deviation", chest, hand).x > 0.02, "to the thumb, which points forward");
    }

    #[test]
    fn straight_line_lengths_follow_the_law_of_cosines() {
        // check values, law of cosines: 335 and 267 mm at an elbow of 122°, 0.245 and 0.246 of 1755 mm at a knee of 133°.
        let mut crew = crate::model::Crew::default();
        crew.measures.upper_arm_m = Some(0.335);
        crew.measures.forearm_m = Some(0.267);
        crew.measures.ankle_height_m = Some(0.0);
        crew.measures.knee_height_m = Some(0.246 * 1.755);
        crew.measures.trochanterion_height_m = Some(0.491 * 1.755);
        let (mechanism, links) = crate::crew::testing::standing_as(&crew, &Suit::default());
        let q = links
            .named_posture([
                ("right-elbow-flexion", 58f64.to_radians()),
                ("right-knee-flexion", 47f64.to_radians()),
                ("right-hip-abduction", 0.0),
            ])
            .expect("known joints");
        let posed = mechanism.pose(&q);
        let between = |a: LinkId, b: LinkId| (place(posed.link(a)) - place(posed.link(b))).norm();
        assert!((between(links.shoulder.right, links.hand.right) - 0.527552).abs() < 1e-6);
        let hip = mechanism.link_named("rider/right-hip-flexion").expect("a hip");
        assert!((between(hip, links.right_boot) - 0.790236).abs() < 1e-6);
    }
}
