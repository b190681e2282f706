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
