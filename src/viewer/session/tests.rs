//! What a session does with what is asked, and with what happens to its files.

use std::sync::atomic::AtomicBool;

use super::*;
use crate::check::{self, Silent, Status};
use crate::files;
use crate::model::{Crew, Stature, Survey, Who};
use crate::viewer::testing::{Opened, clearance, copy_of_starter, elbow};

/// The findings of a plan of this text, of which nothing was known before.
fn afresh(text: &str) -> Vec<Finding> {
    let folder = copy_of_starter();
    std::fs::write(folder.path().join("plan.toml"), text).expect("its owner may");
    let loaded = files::read_project(folder.path()).expect("a sound plan");
    check::run(&loaded.project, &loaded.meshes, &Silent, &AtomicBool::new(false)).expect("nobody stops it").findings
}

fn said(opened: &Opened) -> String {
    opened.session().news.as_ref().map(|news| news.text.clone()).unwrap_or_default()
}

#[test]
fn findings_after_edits_are_those_of_a_fresh_check_and_undo_brings_back_those_of_before() {
    let mut opened = Opened::starter();
    let first = opened.session().findings().to_vec();
    assert_eq!(first, afresh(&opened.on_disk()));
    assert!(first.len() > 100, "{}", first.len());
    for edit in [elbow(82.5), clearance(0.6)] {
        opened.change(Ask::Edit(edit));
        let session = opened.session();
        assert_eq!(session.findings(), afresh(session.draft.text()));
    }
    let moved = opened.session().findings().to_vec();
    assert_ne!(moved, first);
    assert!(moved.iter().any(|finding| matches!(finding.status, Status::Violation(_))));
    opened.change(Ask::Do(Action::Undo));
    assert_ne!(opened.session().findings(), moved);
    opened.change(Ask::Do(Action::Undo));
    assert_eq!(opened.session().findings(), first);
    assert!(!opened.session().draft.is_changed());
    opened.change(Ask::Do(Action::Redo));
    opened.change(Ask::Do(Action::Redo));
    assert_eq!(opened.session().findings(), moved);
}

#[test]
fn what_is_found_where_one_looks_comes_first_and_all_else_is_marked_until_it_comes_too() {
    let mut opened = Opened::starter();
    let spans = opened.session().checked.clone().expect("it is checked").playback.spans.clone();
    let motion = spans.iter().find(|span| span.motion().is_some()).expect("a motion");
    opened.ask(Ask::Jump(motion.start + 0.5 * motion.seconds));
    let before = opened.session().findings().to_vec();
    let stature = Some(Stature { percentile: 30.0, of: Survey::Women });
    let crew = Crew { stature, ..Crew::default() };
    opened.ask(Ask::Edit(PlanEdit::SetCrew { who: Who::Rider, crew }));
    assert!(before.iter().all(|finding| opened.session().is_to_be_checked(finding)));
    opened.until("the first are there, or all", |session| session.first.is_some() || !session.checking);
    let session = opened.session();
    let (there, elsewhere): (Vec<Finding>, Vec<Finding>) =
        session.findings().iter().cloned().partition(|finding| finding.key.place == motion.place);
    assert!(session.checking, "they came before all others");
    assert!(!there.is_empty() && !there.iter().any(|finding| session.is_to_be_checked(finding)));
    assert!(elsewhere.iter().all(|finding| session.is_to_be_checked(finding) && before.contains(finding)));
    opened.until("all are there", |session| !session.checking);
    assert!(
        there.iter().all(|finding| opened.session().findings().contains(finding)),
        "the first are those of the end"
    );
    assert_eq!(opened.session().findings(), afresh(opened.session().draft.text()));
    assert!(!opened.session().findings().iter().any(|finding| opened.session().is_to_be_checked(finding)));
}

#[test]
fn a_run_of_changes_is_undone_as_one_and_two_runs_as_two() {
    let mut opened = Opened::starter();
    let whole = opened.on_disk();
    for ask in [Ask::EditOn(elbow(81.0)), Ask::EditOn(elbow(82.0)), Ask::LetGo] {
        opened.change(ask);
    }
    let after_first = opened.session().draft.text().to_owned();
    for ask in [Ask::EditOn(elbow(83.0)), Ask::EditOn(elbow(84.0)), Ask::LetGo] {
        opened.change(ask);
    }
    opened.change(Ask::Do(Action::Undo));
    assert_eq!(opened.session().draft.text(), after_first);
    opened.change(Ask::Do(Action::Undo));
    assert_eq!(opened.session().draft.text(), whole);
}

