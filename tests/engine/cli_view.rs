//! What `view` and `render` say in a program without its viewer: the command that builds it.
#![cfg(not(feature = "viewer"))]

use assert_cmd::cargo::cargo_bin_cmd;

/// What is told, which must be all, with exit code 2.
fn told(args: &[&str]) -> String {
    let told = cargo_bin_cmd!("trusswalk").args(args).assert().code(2).get_output().clone();
    assert!(told.stdout.is_empty());
    String::from_utf8(told.stderr).expect("messages are text")
}

/// The command that a message names: its last line.
fn command(told: &str) -> &str {
    told.lines().last().unwrap_or_default().trim()
}

#[test]
fn view_says_the_exact_command_that_builds_and_opens_it() {
    for args in [&["view"][..], &["view", "my-plan"], &["view", "my-plan", "--size", "1280x720"]] {
        let told = told(args);
        assert_eq!(command(&told), format!("cargo run --release --features viewer -- {}", args.join(" ")), "{told}");
    }
}

#[test]
fn render_says_the_exact_command_that_builds_it_and_draws() {
    let options = [
        "render", "my-plan", "--at", "mount@3", "--camera", "tip", "--size", "480x270", "--panels", "--scale", "--out",
        "x.png",
    ];
    let told = told(&options);
    assert_eq!(command(&told), format!("cargo run --release --features viewer -- {}", options.join(" ")), "{told}");
}

#[test]
fn the_command_is_the_one_of_the_readme() {
    let told = told(&["view"]);
    let readme = include_str!("../../README.md").lines().map(|line| line.split('#').next().unwrap_or_default().trim());
    assert_eq!(readme.filter(|line| *line == command(&told)).count(), 1, "{told}");
}
