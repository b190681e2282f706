//! What is edited, saved, kept and found again.

use std::fs::File;
use std::process::Command;
use std::time::{Duration, SystemTime};

use tempfile::TempDir;

use super::*;
use crate::model::{Hands, Regime};

const FILES: [&str; 5] = ["plan.toml", "structure.toml", "arm.toml", "restraint.toml", "suit.toml"];
static STARTER: Embedded<'static> = Embedded {
    files: &[
        ("plan.toml", include_bytes!("../../../scenes/starter/plan.toml")),
        ("structure.toml", include_bytes!("../../../scenes/starter/structure.toml")),
        ("arm.toml", include_bytes!("../../../scenes/starter/arm.toml")),
        ("restraint.toml", include_bytes!("../../../scenes/starter/restraint.toml")),
        ("suit.toml", include_bytes!("../../../scenes/starter/suit.toml")),
    ],
};

/// The starter plan in a folder of its own.
fn starter() -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, bytes) in STARTER.files {
        fs::write(folder.path().join(name), bytes).expect("a file of it");
    }
    folder
}

fn open(folder: &TempDir) -> (Draft, Found) {
    Draft::open(folder.path()).expect("it has a plan")
}

fn hands(hands: Hands) -> PlanEdit {
    PlanEdit::SetHands { worksite: "near-panel".to_owned(), target: "latch".to_owned(), hands }
}

fn clearance(at_least: f64) -> PlanEdit {
    PlanEdit::SetClearance { regime: Regime::Moving, pair: "default".to_owned(), at_least }
}