#[test]
fn what_was_found_before_the_last_edit_is_kept_beside_what_is_found_now() {
    let mut opened = Opened::starter();
    let first = opened.session().findings().to_vec();
    opened.change(Ask::Edit(clearance(0.6)));
    let before = opened.session().before.as_ref().expect("it was kept");
    assert_eq!(before.outcome.findings, first);
}

#[test]
fn an_edit_that_makes_no_plan_changes_nothing_and_is_told() {
    let mut opened = Opened::starter();
    let first = opened.session().findings().to_vec();
    opened.change(Ask::Edit(clearance(-1.0)));
    assert!(said(&opened).starts_with("not done: "), "{}", said(&opened));
    assert_eq!(opened.session().findings(), first);
    assert!(!opened.session().draft.is_changed());
}

#[test]
fn saving_writes_the_edit_and_nothing_else() {
    let mut opened = Opened::starter();
    let before = opened.on_disk();
    opened.change(Ask::Edit(elbow(82.5)));
    assert_eq!(opened.on_disk(), before);
    opened.press(Action::Save);
    assert_eq!(said(&opened), "saved");
    let now = opened.on_disk();
    let differing = before.lines().zip(now.lines()).filter(|(old, new)| old != new).count();
    assert_eq!((differing, now.lines().count()), (1, before.lines().count()));
    assert!(!opened.session().draft.is_changed());
}

#[test]
fn a_plan_changed_by_somebody_else_is_read_again() {
    let mut opened = Opened::starter();
    opened.write(&opened.on_disk().replace("default = 0.20", "default = 0.60"));
    opened.until("the change is noticed", |session| session.news.is_some() && !session.checking);
    assert_eq!(said(&opened), "read again: the plan has changed on disk");
    assert_eq!(opened.session().findings(), afresh(&opened.on_disk()));
}

#[test]
fn a_plan_changed_by_somebody_else_while_there_are_edits_is_asked_about() {
    for takes_theirs in [true, false] {
        let mut opened = Opened::starter();
        opened.change(Ask::Edit(elbow(82.5)));
        let mine = opened.session().draft.text().to_owned();
        let theirs = format!("{}# theirs\n", opened.on_disk());
        opened.write(&theirs);
        let asked = |session: &Session| session.news.as_ref().is_some_and(|news| news.choice == Choice::DiskOrMine);
        opened.until("it is noticed", asked);
        opened.press(Action::Save);
        assert_eq!(opened.on_disk(), theirs, "saving alone writes over nothing");
        assert!(asked(opened.session()));
        if takes_theirs {
            opened.change(Ask::TakeFromDisk);
            assert_eq!((opened.session().draft.text(), opened.on_disk().as_str()), (theirs.as_str(), theirs.as_str()));
            opened.change(Ask::Do(Action::Undo));
            assert_eq!(opened.session().draft.text(), mine);
        } else {
            opened.ask(Ask::KeepMine);
            assert_eq!(opened.on_disk(), theirs, "it is not saved yet");
            assert!(opened.session().draft.is_changed());
            opened.press(Action::Save);
            assert_eq!(opened.on_disk(), mine);
        }
    }
}

#[test]
fn any_file_that_the_plan_is_read_from_is_read_again_when_it_changes() {
    let mut opened = Opened::starter();
    let structure = opened.folder.path().join("structure.toml");
    let whole = std::fs::read_to_string(&structure).expect("the starter");
    let before = opened.session().findings().to_vec();
    std::fs::write(&structure, format!("{whole}\n[[body]]\n{BLOCK}\n")).expect("its owner may");
    opened.until("the change is noticed", |session| session.news.is_some() && !session.checking);
    assert_eq!(said(&opened), "read again: structure.toml changed on disk");
    assert_ne!(opened.session().findings(), before);
    std::fs::write(&structure, "body = \n").expect("somebody breaks it");
    opened.until("the mistake is told", |session| session.problems.is_some());
    opened.change(Ask::Edit(elbow(82.5)));
    assert!(opened.session().problems.is_none() && opened.session().draft.is_changed(), "editing goes on");
    std::fs::write(&structure, whole).expect("somebody mends it");
    let asked = |session: &Session| session.news.as_ref().is_some_and(|news| news.choice == Choice::DiskOrMine);
    opened.until("it is asked, since there is an edit", asked);
    assert!(said(&opened).starts_with("structure.toml changed on disk since it was read: reloading keeps your edits"));
    opened.change(Ask::TakeFromDisk);
    let edited = opened.session().draft.text().to_owned();
    assert_eq!(opened.session().findings(), afresh(&edited));
    assert!(opened.session().draft.is_changed(), "the edit is as it was");
}

