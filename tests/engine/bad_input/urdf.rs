//! Mistakes in a URDF, and what a sound one means.

use trusswalk::model::{Angle, JointKind, Shape};

use super::*;

/// Invented: a fixed mount, a turning, a turning without end and a sliding joint, and a gripper beside the chain.
pub const URDF: &str = r#"<?xml version="1.0"?>
<robot name="invented">
  <link name="world"/>
  <link name="mount">
    <collision><origin xyz="0 0 0.1"/><geometry><box size="0.2 0.2 0.2"/></geometry></collision>
  </link>
  <link name="boom">
    <collision>
      <origin xyz="1.5 0 0" rpy="0 1.5707963267948966 0"/>
      <geometry><cylinder radius="0.1" length="3"/></geometry>
    </collision>
  </link>
  <link name="cover"><visual><geometry><sphere radius="0.2"/></geometry></visual></link>
  <link name="rail"/>
  <link name="hand"/>
  <link name="finger"/>
  <joint name="bolted" type="fixed">
    <origin xyz="0 0 0.5" rpy="0 0 1.5707963267948966"/>
    <parent link="world"/><child link="mount"/>
  </joint>
  <joint name="shoulder" type="revolute">
    <origin xyz="0 0 0.2"/>
    <parent link="mount"/><child link="boom"/>
    <axis xyz="0 0 1"/>
    <limit lower="-1.5" upper="2.5" velocity="0.05" effort="1"/>
  </joint>
  <joint name="clamp" type="fixed">
    <origin xyz="0.5 0 0"/>
    <parent link="boom"/><child link="cover"/>
  </joint>
  <joint name="slide" type="prismatic">
    <origin xyz="3 0 0"/>
    <parent link="boom"/><child link="rail"/>
    <axis xyz="1 0 0"/>
    <limit lower="0" upper="2" velocity="0.1"/>
  </joint>
  <joint name="roll" type="continuous">
    <parent link="rail"/><child link="hand"/>
    <limit velocity="0.2" effort="1"/>
  </joint>
  <joint name="grip" type="prismatic">
    <parent link="hand"/><child link="finger"/>
    <limit lower="0" upper="0.1" velocity="0.1"/>
  </joint>
</robot>
"#;

fn scene() -> Scene {
    let scene = Scene::new();
    scene.write("robot.urdf", URDF.as_bytes());
    scene.edit("plan.toml", "arm = \"arm.toml\"", "arm = \"robot.urdf\"\narm_links = [\"world\", \"hand\"]");
    scene.edit("plan.toml", "joints_deg_m = [0, -55, 0, 110, -55, 0, 0]", "joints_deg_m = [0, 1, 0]");
    scene.edit("plan.toml", "joints_deg_m = [0, -40, 0, 80, -40, 0, 0]", "joints_deg_m = [10, 1, 0]");
    scene
}

fn message_after(from: &str, to: &str) -> String {
    let scene = scene();
    scene.edit("robot.urdf", from, to);
    scene.message()
}

