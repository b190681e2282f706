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

#[test]
fn every_line_of_the_excerpt_stands_in_the_demos_report() {
    let excerpt = include_str!("../../README.md").split("```text\n").nth(1).and_then(|rest| rest.split("```").next());
    let report = assert_cmd::cargo::cargo_bin_cmd!("trusswalk").output().expect("runs");
    let report = String::from_utf8(report.stdout).expect("text");
    let printed: std::collections::BTreeSet<&str> = report.lines().collect();
    let missing: Vec<&str> = excerpt.expect("an excerpt").lines().filter(|line| !printed.contains(line)).collect();
    assert_eq!(missing, Vec::<&str>::new());
}

/// The lines of the README's shell blocks that call the installed program, without their comments.
fn commands() -> Vec<Vec<String>> {
    let in_shell =
        include_str!("../../README.md").split("```sh\n").skip(1).filter_map(|block| block.split("```").next());
    in_shell
        .flat_map(str::lines)
        .filter_map(|line| line.strip_prefix("trusswalk "))
        .map(|line| {
            let words = line.split('#').next().unwrap_or_default();
            words.split_whitespace().map(str::to_owned).collect()
        })
        .collect()
}

#[test]
fn every_command_of_the_readme_succeeds_in_its_order() {
    let folder = tempfile::tempdir().expect("a folder");
    let commands = commands();
    assert!(commands.len() >= 6, "{commands:?}");
    for command in commands {
        let run =
            assert_cmd::cargo::cargo_bin_cmd!("trusswalk").args(&command).current_dir(&folder).output().expect("runs");
        assert!(run.status.success(), "trusswalk {}: {}", command.join(" "), String::from_utf8_lossy(&run.stderr));
    }
}
