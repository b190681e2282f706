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
fn what_comes_in_is_put_in_order_and_the_one_that_is_looked_at_stays_so() {
    let offer = |score: f64| Offer {
        title: score.to_string(),
        brief: String::new(),
        changes: Vec::new(),
        told: Vec::new(),
        edits: Vec::new(),
        worth: [score, 0.0, 0.0],
    };
    let mut search = Search::default();
    search.add(offer(0.5));
    for (score, at) in [(0.7, 1), (0.3, 1), (0.5, 1), (0.9, 2)] {
        search.add(offer(score));
        assert_eq!((search.at, search.offers[search.at].offer.title.as_str()), (at, "0.5"), "after {score}");
    }
    let order: Vec<&str> = search.offers.iter().map(|seen| seen.offer.title.as_str()).collect();
    assert_eq!(order, ["0.9", "0.7", "0.5", "0.5", "0.3"]);
}

fn told(opened: &Opened) -> String {
    opened.session().news.as_ref().map(|news| news.text.clone()).unwrap_or_default()
}

#[test]
fn without_a_chosen_violation_the_worst_of_what_is_shown_is_mended_else_of_the_plan() {
    let mut opened = Opened::starter();
    opened.change(Ask::Edit(clearance(0.7)));
    let checked = opened.session().checked.clone().expect("it is checked");
    let violated: Vec<&Finding> =
        checked.outcome.findings.iter().filter(|finding| finding.status.is_violation()).collect();
    let mut seen = [false; 2];
    for span in &checked.playback.spans {
        opened.ask(Ask::Jump(span.start + 0.5 * span.seconds));
        opened.app.world_mut().resource_mut::<Chosen>().key = None;
        opened.press(Action::Mend);
        let key = opened.get::<Chosen>().key.clone().expect("it is chosen");
        let here: Vec<&&Finding> = violated.iter().filter(|finding| finding.key.place == span.place).collect();
        let (among, place) =
            if here.is_empty() { (violated.iter().collect(), "of the plan") } else { (here, "of what is shown") };
        let least = among.iter().filter_map(|finding| finding.margin).fold(f64::INFINITY, f64::min);
        let of_it = among.iter().find(|finding| finding.key == key).expect("one of those");
        assert_eq!(of_it.margin, Some(least));
        assert!(told(&opened).starts_with(&format!("the worst violation {place}: clearance")), "{}", told(&opened));
        assert!(search(&opened).title.contains(key.place.name()));
        seen[usize::from(place == "of the plan")] = true;
        opened.press(Action::Leave);
    }
    assert_eq!(seen, [true; 2], "both were tried");
}

#[test]
fn where_nothing_is_violated_there_is_nothing_to_mend_and_a_search_can_be_stopped() {
    let mut opened = Opened::starter();
    opened.press(Action::Mend);
    assert_eq!(told(&opened), "nothing is violated");
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
        let (shown, at) = (opened.session().preview.clone(), search(&opened).at);
        assert_eq!(shown.as_ref(), Some(&search(&opened).offers[at].offer.edits));
        let worths: Vec<[f64; 3]> = search(&opened).offers.iter().map(|seen| seen.offer.worth).collect();
        assert!(worths.windows(2).all(|pair| pair[0] >= pair[1]), "the best first: {worths:?}");
        let first = opened.session().findings().to_vec();
        assert_ne!(first, as_it_was, "the preview is checked");
        opened.app.update();
        let effect = search(&opened).offers[at].effect.clone().expect("it is told what it does");
        assert_eq!(effect, Effect::new(&as_it_was, &first));
        let checked = opened.session().checked.clone().expect("it is checked");
        let (_, span) = checked.playback.span_at(opened.get::<Clock>().at).expect("something is shown");
        assert_eq!(span.place.name(), "far-panel", "the clock has gone to what is changed");
        assert_eq!(violations(&opened), 0, "the proposal keeps every limit");
        let (next, back) = match at {
            0 => (Action::OfferAfter, Action::OfferBefore),
            _ => (Action::OfferBefore, Action::OfferAfter),
        };
        opened.change(Ask::Do(next));
        assert_eq!(search(&opened).at.abs_diff(at), 1);
        assert_ne!(opened.session().preview, shown);
        assert_eq!(violations(&opened), 0, "the next one, too, with its own ways");
        opened.change(Ask::Do(back));
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
fn what_is_taken_leaves_the_clock_where_it_is_looked_at() {
    let mut opened = Opened::starter();
    opened.ask(Ask::Propose("far-panel".to_owned()));
    found(&mut opened);
    opened.app.update();
    let gone_to = opened.get::<Clock>().at;
    let edits = opened.session().preview.clone().expect("the first is shown");
    let spans = opened.session().checked.clone().expect("it is checked").playback.spans.clone();
    let moments = spans.iter().flat_map(|span| [0.0, 0.3, 0.6, 0.999].map(|share| span.start + share * span.seconds));
    for at in moments.chain([gone_to]) {
        opened.ask(Ask::Jump(at));
        opened.change(Ask::Do(Action::Take));
        opened.app.update();
        assert!((opened.get::<Clock>().at - at).abs() < 1e-5, "{at} became {}", opened.get::<Clock>().at);
        opened.change(Ask::Do(Action::Undo));
        opened.app.world_mut().resource_scope(|world, mut engine: Mut<Engine>| {
            assert!(world.resource_mut::<Session>().show(&edits, &mut engine));
        });
        opened.until("the preview is checked", |session| !session.checking);
    }
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