#[test]
fn a_sound_urdf_becomes_an_arm() {
    let loaded = scene().read().unwrap_or_else(|problems| panic!("{problems}"));
    let arm = &loaded.project.arm;
    let names: Vec<&str> = arm.joint.iter().map(|joint| joint.name.as_str()).collect();
    assert_eq!(names, ["shoulder", "slide", "roll"]);
    let [shoulder, slide, roll] = arm.joint.as_slice() else { panic!("three joints") };
    assert_eq!(shoulder.turn_limits.map(|limits| limits.map(|angle| angle.radians())), Some([-1.5, 2.5]));
    assert_eq!(shoulder.turn_rate.map(|rate| rate.radians()), Some(0.05));
    assert_eq!((slide.kind, slide.slide_limits, slide.slide_rate), (JointKind::Prismatic, Some([0.0, 2.0]), Some(0.1)));
    assert_eq!(roll.turn_limits.map(|limits| limits.map(|angle| angle.degrees())), Some([-360.0, 360.0]));
    assert_eq!(roll.axis, [1.0, 0.0, 0.0]);
    // The fixed joint is folded into the first place: 0.5 + 0.2 up, a quarter turn about z.
    assert!((shoulder.place.at_m[2] - 0.7).abs() < 1e-12);
    let quarter = std::f64::consts::FRAC_1_SQRT_2;
    let turn = shoulder.place.quat_xyzw.expect("a rotation");
    assert!((turn[2] - quarter).abs() < 1e-12 && (turn[3] - quarter).abs() < 1e-12, "{turn:?}");
    // The mount stands still with the base; what is clamped to the boom is part of it.
    let ids: Vec<&str> = arm.base.iter().chain(&shoulder.shape).map(|shape| shape.id.as_str()).collect();
    assert_eq!(ids, ["mount-1", "boom-1", "cover-1"]);
    assert!((arm.base[0].place.at_m[2] - 0.6).abs() < 1e-12);
    assert_eq!(shoulder.shape[1].place.at_m, [0.5, 0.0, 0.0]);
    assert_eq!(shoulder.shape[1].shape, Shape::Sphere { radius_m: 0.2 });
    assert_eq!(
        loaded.notes,
        ["robot.urdf: left out: `finger` and what it carries hang on the joint `grip`, which moves beside the chain"]
    );
}

#[test]
fn our_reading_agrees_with_another_reader_of_the_format() {
    // urdf-rs 0.10; origins, axes and limits of the joints of the chain.
    let robot = urdf_rs::read_from_string(URDF).expect("a URDF");
    let loaded = scene().read().unwrap_or_else(|problems| panic!("{problems}"));
    for joint in &loaded.project.arm.joint {
        let theirs = robot.joints.iter().find(|other| other.name == joint.name).expect("the same joint");
        assert_eq!(joint.axis, *theirs.axis.xyz);
        let rate = joint.turn_rate.map(|rate| rate.radians()).or(joint.slide_rate);
        assert_eq!(rate, Some(theirs.limit.velocity));
        let limits = joint.turn_limits.map(|limits| limits.map(|angle| angle.radians())).or(joint.slide_limits);
        if joint.name != "roll" {
            assert_eq!(limits, Some([theirs.limit.lower, theirs.limit.upper]));
        }
        if joint.name == "slide" {
            assert_eq!(joint.place.at_m, *theirs.origin.xyz);
        }
    }
}

#[test]
fn no_limits() {
    let message = message_after("    <limit lower=\"-1.5\" upper=\"2.5\" velocity=\"0.05\" effort=\"1\"/>\n", "");
    says_alone(&message, &["the joint `shoulder` has no `<limit>`", "robot.urdf:21:3", "nothing is guessed"]);
    let message = message_after("lower=\"-1.5\" upper=\"2.5\" velocity=\"0.05\"", "velocity=\"0.05\"");
    says(&message, &["`<limit>` has no `lower`", "`<limit>` has no `upper`", "robot.urdf:25:5"]);
    let message = message_after("upper=\"2.5\" velocity=\"0.05\"", "upper=\"2.5\"");
    says_alone(&message, &["`<limit>` has no `velocity`"]);
}

#[test]
fn reversed_limits() {
    let message = message_after("lower=\"-1.5\" upper=\"2.5\"", "lower=\"2.5\" upper=\"-1.5\"");
    says_alone(&message, &["the limits 2.5 and -1.5 are reversed", "robot.urdf:25:5"]);
}

#[test]
fn unexpanded_macros() {
    let declared = message_after(
        "<robot name=\"invented\">",
        "<robot name=\"invented\" xmlns:xacro=\"http://www.ros.org/wiki/xacro\">\n  <xacro:property name=\"r\" value=\"1\"/>",
    );
    says_alone(&declared, &["this macro is not expanded", "robot.urdf:3:3", "written out in full"]);
    let undeclared = message_after("<link name=\"rail\"/>", "<xacro:rail/>");
    says_alone(&undeclared, &["this macro is not expanded", "robot.urdf:14:"]);
    let value = message_after("radius=\"0.1\"", "radius=\"${r}\"");
    says_alone(&value, &["this macro is not expanded", "robot.urdf:10:27"]);
}

