//! `mend`, as a user runs it: what it writes is checked by the program itself.

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::cargo::cargo_bin_cmd;
use tempfile::TempDir;

use crate::scenes::{Fault, demo_with, faults, put};

/// Exit code, stdout and stderr.
fn trusswalk(args: &[&str]) -> (i32, String, String) {
    let output = cargo_bin_cmd!("trusswalk").args(args).output().expect("it runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().expect("an exit code"), text(&output.stdout), text(&output.stderr))
}

fn name(path: &Path) -> &str {
    path.to_str().expect("a name in letters")
}

/// The starter in a folder, with one text in place of another.
fn starter_with(folder: &TempDir, old: &str, new: &str) -> PathBuf {
    let plan = folder.path().join("plan");
    let (code, _, said) = trusswalk(&["new", name(&plan)]);
    assert_eq!(code, 0, "{said}");
    let text = text_of(&plan);
    assert!(text.contains(old));
    fs::write(plan.join("plan.toml"), text.replace(old, new)).expect("written");
    plan
}

fn text_of(plan: &Path) -> String {
    fs::read_to_string(plan.join("plan.toml")).expect("the plan")
}

/// A waypoint to which the arm is to move ten times as quickly as the plan allows.
const HURRIED: [&str; 2] = [
    "at_most_min = 15\n",
    "at_most_min = 15\n\n[[step.waypoint]]\njoints_deg_m = [0, -50, 0, 80, -30, 0, 0]\nduration_s = 2.5 # in haste\n",
];

/// Mends the first of each cause, one after the other, and looks at what the plan has become.
fn mend_all(fault: &Fault) {
    let folder = demo_with(fault, &fault.fault);
    let before = text_of(folder.path());
    let mut told = String::new();
    // Two causes is the most that a fault has.
    let code = (0..2).find_map(|_| {
        let (code, out, said) = trusswalk(&["mend", name(folder.path()), "--apply", "1"]);
        told += &(out + &said);
        (code != 1).then_some(code)
    });
    assert_eq!(code, Some(0), "{}: {told}", fault.check);
    assert!(told.contains(" 0 violations,"), "{}: {told}", fault.check);
    let after = text_of(folder.path());
    assert_ne!(after, before, "{}", fault.check);
    let limits = |text: &str| {
        let from = text.find("# ---- Limits and tolerances").expect("limits");
        text[from..text.find("# ---- Where the arm stands").expect("their end")].to_owned()
    };
    assert_eq!(limits(&after), limits(&before), "{}: no mend changes a limit", fault.check);
    let comments = |text: &str| text.matches('#').count();
    assert_eq!(comments(&after), comments(&before), "{}", fault.check);
}

#[test]
fn every_fault_of_the_demo_is_mended() {
    let faults = faults();
    // One program does not keep two processors busy.
    let (some, others) = faults.split_at(faults.len() / 2);
    std::thread::scope(|scope| {
        scope.spawn(|| some.iter().for_each(mend_all));
        others.iter().for_each(mend_all);
    });
}

#[test]
fn a_mend_is_explained_numbered_and_made_in_a_copy() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_with(&folder, HURRIED[0], HURRIED[1]);
    let before = text_of(&plan);
    let (code, told, said) = trusswalk(&["mend", name(&plan)]);
    assert_eq!(code, 1, "{said}");
    assert!(told.lines().all(|line| line.chars().count() <= 120), "{told}");
    // The tip's limit is 0.15 m/s: what the check of the speed says governs, this says, too.
    assert!(told.contains("1. speed: motion step-3/transit (3 violations)"), "{told}");
    assert!(told.contains("governs: tip on segment 0: "), "{told}");
    assert!(told.contains("at most 0.150 m/s: off by "), "{told}");
    assert!(told.contains("one joint of a waypoint of step-3"), "{told}");
    assert!(told.contains("none found within 6.4° or 64 mm, "), "{told}");
    let of_time = told.lines().find(|line| line.contains("a fixed duration of step-3")).expect("there is such a mend");
    assert!(of_time.contains(" to waypoint 1: "), "which waypoint it is: {told}");
    let number = of_time.split_whitespace().next().expect("its number");
    assert_eq!(text_of(&plan), before, "nothing is written unasked");

    let out = folder.path().join("out");
    let (code, made, said) = trusswalk(&["mend", name(&plan), "--apply", number, "--out", name(&out)]);
    assert_eq!(code, 0, "{made}{said}");
    assert!(made.contains("the duration to waypoint 1 of step-3") && made.contains(" 0 violations,"), "{made}");
    assert_eq!(text_of(&plan), before);
    // A whole second less is too quick, by the check of the plan itself.
    let after = text_of(&out);
    let line = after.lines().find(|line| line.starts_with("duration_s")).expect("it is there");
    assert!(line.ends_with(" # in haste"), "{line}");
    let seconds: f64 = line.split([' ', '#']).nth(2).and_then(|word| word.parse().ok()).expect("a number");
    let less = after.replace(&format!("duration_s = {seconds}"), &format!("duration_s = {}", seconds - 1.0));
    assert_ne!(less, after);
    fs::write(out.join("plan.toml"), less).expect("written");
    assert_eq!(trusswalk(&["check", name(&out), "--format", "csv"]).0, 1);
}

