//! Reports of one made-up outcome, as a person or machine reads them; look before you accept a change.

use trusswalk::files::Input;
use trusswalk::report::{self, Ink, Options, Report};

use crate::made_up;

fn with_report<T>(write: impl Fn(&Report) -> T) -> T {
    let inputs = [Input { path: "plan.toml".to_owned(), sha256: "0123456789abcdef".repeat(4) }];
    write(&Report {
        notes: &["rider: sizes are invented".to_owned()],
        project: &made_up::project(),
        outcome: &made_up::outcome(),
        inputs: &inputs,
        options: &Options { only: None },
        named: Some("my plan"),
    })
}

#[test]
fn text_reads_as_accepted() {
    insta::assert_snapshot!("text", with_report(|report| report::text(report, Ink::Plain)));
}

#[test]
fn text_fits_the_page_and_never_prints_a_negative_zero() {
    let text = with_report(|report| report::text(report, Ink::Plain));
    for line in text.lines() {
        assert!(line.chars().count() <= 120, "{line}");
        assert_eq!(line, line.trim_end());
    }
    assert!(!text.contains("-0.000") && !text.contains('\x1b'));
}

#[test]
fn colour_adds_nothing_that_the_words_do_not_say() {
    let plain = with_report(|report| report::text(report, Ink::Plain));
    let coloured = with_report(|report| report::text(report, Ink::Coloured));
    let mut stripped = String::new();
    let mut rest = coloured.as_str();
    while let Some((before, after)) = rest.split_once("\x1b[") {
        stripped.push_str(before);
        rest = after.split_once('m').map_or("", |(_, after)| after);
    }
    stripped.push_str(rest);
    assert_ne!(coloured, plain);
    assert_eq!(stripped, plain);
}

#[test]
fn json_reads_as_accepted() {
    let json = with_report(report::json).expect("the report can be written");
    insta::assert_snapshot!("json", json.replace(env!("CARGO_PKG_VERSION"), "VERSION"));
}

#[test]
fn csv_reads_as_accepted() {
    let csv = with_report(report::findings_csv).expect("the report can be written");
    insta::assert_snapshot!("csv", String::from_utf8(csv).expect("CSV is text"));
}

#[test]
fn waypoints_read_as_accepted() {
    let csv = with_report(report::waypoints_csv).expect("the report can be written");
    insta::assert_snapshot!(String::from_utf8(csv).expect("CSV is text"), @r"
    motion,kind,waypoint,turn_deg,slide_m
    step-2/transit,transit,0,0.000,0.500000
    step-2/transit,transit,1,28.648,1.000000
    step-2/transit,transit,2,-12.300,1.250000
    ");
}
