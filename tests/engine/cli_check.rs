//! `trusswalk check`, run as a user would, on the demo that the program carries inside.

use std::fs;

use assert_cmd::cargo::cargo_bin_cmd;
use serde_json::Value;

/// Exit code and stdout.
fn check(args: &[&str]) -> (i32, String) {
    let printed = cargo_bin_cmd!("trusswalk").arg("check").args(args).output().expect("the program runs");
    let told = String::from_utf8_lossy(&printed.stderr).into_owned();
    assert_eq!(told, "", "work that ends well says nothing beside its result");
    let text = String::from_utf8(printed.stdout).expect("reports are text");
    (printed.status.code().expect("it ends by itself"), text)
}

fn json(args: &[&str]) -> Value {
    let (_, text) = check(&[&["--format", "json"], args].concat());
    serde_json::from_str(&text).expect("the report is JSON")
}

#[test]
fn without_a_command_the_demo_is_checked() {
    let bare = cargo_bin_cmd!("trusswalk").output().expect("the program runs");
    assert_eq!(String::from_utf8_lossy(&bare.stdout), check(&[]).1);
}

#[test]
fn the_exit_code_says_whether_a_limit_is_violated() {
    let violations = json(&[])["counts"]["violations"].as_u64().expect("a count");
    for format in ["text", "json", "csv", "waypoints"] {
        assert_eq!(check(&["--format", format]).0, i32::from(violations > 0), "{format}");
    }
}

#[test]
fn the_text_fits_the_page_and_never_prints_a_negative_zero() {
    let (_, text) = check(&[]);
    assert!(text.lines().all(|line| line.chars().count() <= 120));
    assert!(!text.contains("-0.000") && !text.contains('\x1b'));
}

#[test]
fn the_same_bytes_come_out_of_any_number_of_threads() {
    let with = |threads: &str| {
        let mut command = cargo_bin_cmd!("trusswalk");
        command.env("RAYON_NUM_THREADS", threads).args(["check", "--format", "json"]);
        command.output().expect("the program runs").stdout
    };
    assert!(with("1") == with("4"), "reports of 1 and of 4 threads differ");
}

#[test]
fn every_input_is_named_with_the_sha_256_of_its_bytes() {
    let report = json(&[]);
    let inputs = report["inputs"].as_array().expect("a list");
    assert!(inputs.iter().any(|input| input["path"] == "plan.toml"));
    for input in inputs {
        let digest = input["sha256"].as_str().expect("a digest");
        assert!(digest.len() == 64 && digest.chars().all(|digit| digit.is_ascii_hexdigit()), "{digest}");
    }
}

#[test]
fn only_keeps_one_motion_and_nothing_else() {
    let whole = json(&[]);
    let id = whole["motions"][0]["id"].as_str().expect("the demo has motions");
    let kept = json(&["--only", id]);
    assert_eq!(kept["options"]["only"], id);
    assert_eq!(kept["motions"], Value::from(vec![whole["motions"][0].clone()]));
    assert_eq!(kept["visits"], Value::from(Vec::<Value>::new()));
    let of_motion = |finding: &&Value| finding["where"]["motion"] == id;
    let expected: Vec<&Value> = whole["findings"].as_array().into_iter().flatten().filter(of_motion).collect();
    assert!(!expected.is_empty());
    assert_eq!(kept["findings"].as_array().into_iter().flatten().collect::<Vec<_>>(), expected);
}

#[test]
fn only_accepts_a_step_and_a_worksite_where_nobody_works() {
    let of_step = json(&["--only", "to-bay"]);
    let ids: Vec<&str> =
        of_step["motions"].as_array().into_iter().flatten().filter_map(|motion| motion["id"].as_str()).collect();
    assert_eq!(ids, ["to-bay/retreat", "to-bay/transit", "to-bay/approach"]);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let dir = folder.path().join("plan");
    cargo_bin_cmd!("trusswalk").arg("new").arg(&dir).assert().success();
    let plan = fs::read_to_string(dir.join("plan.toml")).expect("the plan");
    let parked = "[[worksite]]\nid = \"parked\"\napproach = [0, 0, -1]\nstand = \"near-end\"\n\
                  joints_deg_m = [0, -60, 0, 90, -30, 0, 0]\ndetents_deg = [0, 0]\n\n[[step]]\ndo = \"ingress\"";
    fs::write(dir.join("plan.toml"), plan.replacen("[[step]]\ndo = \"ingress\"", parked, 1)).expect("written");
    let (code, text) = check(&[dir.to_str().expect("a path of letters"), "--only", "parked"]);
    assert_eq!(code, 0);
    assert!(text.contains("NOTHING WAS CHECKED"), "{text}");
    assert!(text.contains("worksite parked: nobody works there; no step leads there"), "{text}");
}

#[test]
fn one_cause_takes_few_lines_and_every_finding_is_counted() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    cargo_bin_cmd!("trusswalk").arg("new").arg(folder.path().join("plan")).assert().success();
    let path = folder.path().join("plan/plan.toml");
    let plan = fs::read_to_string(&path).expect("the plan");
    let hasty = "at_most_min = 15\n\n[[step.waypoint]]\njoints_deg_m = [0, -50, 0, 90, -40, 0, 0]\nduration_s = 2\n";
    fs::write(&path, plan.replacen("at_most_min = 15\n", hasty, 1)).expect("written");
    let plan = path.to_str().expect("a path of letters");
    let (code, text) = check(&[plan]);
    let counted = json(&[plan])["counts"]["violations"].as_u64().expect("a count");
    assert!(code == 1 && counted > 100, "{counted} violations");
    let violations = text.split("\nTIGHT\n").next().expect("a beginning");
    assert!(violations.lines().count() < 60, "{violations}");
    assert!(violations.contains(&format!("NOT CLEAN: {counted} violations (")), "{violations}");
    assert!(violations.contains("\n1. speed: motion step-3/transit (3 violations)\n"), "{violations}");
    assert!(violations.contains(&format!("trusswalk poses {plan} step-3/transit --at 0:")), "{violations}");
    assert!(violations.contains("overrun, rate · "), "{violations}");
}

#[test]
fn an_unknown_name_after_only_is_refused() {
    let told =
        cargo_bin_cmd!("trusswalk").args(["check", "--only", "no-such-place"]).assert().code(2).get_output().clone();
    assert!(told.stdout.is_empty());
    let told = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(told.starts_with("error: `no-such-place` is no worksite, motion or step of this plan"), "{told}");
}

#[test]
fn a_file_gets_what_stdout_would() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("findings.csv");
    let (_, printed) = check(&["--format", "csv", "--out", path.to_str().expect("a path of letters")]);
    assert_eq!(printed, "");
    assert_eq!(fs::read_to_string(&path).expect("the file is there"), check(&["--format", "csv"]).1);
    let nowhere = folder.path().join("no-such-folder/findings.csv");
    let told = cargo_bin_cmd!("trusswalk").args(["check", "--out"]).arg(nowhere).assert().code(2).get_output().clone();
    assert!(String::from_utf8_lossy(&told.stderr).contains("no-such-folder"));
}