#[test]
fn check_explains_as_mend_does_below_its_report() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_with(&folder, HURRIED[0], HURRIED[1]);
    let (_, mended, _) = trusswalk(&["mend", name(&plan)]);
    let (code, told, said) = trusswalk(&["check", name(&plan), "--explain"]);
    assert_eq!(code, 1, "{said}");
    let section = told.split("\nMENDS\n").nth(1).expect("the section");
    assert!(mended.contains(section), "{told}\n{mended}");
    let cautions = "Trusswalk is an aid to planning.";
    assert_eq!([&told, &mended].map(|told| told.matches(cautions).count()), [1, 1], "{told}\n{mended}");
    let (code, none, _) = trusswalk(&["check", name(&plan), "--explain", "--only", "near-panel"]);
    assert_eq!(code, 0);
    assert!(none.contains("no limit is violated: there is nothing to mend"), "{none}");
}

#[test]
fn the_same_mends_come_out_of_any_number_of_threads() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_with(&folder, "at_most_min = 15", "at_most_min = 0.7");
    let with = |threads: &str| {
        let mut command = cargo_bin_cmd!("trusswalk");
        command.env("RAYON_NUM_THREADS", threads).args(["mend", name(&plan)]);
        String::from_utf8(command.output().expect("it runs").stdout).expect("text")
    };
    let one = with("1");
    assert!(one.contains("1. speed: step step-3"), "{one}");
    assert_eq!(one, with("4"));
}

#[test]
fn where_nothing_is_violated_there_is_nothing_to_mend() {
    let (code, told, said) = trusswalk(&["mend"]);
    assert_eq!((code, said.as_str()), (0, ""));
    assert!(told.contains("no limit is violated: there is nothing to mend"), "{told}");
    let folder = TempDir::new().expect("a folder");
    let out = folder.path().join("out");
    let (code, _, said) = trusswalk(&["mend", "--apply", "1", "--out", name(&out)]);
    assert_eq!(code, 2);
    assert!(said.contains("no limit is violated: there is nothing to mend"), "{said}");
    assert!(!out.exists());
}

#[test]
fn what_cannot_be_mended_so_is_refused_and_nothing_is_written() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_with(&folder, "at_most_min = 15", "at_most_min = 0.1");
    let before = text_of(&plan);
    let refused = |args: &[&str]| {
        let (code, told, said) = trusswalk(&[&["mend"], args].concat());
        assert_eq!((code, told.as_str()), (2, ""), "{args:?}: {said}");
        assert_eq!(text_of(&plan), before);
        said
    };
    let said = refused(&[name(&plan), "--apply", "1"]);
    assert!(said.contains("there is no mend 1: none was found"), "{said}");
    assert!(refused(&[name(&plan), "--apply", "0"]).contains("0 is not in 1.."));
    assert!(refused(&[name(&plan), "--apply", "first"]).contains("invalid digit"));
    assert!(refused(&[name(&plan), "--out", "somewhere"]).contains("--apply"));
    let said = refused(&["--apply", "1"]);
    assert!(said.contains("the built-in demo cannot be changed; expected --out DIR"), "{said}");
    let said = trusswalk(&["check", name(&plan), "--explain", "--format", "csv"]).2;
    assert!(said.contains("`--explain` is for people; expected `--format text`"), "{said}");

    fs::write(plan.join("plan.toml"), before.replace("at_most_min", "at_most_mni")).expect("written");
    let (code, _, said) = trusswalk(&["mend", name(&plan)]);
    assert_eq!(code, 2);
    assert!(said.contains("plan.toml:") && said.contains("nearest: `at_most_min`"), "{said}");
}

#[test]
fn a_number_that_no_mend_has_and_a_folder_that_is_full_are_refused() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_with(&folder, HURRIED[0], HURRIED[1]);
    let before = text_of(&plan);
    let (code, _, said) = trusswalk(&["mend", name(&plan), "--apply", "99"]);
    assert_eq!(code, 2);
    assert!(said.contains("there is no mend 99; expected 1 to "), "{said}");
    let (code, _, said) = trusswalk(&["mend", name(&plan), "--apply", "1", "--out", name(folder.path())]);
    assert_eq!(code, 2);
    assert!(said.contains("expected a new or empty folder"), "{said}");
    assert_eq!(text_of(&plan), before);
}

