//! What a failing target is told to do: the starter with one number changed.

use std::fs;

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::Value;

/// The help of the violations of a check, in the starter with one text in place of another.
fn help(check: &str, (written, instead): (&str, &str)) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    cargo_bin_cmd!("trusswalk").arg("new").arg(folder.path()).assert().success();
    let path = folder.path().join("plan.toml");
    let plan = fs::read_to_string(&path).expect("the plan");
    assert!(plan.contains(written), "{written}");
    fs::write(&path, plan.replacen(written, instead, 1)).expect("it can be written");
    let printed = cargo_bin_cmd!("trusswalk").args(["check", "--format", "json"]).arg(folder.path()).assert().code(1);
    let report: Value = serde_json::from_slice(&printed.get_output().stdout).expect("the report is JSON");
    let findings = report["findings"].as_array().expect("findings");
    let violated = findings.iter().filter(|finding| finding["status"] == "violation" && finding["check"] == check);
    violated.filter_map(|finding| finding["help"].as_str().map(str::to_owned)).collect()
}

#[test]
fn a_tool_longer_than_the_arm_is_named() {
    let told = help("posture", ("tool_m = 0.20", "tool_m = 30"));
    assert!(told.len() == 1 && told[0].starts_with("a shorter tool: `tool_m` is 30.00 m"), "{told:?}");
}

#[test]
fn an_axis_that_points_at_the_crewmember_is_named() {
    let told = help("posture", ("axis = [0, 0, -1]", "axis = [0, 0, 1]"));
    assert!(told.len() == 1 && told[0].contains("this one points back at them"), "{told:?}");
}

#[test]
fn a_target_too_far_says_by_how_much_and_where() {
    for check in ["reach", "posture"] {
        let told = help(check, ("at_m = [7.15, 0.15, 1.20]", "at_m = [7.15, 0.15, -2.0]"));
        let [told] = &told[..] else { panic!("{told:?}") };
        let nearer =
            told.strip_prefix("the plate ").and_then(|told| told.split_once(" m nearer, towards (")).expect(told);
        let by: f64 = nearer.0.parse().expect("a number");
        assert!((2.0..2.4).contains(&by) && nearer.1.contains("-1.00)"), "{told}");
    }
}

#[test]
fn what_blocks_the_hand_is_named_with_what_would_allow_it() {
    let told = help("posture", ("on = [\"near-panel\"]", "on = []"));
    let [told] = &told[..] else { panic!("{told:?}") };
    assert!(told.starts_with("blocked by near-panel: "), "{told}");
    assert!(told.ends_with("add \"near-panel\" to the target's `on`"), "{told}");
}

#[test]
fn what_lies_too_deep_is_sent_out_and_not_deeper() {
    let told = help("clearance", ("at_m = [7.15, 0.15, 1.20]", "at_m = [7.15, 0.15, 1.08]"));
    assert!(
        !told.is_empty() && told.iter().all(|told| told.starts_with("rider/left-tool towards (+0.00, +0.00, +1.00)")),
        "{told:?}"
    );
}