#[test]
fn words_that_are_no_numbers() {
    let message = message_after("xyz=\"0 0 0.5\"", "xyz=\"0 x 0 0.5\"");
    says_alone(&message, &["`x` is no number", "robot.urdf:18:18", "expected 3 numbers"]);
    let message = message_after("xyz=\"0 0 0.5\"", "xyz=\"0 0.5\"");
    says_alone(&message, &["there are 2 numbers", "expected 3 numbers"]);
    for number in ["nan", "inf", "1e99"] {
        let message = message_after("xyz=\"0 0 0.5\"", &format!("xyz=\"0 0 {number}\""));
        says_alone(&message, &["robot.urdf:18:18", "expected a"]);
    }
}

#[test]
fn a_zero_axis() {
    says_alone(
        &message_after("<axis xyz=\"0 0 1\"/>", "<axis xyz=\"0 0 0\"/>"),
        &["the axis has no direction", "robot.urdf:24:16"],
    );
}

#[test]
fn unknown_links_and_names_that_are_there_twice() {
    let message = message_after("<parent link=\"mount\"/>", "<parent link=\"mont\"/>");
    says_alone(&message, &["`mont` does not exist", "robot.urdf:23:19", "nearest: `mount`"]);
    says_alone(
        &message_after("<link name=\"rail\"/>", "<link name=\"rail\"/><link name=\"boom\"/>"),
        &["the link `boom` is there twice", "robot.urdf:14:34"],
    );
    let message = message_after("<joint name=\"slide\"", "<joint name=\"shoulder\"");
    says_alone(&message, &["the joint `shoulder` is there twice", "robot.urdf:31:16"]);
}

#[test]
fn circles_and_several_roots() {
    let message = message_after("<parent link=\"world\"/>", "<parent link=\"hand\"/>");
    says_alone(&message, &["the link `boom` hangs on itself: the joints run in a circle", "robot.urdf:7:3"]);
    let message = message_after("<child link=\"rail\"/>", "<child link=\"boom\"/>");
    says(&message, &["`boom` hangs on two joints", "robot.urdf:33:39"]);
    let message = message_after("<link name=\"rail\"/>", "<link name=\"rail\"/><link name=\"loose\"/>");
    says_alone(&message, &["2 links hang on nothing: loose, world", "expected a tree with one root"]);
}

#[test]
fn a_kind_of_joint_that_does_not_exist_or_is_not_read() {
    let message = message_after("type=\"prismatic\"", "type=\"prismatical\"");
    says_alone(&message, &["`prismatical` does not exist", "nearest: `prismatic`"]);
    let message = message_after("type=\"continuous\"", "type=\"floating\"");
    says_alone(&message, &["the joint `roll` on the chain mimics another, floats or is planar"]);
    let message = message_after("<limit velocity=\"0.2\"", "<mimic joint=\"slide\"/><limit velocity=\"0.2\"");
    says_alone(&message, &["the joint `roll` on the chain mimics another"]);
}

#[test]
fn a_link_that_has_only_a_mesh() {
    let mesh = "<geometry><mesh filename=\"package://x/boom.stl\"/></geometry>";
    let from = "<geometry><cylinder radius=\"0.1\" length=\"3\"/></geometry>";
    let says_what = ["the link `boom` has a mesh, which is not read", "robot.urdf:10:17", "`arm_shapes` file"];
    says_alone(&message_after(from, mesh), &says_what);
    let scene = scene();
    scene.edit("robot.urdf", from, mesh);
    scene.edit("plan.toml", "arm_links", "arm_shapes = \"shapes.toml\"\narm_links");
    let shapes = "acceleration_deg_s2 = 3\n[[link]]\nname = \"boom\"\n[[link.shape]]\nid = \"tube\"\nshape = { capsule = { length_m = 3, radius_m = 0.1 } }\n";
    scene.write("shapes.toml", shapes.as_bytes());
    let loaded = scene.read().unwrap_or_else(|problems| panic!("{problems}"));
    let shoulder = &loaded.project.arm.joint[0];
    assert_eq!(shoulder.shape[0].shape, Shape::Capsule { length_m: 3.0, radius_m: 0.1 });
    assert_eq!(shoulder.turn_acceleration, Some(Angle::from_degrees(3.0)));
    assert_eq!(loaded.project.arm.joint[1].slide_acceleration, None);
    scene.edit("shapes.toml", "name = \"boom\"", "name = \"bom\"");
    says(&scene.message(), &["`bom` does not exist", "shapes.toml:3:8", "nearest: `boom`"]);
}