#[test]
fn several_mends_are_made_at_once_where_they_change_different_things() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_with(&folder, HURRIED[0], HURRIED[1]);
    let (_, told, _) = trusswalk(&["mend", name(&plan)]);
    let before = text_of(&plan);
    let rows = told.lines().filter_map(|line| line.trim().split_once("  ")).filter(|row| row.0.parse::<u32>().is_ok());
    assert!(rows.count() >= 2, "{told}");
    // All mends of one haste are about the same waypoint.
    let (code, made, said) = trusswalk(&["mend", name(&plan), "--apply", "1,2"]);
    assert_eq!((code, made.as_str()), (2, ""), "{said}");
    assert!(said.contains("mends 1 and 2 change the same: ") && said.contains("waypoint 1 of step-3"), "{said}");
    assert_eq!(text_of(&plan), before);

    // Two faults of the demo, of different things.
    let faults = faults();
    let fault = |check: &str| faults.iter().find(|fault| fault.check == check).expect("the table has it");
    let one = demo_with(fault("line"), &fault("line").fault);
    put(one.path(), fault("speed"), &fault("speed").fault);
    let (code, told, said) = trusswalk(&["mend", name(one.path()), "--format", "json"]);
    assert_eq!(code, 1, "{said}");
    let told: serde_json::Value = serde_json::from_str(&told).expect("JSON");
    let first = |cause: &serde_json::Value| {
        let sought = cause["sought"].as_array().expect("ways").iter();
        sought.filter_map(|sought| sought["mend"]["number"].as_u64()).next().expect("a mend")
    };
    let numbers: Vec<String> =
        told["causes"].as_array().expect("causes").iter().map(|cause| first(cause).to_string()).collect();
    assert!(numbers.len() >= 2, "{numbers:?}");
    let (code, made, said) = trusswalk(&["mend", name(one.path()), "--apply", &numbers.join(",")]);
    assert_eq!(code, 0, "{made}{said}");
    assert!(made.contains(" 0 violations,"), "{made}");
}

#[test]
fn where_nothing_can_be_written_the_plan_stays_whole_and_is_told() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_with(&folder, HURRIED[0], HURRIED[1]);
    let before = text_of(&plan);
    let files = || fs::read_dir(&plan).expect("the folder").count();
    let count = files();
    // As on a full disk: no file may grow.
    let program = assert_cmd::cargo::cargo_bin!("trusswalk");
    let script = format!("trap '' XFSZ; ulimit -f 0; exec '{}' mend '{}' --apply 1", program.display(), name(&plan));
    let output = std::process::Command::new("sh").args(["-c", &script]).output().expect("a shell");
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("not saved: ") && said.contains("plan.toml"), "{said}");
    assert_eq!((text_of(&plan), files()), (before, count), "nothing is left behind");
}

#[test]
fn mends_for_machines_have_the_keys_of_their_schema_and_the_numbers_of_the_text() {
    let folder = TempDir::new().expect("a folder");
    let plan = starter_with(&folder, HURRIED[0], HURRIED[1]);
    let json = |args: &[&str], expected: i32| -> serde_json::Value {
        let (code, told, said) = trusswalk(args);
        assert_eq!(code, expected, "{told}{said}");
        serde_json::from_str(&told).expect("it is JSON, and nothing else")
    };
    let told = json(&["mend", name(&plan), "--format", "json"], 1);
    let schema = json(&["schema", "mends"], 0);
    let keys = |object: &serde_json::Value| -> Vec<String> {
        let mut keys: Vec<String> = object.as_object().expect("an object").keys().cloned().collect();
        keys.sort();
        keys
    };
    assert_eq!(keys(&told), keys(&schema["properties"]));
    let cause = &told["causes"][0];
    assert_eq!(keys(cause), keys(&schema["$defs"]["CauseJson"]["properties"]));
    assert_eq!(cause["check"], "speed");
    let sought = cause["sought"].as_array().expect("a list");
    let numbers: Vec<u64> = sought.iter().filter_map(|sought| sought["mend"]["number"].as_u64()).collect();
    assert!(!numbers.is_empty() && numbers.iter().copied().eq(1..=numbers.len() as u64), "{told}");
    let (_, text, _) = trusswalk(&["mend", name(&plan)]);
    for sought in sought {
        assert!(text.contains(sought["by"].as_str().expect("words")), "{sought}");
    }
}
