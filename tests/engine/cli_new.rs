//! `trusswalk new` and `trusswalk schema`, run as a user would.

use std::fs;

use assert_cmd::cargo::cargo_bin_cmd;

#[test]
fn new_writes_a_plan_that_can_be_read() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let dir = folder.path().join("nested/my-plan");
    cargo_bin_cmd!("trusswalk").arg("new").arg(&dir).assert().success();
    let read = trusswalk::files::read_project(&dir).expect("the plan is sound");
    assert!(read.inputs.iter().any(|input| input.path == "plan.toml"));
}

#[test]
fn new_writes_the_demo_as_the_program_carries_it() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let dir = folder.path().join("demo");
    cargo_bin_cmd!("trusswalk").arg("new").arg(&dir).arg("--demo").assert().success();
    let report = |args: &[&str]| {
        let mut command = cargo_bin_cmd!("trusswalk");
        command.args(["check", "--format", "json", "--only", "gate"]).args(args).output().expect("it runs").stdout
    };
    assert_eq!(report(&[dir.to_str().expect("a path of letters")]), report(&[]));
}

/// The examples that wait in the starter's comments.
const EXAMPLES: [&str; 7] = ["payload", "contact", "second-crew", "move-base", "tip-waypoint", "slide", "keep-out"];

/// A line with the mark of an example taken off: at its start, or, behind a line, in the line's place.
fn taken_up(line: &str, example: &str) -> String {
    let mark = format!("#[{example}] ");
    match (line.strip_prefix(&mark), line.split_once(&mark)) {
        (Some(text), _) => text.to_owned(),
        (None, Some((_, text))) if !line.starts_with('#') => text.to_owned(),
        _ => line.to_owned(),
    }
}

/// A new plan in which these examples are used.
fn started_with(examples: &[&str]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    cargo_bin_cmd!("trusswalk").arg("new").arg(folder.path()).assert().success();
    for entry in fs::read_dir(folder.path()).expect("it can be listed") {
        let path = entry.expect("a file").path();
        let text = fs::read_to_string(&path).expect("it is text");
        // First all marks at the start of lines: a line of one example can carry the mark of another.
        let lines = text.lines().map(|line| {
            let front = examples.iter().fold(line.to_owned(), |line, example| {
                line.strip_prefix(&format!("#[{example}] ")).map_or(line.clone(), str::to_owned)
            });
            examples.iter().fold(front, |line, example| taken_up(&line, example))
        });
        fs::write(&path, lines.collect::<Vec<_>>().join("\n")).expect("it can be written");
    }
    folder
}

/// The report of a plan that must be clean.
fn clean(folder: &std::path::Path) -> serde_json::Value {
    let printed =
        cargo_bin_cmd!("trusswalk").args(["check", "--format", "json"]).arg(folder).output().expect("it runs");
    let text = String::from_utf8_lossy(&printed.stdout);
    assert!(printed.status.success(), "{}{text}", String::from_utf8_lossy(&printed.stderr));
    serde_json::from_str(&text).expect("the report is JSON")
}

#[test]
fn each_example_of_the_starter_checks_clean_and_changes_the_report() {
    let plain = clean(started_with(&[]).path());
    for example in EXAMPLES {
        let report = clean(started_with(&[example]).path());
        assert_ne!(report["findings"], plain["findings"], "{example}");
    }
}

#[test]
fn all_examples_of_the_starter_check_clean_together() {
    let folder = started_with(&EXAMPLES);
    for file in ["plan.toml", "structure.toml", "arm.toml"] {
        let text = fs::read_to_string(folder.path().join(file)).expect("it is there");
        let marked: Vec<&str> = text.lines().filter(|line| line.starts_with("#[")).collect();
        assert_eq!(marked, Vec::<&str>::new(), "an example that no test knows");
    }
    let report = clean(folder.path());
    assert!(report["motions"].as_array().is_some_and(|motions| motions.iter().any(|motion| motion["kind"] == "base")));
}

#[test]
fn new_leaves_a_folder_alone_that_has_something_in_it() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fs::write(folder.path().join("notes.txt"), "mine").expect("a file in it");
    let told = cargo_bin_cmd!("trusswalk").arg("new").arg(folder.path()).assert().code(2).get_output().clone();
    let told = String::from_utf8_lossy(&told.stderr).into_owned();
    assert!(told.starts_with("error: there is something in"), "{told}");
    assert_eq!(fs::read_dir(folder.path()).expect("it can be listed").count(), 1);
}

#[test]
fn each_kind_of_file_has_a_schema_that_refuses_unknown_keys() {
    for (kind, key) in [
        ("plan", "worksite"),
        ("structure", "truss"),
        ("arm", "joint"),
        ("arm-shapes", "link"),
        ("restraint", "plate"),
        ("suit", "pack_m"),
    ] {
        let printed = cargo_bin_cmd!("trusswalk").args(["schema", kind]).assert().success().get_output().clone();
        let schema: serde_json::Value = serde_json::from_slice(&printed.stdout).expect("a schema is JSON");
        assert_eq!(schema["additionalProperties"], false, "{kind}");
        assert!(schema["properties"][key].is_object(), "{kind} has no {key}");
    }
}