#[test]
fn links_that_the_plan_misspells_or_turns_round() {
    let scene = scene();
    scene.edit("plan.toml", "[\"world\", \"hand\"]", "[\"word\", \"hand\"]");
    says_alone(&scene.message(), &["`word` does not exist", "plan.toml:8:14", "nearest: `world`"]);
    scene.edit("plan.toml", "[\"word\", \"hand\"]", "[\"hand\", \"world\"]");
    says_alone(&scene.message(), &["`world` does not hang on `hand`", "plan.toml:8:22"]);
    scene.edit("plan.toml", "arm_links = [\"hand\", \"world\"]", "");
    says_alone(&scene.message(), &["the arm is a URDF, and no links are named", "plan.toml:7:7"]);
}

#[test]
fn fixed_joints_that_lead_far_away() {
    let scene = scene();
    scene.edit("robot.urdf", "<origin xyz=\"0 0 0.5\"", "<origin xyz=\"0 0 500\"");
    scene.edit("robot.urdf", "<origin xyz=\"0 0 0.2\"/>", "<origin xyz=\"0 0 600\"/>");
    says_alone(&scene.message(), &["`shoulder` is 1100 m from the last joint that moves", "robot.urdf:21:"]);
    let message = message_after("<origin xyz=\"0 0 0.2\"/>", "<origin xyz=\"0 0 1001\"/>");
    says_alone(&message, &["1.001e3 is absurdly large", "expected a number of at most 1000"]);
}

#[test]
fn xml_that_is_none() {
    let message = message_after("</robot>", "");
    says_alone(&message, &["robot.urdf", "expected well-formed XML"]);
    let message = message_after("<link name=\"rail\"/>", "<link name=rail/>");
    says_alone(&message, &["robot.urdf:14:", "expected well-formed XML"]);
    let message = message_after("<robot name", "<!DOCTYPE a [<!ENTITY x \"y\">]><robot name");
    says_alone(&message, &["DTD", "robot.urdf:1:1"]);
    let scene = scene();
    scene.write("robot.urdf", b"<html></html>");
    says_alone(&scene.message(), &["the file is a `<html>`", "outermost element is `<robot>`"]);
}

#[test]
fn hostile_xml_is_answered_quickly() {
    let attributes: String = (0..200_000).map(|k| format!(" a{k}='1'")).collect();
    let many_joints: String = (0..20_000)
        .map(|k| {
            format!(
                "<link name='l{k}'/><joint name='j{k}' type='fixed'><parent link='l{k}'/><child link='l{}'/></joint>",
                k + 1
            )
        })
        .collect();
    for (text, wanted) in [
        (format!("<robot>{}", "<a>".repeat(200_000)), "nested too deeply"),
        (format!("<robot>{}{}</robot>", "<a>".repeat(200_000), "</a>".repeat(200_000)), "nested too deeply"),
        (format!("<robot{attributes}/>"), "too many attributes"),
        (format!("<robot>{}</robot>", "<a/>".repeat(300_000)), "nodes limit"),
        (format!("<robot>{many_joints}<link name='l20000'/></robot>"), "`world` does not exist"),
        ("<".repeat(1_000_000), "expected well-formed XML"),
        (" ".repeat(5 << 20), "larger than 4 MiB"),
    ] {
        let scene = scene();
        scene.write("robot.urdf", text.as_bytes());
        let begun = std::time::Instant::now();
        says(&scene.message(), &[wanted]);
        assert!(begun.elapsed().as_secs() < 5, "{wanted}: {:?}", begun.elapsed());
    }
}
