//! What the program says about itself and about words that it does not know.

use std::io::Read;
use std::process::{Command, Stdio};

use assert_cmd::cargo::{cargo_bin, cargo_bin_cmd};

fn stderr(args: &[&str]) -> String {
    let told = cargo_bin_cmd!("trusswalk").args(args).assert().code(2).get_output().clone();
    assert!(told.stdout.is_empty());
    String::from_utf8(told.stderr).expect("messages are text")
}

#[test]
fn help_reads_as_accepted() {
    for (name, args) in
        [("help", &["--help"][..]), ("help_check", &["check", "--help"]), ("help_poses", &["poses", "--help"])]
    {
        let printed = cargo_bin_cmd!("trusswalk").args(args).assert().success().get_output().clone();
        insta::assert_snapshot!(name, String::from_utf8(printed.stdout).expect("help is text"));
    }
}

#[test]
fn a_misspelt_command_is_answered_with_one_that_exists() {
    assert!(stderr(&["chek"]).contains("'check'"));
}

#[test]
fn a_plan_that_is_not_there_is_named() {
    let told = stderr(&["check", "no-such-plan"]);
    assert!(told.contains("no-such-plan"), "{told}");
}

/// Asks a long run to stop `patience` after it began; its exit code and what it told, or none where it had not yet begun to
/// listen.
#[cfg(unix)]
fn interrupted_after(patience: std::time::Duration) -> Option<(i32, String)> {
    let starter = concat!(env!("CARGO_MANIFEST_DIR"), "/scenes/starter");
    let child = Command::new(cargo_bin!("trusswalk"))
        .args(["poses", starter, "step-3/transit", "--moments", "1000000", "--out", "/dev/null"])
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    std::thread::sleep(patience);
    let asked = Command::new("kill").args(["-INT", &child.id().to_string()]).status().expect("kill is there");
    assert!(asked.success());
    let ended = child.wait_with_output().expect("it ends");
    ended.status.code().map(|code| (code, String::from_utf8_lossy(&ended.stderr).into_owned()))
}

#[cfg(unix)]
#[test]
fn ctrl_c_ends_a_long_run_in_order() {
    let ended = [200, 1000, 4000]
        .into_iter()
        .find_map(|patience| interrupted_after(std::time::Duration::from_millis(patience)));
    assert_eq!(ended, Some((130, "stopped before the end\n".to_owned())));
}

#[test]
fn a_closed_pipe_is_no_error() {
    // Poses are longer than a pipe's buffer: the program must notice while it writes.
    let starter = concat!(env!("CARGO_MANIFEST_DIR"), "/scenes/starter");
    for args in [&["schema", "plan"][..], &["poses", starter, "step-3/transit", "--moments", "2000"]] {
        let mut child = Command::new(cargo_bin!("trusswalk"))
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        drop(child.stdout.take());
        let mut told = String::new();
        child.stderr.take().expect("stderr is piped").read_to_string(&mut told).expect("messages are text");
        assert!(child.wait().expect("it ends").success(), "{told}");
        assert_eq!(told, "");
    }
}