fn on_disk(folder: &TempDir) -> String {
    fs::read_to_string(folder.path().join("plan.toml")).expect("the plan is there")
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> =
        entries.map(|entry| entry.expect("an entry").file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

fn journal(folder: &TempDir) -> PathBuf {
    folder.path().join(".plan.toml.unsaved")
}

#[test]
fn an_edit_is_read_undone_and_redone() {
    let folder = starter();
    let (mut draft, found) = open(&folder);
    assert_eq!(found, Found::Nothing);
    let before = draft.text().to_owned();
    let edited = || Change::Edit(Box::new(hands(Hands::Either)));
    let loaded = draft.apply(&hands(Hands::Either)).expect("it is a sound edit");
    assert_eq!(loaded.project.plan.worksite[0].target[0].hands, Hands::Either);
    assert_eq!(draft.read().expect("it reads").project, loaded.project);
    assert!(draft.is_changed());
    let after = draft.text().to_owned();
    assert_eq!(draft.undo(), Some(edited()));
    assert_eq!((draft.undo(), draft.text(), draft.is_changed()), (None, before.as_str(), false));
    assert_eq!(draft.redo(), Some(edited()));
    assert_eq!((draft.redo(), draft.text()), (None, after.as_str()));
    assert_eq!(draft.changes().collect::<Vec<_>>(), [&edited()]);
}

#[test]
fn an_edit_after_which_the_plan_does_not_read_is_refused_with_its_problems() {
    let folder = starter();
    let (mut draft, _) = open(&folder);
    let before = draft.text().to_owned();
    let edit = PlanEdit::SetConfiguration { worksite: "near-panel".to_owned(), joints: vec![1.0; 3] };
    let problems = draft.apply(&edit).expect_err("the arm has seven joints").to_string();
    assert!(problems.contains("3 joint values for the 7 joints"), "{problems}");
    assert_eq!((draft.text(), draft.is_changed()), (before.as_str(), false));
    assert!(!journal(&folder).exists());
}

#[test]
fn a_drag_goes_back_as_one_and_the_next_drag_is_another() {
    let folder = starter();
    let (mut draft, _) = open(&folder);
    draft.apply(&clearance(0.21)).expect("a first drag");
    for step in 0..50 {
        draft.apply_continuing(&clearance(0.22 + f64::from(step) * 1e-3)).expect("it goes on");
    }
    draft.apply(&clearance(0.4)).expect("a second drag");
    draft.apply_continuing(&hands(Hands::Both)).expect("another thing");
    assert_eq!(draft.changes().count(), 3);
    draft.undo();
    draft.undo();
    assert!(draft.text().contains("default = 0.269\n"), "{}", draft.text());
    draft.undo();
    assert!(!draft.is_changed());
}

#[test]
fn saving_writes_what_is_shown_and_only_over_what_was_read() {
    let folder = starter();
    let (mut draft, _) = open(&folder);
    draft.apply(&clearance(0.21)).expect("a sound edit");
    assert!(journal(&folder).exists());
    draft.save().expect("nothing is in the way");
    assert_eq!((on_disk(&folder).as_str(), draft.is_changed()), (draft.text(), false));
    assert_eq!(names(folder.path()), {
        let mut names = FILES;
        names.sort();
        names
    });
    assert!(draft.undo().is_some() && draft.is_changed(), "undo goes back beyond a save");

    let theirs = format!("{}# theirs\n", on_disk(&folder));
    fs::write(folder.path().join("plan.toml"), &theirs).expect("somebody else saves");
    assert_eq!(draft.disk_state(), DiskState::Changed);
    assert!(matches!(draft.save(), Err(NotSaved::ChangedOnDisk(_))));
    assert_eq!((on_disk(&folder), draft.is_changed()), (theirs.clone(), true));

    let mine = draft.text().to_owned();
    draft.reload().expect("it is there");
    assert_eq!((draft.text(), draft.is_changed()), (theirs.as_str(), false));
    assert_eq!((draft.undo(), draft.text()), (Some(Change::Reloaded), mine.as_str()));
    draft.save().expect("theirs was read since");
    assert_eq!(on_disk(&folder), mine);
}

#[test]
fn what_changed_on_disk_can_be_written_over_on_request() {
    let folder = starter();
    let (mut draft, _) = open(&folder);
    draft.apply(&clearance(0.21)).expect("a sound edit");
    fs::write(folder.path().join("plan.toml"), "theirs").expect("somebody else saves");
    draft.save_over().expect("nothing is in the way");
    assert_eq!((on_disk(&folder).as_str(), draft.is_changed()), (draft.text(), false));
    fs::remove_file(folder.path().join("plan.toml")).expect("somebody removes it");
    assert_eq!(draft.disk_state(), DiskState::Deleted);
    assert!(matches!(draft.save(), Err(NotSaved::DeletedOnDisk(_))));
    draft.save_over().expect("nothing is in the way");
    assert_eq!((on_disk(&folder).as_str(), draft.disk_state()), (draft.text(), DiskState::Same));
}

#[test]
fn a_write_protected_plan_is_told_and_left() {
    let folder = starter();
    let plan = folder.path().join("plan.toml");
    let before = on_disk(&folder);
    let (mut draft, _) = open(&folder);
    draft.apply(&clearance(0.21)).expect("a sound edit");
    let mut rights = fs::metadata(&plan).expect("it is there").permissions();
    rights.set_readonly(true);
    fs::set_permissions(&plan, rights).expect("its owner may");
    let told = draft.save().expect_err("it is protected").to_string();
    assert!(told.contains("plan.toml` is write-protected"), "{told}");
    assert_eq!((on_disk(&folder), draft.is_changed()), (before, true));
    assert!(journal(&folder).exists());
}

#[test]
fn a_folder_that_is_gone_loses_nothing() {
    let folder = starter();
    let (mut draft, _) = open(&folder);
    fs::remove_dir_all(folder.path()).expect("somebody removes it");
    draft.replace_text("# kept");
    assert!(matches!(draft.save(), Err(NotSaved::DeletedOnDisk(_))));
    let told = draft.save_over().expect_err("there is no folder").to_string();
    assert!(told.contains("plan.toml"), "{told}");
    assert_eq!((draft.text(), draft.is_changed()), ("# kept", true));
}

/// Runs itself again in a process whose files may not grow beyond half a kibibyte, as on a full disk.
#[cfg(unix)]
#[test]
fn a_full_disk_loses_nothing() {
    const FOLDER: &str = "TRUSSWALK_TEST_FULL_DISK";
    if let Some(path) = std::env::var_os(FOLDER) {
        let (mut draft, _) = Draft::open(Path::new(&path)).expect("it has a plan");
        let before = draft.text().to_owned();
        draft.apply(&clearance(0.21)).expect("the edit itself needs no disk");
        let warning = draft.warning().expect("the journal does not fit").to_owned();
        assert!(warning.contains(".plan.toml.unsaved"), "{warning}");
        let told = draft.save().expect_err("the plan does not fit").to_string();
        assert!(told.contains("plan.toml"), "{told}");
        assert!(draft.is_changed() && draft.text() != before);
        return;
    }
    let folder = starter();
    let before = on_disk(&folder);
    let own = std::env::current_exe().expect("this test");
    let run = Command::new("sh")
        .args(["-c", "trap '' XFSZ; ulimit -f 1; exec \"$0\" --exact files::draft::tests::a_full_disk_loses_nothing"])
        .arg(own)
        .env(FOLDER, folder.path())
        .output()
        .expect("a shell");
    let told = String::from_utf8_lossy(&run.stdout);
    assert!(run.status.success() && told.contains("1 passed"), "{told}");
    assert_eq!(on_disk(&folder), before);
    let mut left = FILES;
    left.sort();
    assert_eq!(names(folder.path()), left, "nothing half written is left");
}

#[test]
fn edits_that_were_not_saved_come_back_as_one_step() {
    let folder = starter();
    let before = on_disk(&folder);
    let (mut draft, _) = open(&folder);
    draft.apply(&clearance(0.21)).expect("a sound edit");
    draft.apply(&hands(Hands::Both)).expect("a sound edit");
    let text = draft.text().to_owned();
    drop(draft);
    assert_eq!(on_disk(&folder), before);
    let (mut draft, found) = open(&folder);
    assert_eq!((found, draft.text()), (Found::Restored, text.as_str()));
    assert_eq!((draft.undo(), draft.text()), (Some(Change::Restored), before.as_str()));
    assert!(!journal(&folder).exists(), "all is undone");
    draft.redo();
    assert!(journal(&folder).exists());
    draft.save().expect("nothing is in the way");
    assert!(!journal(&folder).exists(), "all is saved");
}

#[test]
fn edits_that_are_forgotten_are_not_there_again() {
    let folder = starter();
    let before = on_disk(&folder);
    let (mut draft, _) = open(&folder);
    draft.apply(&clearance(0.21)).expect("a sound edit");
    assert!(journal(&folder).exists());
    draft.forget().expect("nothing is in the way");
    drop(draft);
    let (draft, found) = open(&folder);
    assert_eq!((found, draft.text()), (Found::Nothing, before.as_str()));
}

#[test]
fn edits_of_another_plan_are_told_and_never_applied_nor_lost() {
    let folder = starter();
    let (mut draft, _) = open(&folder);
    draft.apply(&clearance(0.21)).expect("a sound edit");
    let text = draft.text().to_owned();
    drop(draft);
    fs::write(folder.path().join("plan.toml"), format!("{}# theirs\n", on_disk(&folder))).expect("somebody saves");
    let kept = fs::read(journal(&folder)).expect("the journal");
    let (mut draft, found) = open(&folder);
    assert_eq!(found, Found::Stale { file: fs::canonicalize(journal(&folder)).expect("it is there"), text });
    assert!(!draft.is_changed());
    draft.apply(&hands(Hands::Both)).expect("a sound edit");
    draft.save().expect("nothing is in the way");
    assert_eq!(fs::read(folder.path().join(".plan.toml.unsaved-1")).expect("moved aside"), kept);
}

#[test]
fn a_corrupt_journal_is_told_and_left() {
    let folder = starter();
    fs::write(journal(&folder), "scribble").expect("a file");
    let (draft, found) = open(&folder);
    assert!(matches!(found, Found::Corrupt { .. }), "{found:?}");
    assert!(!draft.is_changed());
    assert_eq!(fs::read(journal(&folder)).expect("it is left"), b"scribble");
}

#[test]
fn a_journal_that_cannot_be_written_is_a_warning() {
    let (mut draft, _) = Draft::built_in(STARTER, None).expect("it has a plan");
    draft.apply(&clearance(0.21)).expect("a sound edit");
    assert!(draft.is_changed() && draft.warning().is_some());
    draft.undo();
    assert_eq!(draft.warning(), None, "there is nothing to keep");
}

#[test]
fn edits_of_the_built_in_plan_come_back_and_can_be_saved_into_a_folder() {
    let state = tempfile::tempdir().expect("a temporary folder");
    let state = state.path().join("nested");
    let (mut draft, _) = Draft::built_in(STARTER, Some(&state)).expect("it has a plan");
    draft.apply(&clearance(0.21)).expect("a sound edit");
    drop(draft);
    let (mut draft, found) = Draft::built_in(STARTER, Some(&state)).expect("it has a plan");
    assert_eq!((found, draft.is_changed()), (Found::Restored, true));
    assert!(matches!(draft.save(), Err(NotSaved::BuiltIn)));

    let full = starter();
    let told = draft.save_as(full.path()).expect_err("there is something in it").to_string();
    assert!(told.contains("there is something in"), "{told}");
    assert!(draft.is_changed());

    let above = tempfile::tempdir().expect("a temporary folder");
    let folder = above.path().join("a/b");
    draft.save_as(&folder).expect("it is new");
    assert_eq!(names(&folder), {
        let mut names = FILES;
        names.sort();
        names
    });
    assert_eq!(fs::read_to_string(folder.join("plan.toml")).expect("it is there"), draft.text());
    assert!(!draft.is_changed() && names(&state).is_empty());
    assert_eq!(draft.file(), Some(fs::canonicalize(&folder).expect("it is there").join("plan.toml")));
    draft.apply(&clearance(0.22)).expect("a sound edit");
    draft.save().expect("it has a folder now");
}

#[test]
fn a_copy_takes_shared_files_along_and_leaves_others_of_their_name() {
    let above = tempfile::tempdir().expect("a temporary folder");
    let (own, shared) = (above.path().join("mine/plans/one"), above.path().join("mine/plans/arms"));
    fs::create_dir_all(&own).expect("a folder");
    fs::create_dir_all(&shared).expect("a folder");
    for (name, bytes) in STARTER.files {
        let folder = if *name == "arm.toml" { &shared } else { &own };
        fs::write(folder.join(name), bytes).expect("a file");
    }
    let (mut draft, _) = Draft::open(&own).expect("it has a plan");
    let text = draft.text().replace("\"arm.toml\"", "\"../arms/arm.toml\"");
    draft.replace_text(&text);
    draft.read().expect("it reads");

    let copy = above.path().join("copies/one");
    let arm = above.path().join("copies/arms/arm.toml");
    fs::create_dir_all(arm.parent().expect("a folder")).expect("a folder");
    fs::write(&arm, "another").expect("a file");
    let told = draft.save_as(&copy).expect_err("another arm is there").to_string();
    assert!(told.contains("arm.toml` is there already"), "{told}");
    assert!(!copy.exists() && draft.is_changed());
    assert_eq!(fs::read(&arm).expect("it is left"), b"another");

    fs::remove_file(&arm).expect("a file");
    draft.save_as(&copy).expect("nothing is in the way");
    let (mut copied, _) = Draft::open(&copy).expect("a plan");
    copied.read().expect("the copy reads");
    assert_eq!(fs::read(&arm).expect("it was written"), STARTER.files[2].1);
    assert_ne!(fs::read_to_string(own.join("plan.toml")).expect("the first one"), text, "the first one is left");
}

#[test]
fn a_broken_plan_opens_and_is_mended() {
    let folder = starter();
    let whole = on_disk(&folder);
    fs::write(folder.path().join("plan.toml"), "title = \n").expect("a broken plan");
    let (mut draft, _) = open(&folder);
    assert!(draft.read().is_err() && draft.apply(&clearance(0.2)).is_err());
    fs::write(folder.path().join("plan.toml"), &whole).expect("somebody mends it");
    assert_eq!(draft.disk_state(), DiskState::Changed);
    draft.reload().expect("it is there");
    draft.read().expect("it is mended");
    assert!(!draft.is_changed());
}

#[test]
fn a_file_that_somebody_breaks_stops_no_edit_and_is_read_anew_when_it_is_asked_for() {
    let folder = starter();
    let arm = folder.path().join("arm.toml");
    let whole = fs::read_to_string(&arm).expect("the arm");
    let (mut draft, _) = open(&folder);
    let first = draft.read().expect("it reads").project;
    assert_eq!(draft.files().len(), FILES.len());
    assert_eq!((draft.changed_parts(), draft.is_behind()), (Vec::new(), false));
    fs::write(&arm, "joint = \n").expect("somebody breaks it");
    assert_eq!((draft.changed_parts(), draft.is_behind()), (vec!["arm.toml".to_owned()], true));
    assert!(draft.read_anew().expect_err("it is broken").to_string().contains("arm.toml"));
    assert_eq!(draft.changed_parts(), Vec::<String>::new(), "that is known");
    let edited = draft.apply(&clearance(0.21)).expect("a sound edit");
    assert_eq!(edited.project.arm, first.arm);
    fs::write(&arm, format!("{whole}\n# mended\n")).expect("somebody mends it");
    assert_eq!(draft.changed_parts(), ["arm.toml"]);
    assert_eq!(draft.read_anew().expect("it is mended").project, edited.project);
    assert!(!draft.is_behind());
    assert!(draft.is_changed(), "the edit is still there");
}

#[test]
fn a_copy_holds_the_files_as_they_were_read() {
    let folder = starter();
    let (mut draft, _) = open(&folder);
    draft.read().expect("it reads");
    fs::write(folder.path().join("arm.toml"), "joint = \n").expect("somebody breaks it");
    let other = tempfile::tempdir().expect("a temporary folder");
    draft.save_as(other.path()).expect("nothing is in the way");
    assert_eq!(fs::read(other.path().join("arm.toml")).expect("it was written"), STARTER.files[2].1);
    assert_eq!((draft.changed_parts(), draft.is_behind()), (Vec::new(), false));
}

#[test]
fn a_broken_text_that_was_read_meanwhile_is_no_state_to_go_back_to() {
    let folder = starter();
    let whole = on_disk(&folder);
    let (mut draft, _) = open(&folder);
    draft.apply(&clearance(0.21)).expect("a sound edit");
    draft.save().expect("nothing is in the way");
    let saved = draft.text().to_owned();
    for text in ["title = \n", &format!("{saved}# theirs\n")] {
        fs::write(folder.path().join("plan.toml"), text).expect("somebody saves");
        draft.reload().expect("it is there");
    }
    draft.undo();
    assert_eq!(draft.text(), saved, "the broken text is left out");
    draft.undo();
    assert_eq!(draft.text(), whole);
}

#[test]
fn a_file_of_the_same_length_and_time_is_seen_to_have_changed() {
    let folder = starter();
    let plan = folder.path().join("plan.toml");
    let age = |seconds| {
        let time = SystemTime::now() - Duration::from_secs(seconds);
        File::options().write(true).open(&plan).and_then(|file| file.set_modified(time)).expect("its owner may");
        time
    };
    let first = age(100);
    let (mut draft, _) = open(&folder);
    assert_eq!((draft.disk_state(), draft.looked.is_some()), (DiskState::Same, true));
    assert_eq!(draft.disk_state(), DiskState::Same);
    fs::write(&plan, on_disk(&folder).replace("0.20", "0.21")).expect("somebody saves");
    let file = File::options().write(true).open(&plan).expect("it is there");
    file.set_modified(first).expect("its owner may");
    assert_eq!(draft.disk_state(), DiskState::Changed);
}
