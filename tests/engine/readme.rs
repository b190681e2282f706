//! The README says what the program says.

/// The words of a text, however its lines are broken.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_readme_has_the_cautions_of_every_report() {
    let readme = include_str!("../../README.md");
    assert!(words(readme).contains(&words(trusswalk::report::CAUTIONS)));
}
