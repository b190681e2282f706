//! Tests of the viewer as a process: the pictures that it draws, what it says where it cannot, and its window, used by
//! keyboard and mouse.
//!
//! A test that finds no graphics driver, or no virtual display for its window, is reported as ignored, with the reason.

mod folder;
mod machine;
mod messages;
mod picture;
mod pictures;
mod screen;
mod window;

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};

use libtest_mimic::{Arguments, Completion, Failed, Trial};

/// What a test cannot do without.
#[derive(Clone, Copy)]
enum Needs {
    Nothing,
    Driver,
    Window,
}

/// One test.
type Test = (&'static str, Needs, fn());

fn main() {
    let mut arguments = Arguments::from_args();
    // A software driver takes every core for one picture.
    arguments.test_threads.get_or_insert(1);
    let tests = messages::TESTS.iter().chain(pictures::TESTS).chain(window::TESTS);
    libtest_mimic::run(&arguments, tests.map(|test| trial(*test)).collect()).exit();
}

fn trial((name, needs, test): Test) -> Trial {
    Trial::ignorable_test(name, move || {
        let lacking = match needs {
            Needs::Nothing => None,
            Needs::Driver => machine::no_driver(),
            Needs::Window => machine::no_driver().or_else(machine::no_display),
        };
        match lacking {
            Some(reason) => Ok(Completion::ignored_with(reason)),
            None => catch_unwind(AssertUnwindSafe(test)).map(|()| Completion::Completed).map_err(|why| failed(&*why)),
        }
    })
}

fn failed(why: &(dyn Any + Send)) -> Failed {
    let text = why.downcast_ref::<String>().map(String::as_str).or_else(|| why.downcast_ref::<&str>().copied());
    text.unwrap_or("it panicked").into()
}
