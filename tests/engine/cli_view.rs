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

// The shell itself says how it takes the command apart.
#[test]
#[cfg(unix)]
fn a_shell_takes_the_command_apart_as_it_was_typed() {
    let options =
        ["render", "my plan's", "--at", "mount $HOME;@3", "--camera", "tip", "--size", "480x270", "--out", "a b"];
    let told = told(&options);
    let words = command(&told).strip_prefix("cargo run --release --features viewer -- ").expect("it is cargo's");
    let printed = std::process::Command::new("sh").args(["-c", &format!("printf '%s\\n' {words}")]).output();
    let printed = String::from_utf8(printed.expect("a shell").stdout).expect("text");
    assert_eq!(printed.lines().collect::<Vec<_>>(), options, "{told}");
}

#[test]
fn the_command_is_the_one_of_the_readme() {
    let told = told(&["view"]);
    let readme = include_str!("../../README.md").lines().map(|line| line.split('#').next().unwrap_or_default().trim());
    assert_eq!(readme.filter(|line| *line == command(&told)).count(), 1, "{told}");
}
