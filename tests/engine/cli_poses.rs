//! `trusswalk poses`, run as a user would, on the plan that `new` writes.

use std::path::Path;

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::Value;

fn starter() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes/starter")
}

fn lines(args: &[&str]) -> Vec<Value> {
    let printed =
        cargo_bin_cmd!("trusswalk").arg("poses").arg(starter()).args(args).assert().success().get_output().clone();
    let text = String::from_utf8(printed.stdout).expect("JSON is text");
    text.lines().map(|line| serde_json::from_str(line).expect("a line is JSON")).collect()
}

fn refused(args: &[&str]) -> String {
    let told = cargo_bin_cmd!("trusswalk").arg("poses").arg(starter()).args(args).assert().code(2).get_output().clone();
    String::from_utf8(told.stderr).expect("messages are text")
}

#[test]
fn every_moment_has_a_pose_for_every_body_and_the_arm_moves_between_them() {
    let lines = lines(&["step-3/transit", "--moments", "3"]);
    let [bodies, moments @ ..] = &lines[..] else { panic!("no lines") };
    let bodies = bodies["bodies"].as_array().expect("bodies come first");
    assert_eq!(moments.len(), 3);
    let moving = |line: &Value| (line["joints"].clone(), line["poses"].clone());
    for moment in moments {
        assert_eq!(moment["poses"].as_array().map(Vec::len), Some(bodies.len()));
        assert_eq!(moment["motion"], "step-3/transit");
    }
    assert!(moments.windows(2).all(|pair| moving(&pair[0]) != moving(&pair[1])));
    // What is fixed stays.
    let fixed: Vec<usize> = (0..bodies.len()).filter(|id| bodies[*id]["class"] == "structure").collect();
    assert!(!fixed.is_empty() && fixed.iter().all(|id| moments[0]["poses"][id] == moments[2]["poses"][id]));
}

#[test]
fn the_arms_joints_come_first_in_its_order_and_without_noise() {
    let printed = cargo_bin_cmd!("trusswalk")
        .arg("poses")
        .arg(starter())
        .args(["step-3/transit", "--at", "0:0.3"])
        .assert()
        .success()
        .get_output()
        .clone();
    let text = String::from_utf8(printed.stdout).expect("JSON is text");
    let (_, joints) = text.rsplit_once("\"joints\":{").expect("joints");
    let (joints, _) = joints.split_once('}').expect("their end");
    let order =
        ["shoulder-yaw", "shoulder-pitch", "upper-roll", "elbow-pitch", "wrist-pitch", "wrist-yaw", "wrist-roll"];
    let found: Vec<&str> = joints.split(',').filter_map(|joint| joint.split('"').nth(1)).take(order.len()).collect();
    assert_eq!(found, order.map(|name| format!("arm/{name}")));
    for value in joints.split(',').filter_map(|joint| joint.split(':').nth(1)) {
        let decimals = value.split_once('.').map_or("", |(_, decimals)| decimals);
        assert!(decimals.len() <= 9, "{value}");
    }
}

#[test]
fn a_named_moment_equals_the_spread_one() {
    let named = lines(&["step-3/transit", "--at", "0:0.5"]);
    let spread = lines(&["step-3/transit", "--moments", "3"]);
    assert_eq!((named.len(), &named[1]), (2, &spread[2]));
}

#[test]
fn an_unknown_motion_or_moment_is_told_what_exists() {
    assert_eq!(
        refused(&["step-3/transitt", "--moments", "3"]),
        "error: `step-3/transitt` is no motion of this plan; nearest: `step-3/transit`\n"
    );
    assert_eq!(
        refused(&["step-3/transit", "--at", "7:0.5"]),
        "error: motion `step-3/transit` has no segment 7; its segments are 0 to 0\n"
    );
    assert!(refused(&["step-3/transit", "--at", "0:1.5"]).contains("expected a segment and a fraction from 0 to 1"));
    assert!(refused(&["step-3/transit"]).contains("--moments"));
}
