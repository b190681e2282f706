//! What is found by a search, taken, left and undone.

use super::*;
use crate::check::Status;
use crate::viewer::testing::{Opened, clearance, copy_of, elbow};

fn search(opened: &Opened) -> &Search {
    opened.get::<Search>()
}

/// Waits until the search is over and the plan is checked.
fn found(opened: &mut Opened) {
    while search(opened).progress().is_some() {
        opened.app.update();
        thread::sleep(std::time::Duration::from_millis(2));
    }
    opened.until("the plan is checked", |session| !session.checking);
}

fn violations(opened: &Opened) -> usize {
    opened.session().findings().iter().filter(|finding| finding.status.is_violation()).count()
}

#[test]
fn a_fault_is_mended_as_one_step_and_undo_gives_the_same_text_back() {
    // The fault of the check `line` in scenes/faults.toml.
    let folder = copy_of("demo");
    let plan = folder.path().join("plan.toml");
    let whole = std::fs::read_to_string(&plan).expect("the demo");
    let at = whole.find("id = \"far-stop\"").expect("it is a stand of the demo");
    let (before, stand) = whole.split_at(at);
    let faulty = before.to_owned() + &stand.replacen("rpy_deg = [0, 0, 0]", "rpy_deg = [0, 0, 0.105]", 1);
    assert_ne!(faulty, whole);
    std::fs::write(&plan, &faulty).expect("its owner may");
    let mut opened = Opened::in_folder(folder);
    opened.until("the plan is checked", |session| session.checked.is_some() && !session.checking);
    assert!(violations(&opened) > 0);
    opened.press(Action::FindingAfter);
    opened.press(Action::Mend);
    assert!(search(&opened).progress().is_some(), "it goes on beside the drawing");
    found(&mut opened);
    assert!(!search(&opened).offers.is_empty(), "{:?}", search(&opened).told);
    assert_eq!(opened.session().draft.text(), faulty, "nothing is done before it is taken");
    opened.change(Ask::Do(Action::Take));
    assert_eq!(violations(&opened), 0);
    opened.change(Ask::Do(Action::Undo));
    assert_eq!(opened.session().draft.text(), faulty);
}

#[test]
fn a_mend_is_asked_for_a_violation_only_and_a_search_can_be_stopped() {
    let mut opened = Opened::starter();
    opened.press(Action::Mend);
    let told = opened.session().news.as_ref().map(|news| news.text.clone());
    assert_eq!(told.as_deref(), Some("choose a violation first (N)"));
    opened.change(Ask::Edit(clearance(0.7)));
    opened.press(Action::FindingAfter);
    let chosen = opened.get::<Chosen>().finding(opened.session()).expect("one is chosen");
    assert!(matches!(chosen.status, Status::Violation(_)));
    opened.press(Action::Mend);
    let stop = Arc::clone(&search(&opened).running.as_ref().expect("it goes on").stop);
    opened.press(Action::Leave);
    assert!(search(&opened).progress().is_none() && search(&opened).title.is_empty());
    assert!(stop.load(Ordering::Relaxed));
}

#[test]
fn a_proposal_is_shown_left_taken_and_undone_as_one_step() {
    let mut opened = Opened::starter();
    let whole = opened.on_disk();
    let as_it_was = opened.session().findings().to_vec();
    for takes in [false, true] {
        opened.ask(Ask::Propose("far-panel".to_owned()));
        found(&mut opened);
        assert!(search(&opened).offers.len() >= 2, "{:?}", search(&opened).told);
        let shown = opened.session().preview.clone();
        assert_eq!(shown.as_ref(), Some(&search(&opened).offers[0].edits));
        let first = opened.session().findings().to_vec();
        assert_ne!(first, as_it_was, "the preview is checked");
        opened.app.update();
        let effect = search(&opened).effects.get(&0).expect("it is told what it does").clone();
        assert_eq!(effect, Effect::new(&as_it_was, &first));
        let checked = opened.session().checked.clone().expect("it is checked");
        let (_, span) = checked.playback.span_at(opened.get::<Clock>().at).expect("something is shown");
        assert_eq!(span.place.name(), "far-panel", "the clock has gone to what is changed");
        assert_eq!(violations(&opened), 0, "the proposal keeps every limit");
        opened.change(Ask::Do(Action::OfferAfter));
        assert_eq!(search(&opened).at, 1);
        assert_ne!(opened.session().preview, shown);
        assert_eq!(violations(&opened), 0, "the next one, too, with its own ways");
        opened.change(Ask::Do(Action::OfferBefore));
        assert_eq!(opened.session().findings(), first, "one takes the place of the other");
        opened.press(Action::Save);
        assert_eq!(
            (opened.on_disk(), opened.session().draft.text()),
            (whole.clone(), whole.as_str()),
            "nothing is made yet"
        );
        let compared = opened.session().before.as_ref().expect("the plan was checked");
        assert_eq!(compared.outcome.findings, as_it_was, "each is compared with the plan as it was");
        opened.change(Ask::Do(if takes { Action::Take } else { Action::Leave }));
        assert!(search(&opened).title.is_empty());
        assert_eq!(opened.session().findings(), if takes { &first } else { &as_it_was });
        assert_eq!(opened.session().draft.text() != whole, takes);
    }
    opened.change(Ask::Do(Action::Undo));
    assert_eq!(opened.session().draft.text(), whole);
}

#[test]
fn a_plan_that_becomes_another_one_drops_what_was_found_for_it() {
    let mut opened = Opened::starter();
    opened.ask(Ask::Propose("far-panel".to_owned()));
    opened.change(Ask::Edit(clearance(0.19)));
    let edited = opened.session().draft.text().to_owned();
    opened.app.update();
    assert!(search(&opened).progress().is_none() && search(&opened).title.is_empty());
    assert_eq!(opened.session().draft.text(), edited);
}

#[test]
fn an_edit_of_what_is_shown_takes_it_first_and_undo_leaves_what_is_only_shown() {
    let mut opened = Opened::starter();
    let whole = opened.on_disk();
    opened.ask(Ask::Propose("far-panel".to_owned()));
    found(&mut opened);
    opened.change(Ask::Do(Action::Undo));
    assert_eq!((&opened.session().preview, opened.session().draft.text()), (&None, whole.as_str()));
    opened.app.update();
    assert!(search(&opened).title.is_empty());
    opened.ask(Ask::Propose("far-panel".to_owned()));
    found(&mut opened);
    opened.change(Ask::Edit(elbow(82.5)));
    let edited = opened.session().draft.text().to_owned();
    opened.change(Ask::Do(Action::Undo));
    let taken = opened.session().draft.text().to_owned();
    assert!(taken != whole && taken != edited);
    opened.change(Ask::Do(Action::Undo));
    assert_eq!(opened.session().draft.text(), whole);
}