/// A body in the way of the arm.
const BLOCK: &str = r#"id = "block"
place = { at_m = [7.8, 1.2, 2.0] }
shape = { sphere = { radius_m = 0.4 } }"#;

#[test]
fn files_that_change_while_there_are_edits_are_kept_if_asked_for_until_the_edits_are_saved() {
    let mut opened = Opened::starter();
    opened.change(Ask::Edit(elbow(82.5)));
    let before = opened.session().findings().to_vec();
    let structure = opened.folder.path().join("structure.toml");
    let whole = std::fs::read_to_string(&structure).expect("the starter");
    std::fs::write(&structure, format!("{whole}\n[[body]]\n{BLOCK}\n")).expect("its owner may");
    opened.until("it is asked", |session| session.news.is_some());
    opened.ask(Ask::KeepMine);
    opened.change(Ask::Edit(clearance(0.21)));
    opened.change(Ask::Do(Action::Undo));
    assert_eq!(opened.session().findings(), before, "nothing of it is seen");
    opened.press(Action::Save);
    opened.until("it is read again", |session| !session.draft.is_behind() && !session.checking);
    assert_ne!(opened.session().findings(), before);
}

#[test]
fn a_text_that_does_not_read_is_not_saved() {
    let mut opened = Opened::starter();
    let whole = opened.on_disk();
    opened.write("title = \n");
    opened.until("the mistake is told", |session| session.problems.is_some());
    opened.write(&whole.replace("two panels", "three panels"));
    opened.until("it is mended", |session| session.problems.is_none());
    let mended = opened.on_disk();
    opened.ask(Ask::Do(Action::Undo));
    opened.ask(Ask::Do(Action::Save));
    let saved = opened.on_disk();
    assert!(saved == mended || saved == whole, "nothing that does not read is on disk: {saved}");
    assert_ne!(opened.session().draft.text(), "title = \n", "and it is no state to go back to");
}

#[test]
fn a_question_is_asked_even_where_other_news_stand() {
    let mut opened = Opened::starter();
    opened.change(Ask::Edit(elbow(82.5)));
    opened.change(Ask::Do(Action::Undo));
    opened.change(Ask::Do(Action::Redo));
    assert!(said(&opened).starts_with("done again"), "{}", said(&opened));
    opened.write(&format!("{}# theirs\n", opened.on_disk()));
    let asked = |session: &Session| session.news.as_ref().is_some_and(|news| news.choice == Choice::DiskOrMine);
    opened.until("it is asked", asked);
}

#[test]
fn a_plan_that_is_deleted_is_told_once_and_written_again_by_saving() {
    let mut opened = Opened::starter();
    opened.change(Ask::Edit(elbow(82.5)));
    let mine = opened.session().draft.text().to_owned();
    std::fs::remove_file(opened.plan()).expect("somebody removes it");
    opened.until("it is noticed", |session| session.news.is_some());
    assert_eq!(said(&opened), "the plan is no longer on disk; saving writes it again");
    opened.press(Action::Save);
    assert_eq!(opened.on_disk(), mine);
    assert!(!opened.session().draft.is_changed());
}

#[test]
fn a_plan_that_may_not_be_written_stays_as_it_is_and_the_edit_is_kept() {
    let mut opened = Opened::starter();
    let before = opened.on_disk();
    opened.change(Ask::Edit(elbow(82.5)));
    let mut rights = std::fs::metadata(opened.plan()).expect("it is there").permissions();
    rights.set_readonly(true);
    std::fs::set_permissions(opened.plan(), rights).expect("its owner may");
    opened.press(Action::Save);
    assert!(said(&opened).contains("plan.toml` is write-protected"), "{}", said(&opened));
    assert_eq!(opened.on_disk(), before);
    assert!(opened.session().draft.is_changed());
    saves_elsewhere(&mut opened);
}

#[test]
fn a_plan_whose_folder_is_gone_is_offered_another() {
    let mut opened = Opened::starter();
    opened.change(Ask::Edit(elbow(82.5)));
    std::fs::remove_dir_all(opened.folder.path()).expect("somebody removes it");
    opened.press(Action::Save);
    assert!(opened.session().draft.is_changed());
    saves_elsewhere(&mut opened);
}

