//! `trusswalk bodies`, run as a user would.

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::Value;

fn printed(format: &str) -> String {
    let starter = concat!(env!("CARGO_MANIFEST_DIR"), "/scenes/starter");
    let ran = cargo_bin_cmd!("trusswalk").args(["bodies", starter, "--format", format]).assert().success();
    String::from_utf8(ran.get_output().stdout.clone()).expect("it is text")
}

#[test]
fn a_box_is_where_its_plan_puts_it() {
    let bodies: Vec<Value> = serde_json::from_str(&printed("json")).expect("a list");
    let panel = bodies.iter().find(|body| body["body"] == "near-panel").expect("it is listed");
    assert_eq!(panel["class"], "structure");
    // `place` [7.15, 0.0, 1.12], size [0.60, 0.80, 0.16].
    let ends = [("x", 6.85, 7.45), ("y", -0.40, 0.40), ("z", 1.04, 1.20)];
    for (axis, lowest, highest) in ends {
        let of = |end: &str| panel[format!("{end}_{axis}_m")].as_f64().expect("a number");
        assert!((of("lowest") - lowest).abs() < 1e-12 && (of("highest") - highest).abs() < 1e-12, "{panel}");
    }
}

#[test]
fn every_format_lists_the_same_bodies() {
    let bodies: Vec<Value> = serde_json::from_str(&printed("json")).expect("a list");
    let names: Vec<&str> = bodies.iter().filter_map(|body| body["body"].as_str()).collect();
    assert!(["truss/bay-0/longeron-0", "arm/elbow-pitch/boom", "rider/helmet"].iter().all(|name| names.contains(name)));
    let first = |text: String| -> Vec<String> {
        let words = |line: &str| line.split([',', ' ']).next().unwrap_or_default().to_owned();
        text.lines().skip(1).take(names.len()).map(words).collect()
    };
    assert_eq!(first(printed("csv")), names);
    let text = printed("text");
    assert!(
        text.ends_with(&format!("{} bodies at the start of the plan; metres in the structure's frame\n", names.len()))
    );
    assert_eq!(first(text), names);
}