/// Another folder is offered, and takes the plan as it stands.
fn saves_elsewhere(opened: &mut Opened) {
    let offered = opened.session().news.as_ref().map(|news| news.choice);
    assert_eq!(offered, Some(Choice::Elsewhere), "{}", said(opened));
    let mine = opened.session().draft.text().to_owned();
    let other = tempfile::tempdir().expect("a temporary folder");
    opened.ask(Ask::SaveAs(other.path().to_owned()));
    assert!(said(opened).starts_with("saved into "), "{}", said(opened));
    assert_eq!(std::fs::read_to_string(other.path().join("plan.toml")).expect("it was saved"), mine);
    assert!(!opened.session().draft.is_changed());
}

#[test]
fn a_broken_plan_shows_its_problems_and_is_read_again_when_any_of_its_files_is_mended() {
    for name in ["plan.toml", "structure.toml"] {
        let folder = copy_of_starter();
        let file = folder.path().join(name);
        let whole = std::fs::read_to_string(&file).expect("the starter");
        std::fs::write(&file, format!("{whole}\nno-such-key = 1\n")).expect("its owner may");
        let mut opened = Opened::in_folder(folder);
        opened.until("it is read", |session| session.problems.is_some());
        let told = opened.session().problems.as_ref().map(ToString::to_string).unwrap_or_default();
        assert!(told.contains(name) && told.contains("no-such-key"), "{told}");
        assert!(opened.session().checked.is_none());
        std::fs::write(&file, &whole).expect("its owner may");
        opened.until("it is checked", |session| session.checked.is_some());
        assert!(opened.session().problems.is_none());
        assert_eq!(opened.session().findings(), afresh(&opened.on_disk()));
    }
}

#[test]
fn a_plan_that_somebody_breaks_keeps_what_was_found_and_tells_what_is_wrong() {
    let mut opened = Opened::starter();
    let first = opened.session().findings().to_vec();
    let whole = opened.on_disk();
    opened.write(&whole.replace("arm.toml", "no-such.toml"));
    opened.until("it is noticed", |session| session.problems.is_some());
    assert_eq!(opened.session().findings(), first);
    opened.write(&whole);
    opened.until("it is mended", |session| session.problems.is_none() && !session.checking);
    assert_eq!(opened.session().findings(), first);
}

#[test]
fn the_run_of_the_clearance_comes_for_each_motion() {
    let mut opened = Opened::starter();
    opened.until("all are there", |session| session.is_profiled());
    let session = opened.session();
    let spans = &session.checked.as_ref().expect("it is checked").playback.spans;
    let motions: Vec<usize> = (0..spans.len()).filter(|number| spans[*number].motion().is_some()).collect();
    assert_eq!(session.profiles.keys().copied().collect::<Vec<_>>(), motions);
    assert_eq!(motions.len(), 3, "retreat, transit, approach");
}

#[test]
fn what_undo_and_redo_would_do_is_told_and_where_they_would_do_nothing_that_is() {
    let mut opened = Opened::starter();
    let told = |opened: &Opened| (opened.session().to_undo(), opened.session().to_redo());
    assert_eq!(told(&opened), (None, None));
    opened.change(Ask::Edit(clearance(0.6)));
    let (done, nothing) = told(&opened);
    assert_eq!((done.as_ref(), nothing), (Some(&clearance(0.6).to_string()), None));
    opened.change(Ask::Do(Action::Undo));
    assert_eq!(told(&opened), (None, done.clone()));
    opened.change(Ask::Do(Action::Redo));
    assert_eq!(told(&opened), (done, None));
}

#[test]
fn a_file_that_cannot_be_read_is_not_offered_to_be_read_and_why_is_told() {
    let mut opened = Opened::starter();
    opened.change(Ask::Edit(clearance(0.6)));
    let mine = opened.session().draft.text().to_owned();
    std::fs::write(opened.plan(), [0xff, 0xfe, 0x00]).expect("its owner may");
    for ask in [Ask::Do(Action::Save), Ask::TakeFromDisk] {
        opened.ask(Ask::Heard);
        opened.ask(ask);
        let news = opened.session().news.clone().expect("it is told");
        assert_eq!(news.choice, Choice::Elsewhere);
        assert!(news.text.contains("cannot be read from there") && news.text.contains("UTF-8"), "{}", news.text);
        assert_eq!(opened.session().draft.text(), mine);
        assert!(opened.session().problems.is_none(), "what is shown is as good as before");
    }
    opened.write("# theirs");
    opened.ask(Ask::Do(Action::Save));
    assert_eq!(opened.session().news.as_ref().map(|news| news.choice), Some(Choice::DiskOrMine));
}
