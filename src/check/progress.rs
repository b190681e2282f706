//! How far is the work, and should it go on?

use std::fmt;
use std::sync::atomic::{AtomicBool, Ordering};

/// Hears how the work proceeds; called from any thread.
pub trait Progress: Sync {
    /// A task of so many units begins; the one before it is over.
    fn begin(&self, task: &str, units: u64);

    /// One more unit of the task is done.
    fn advance(&self);
}

/// Nobody listens.
pub struct Silent;

impl Progress for Silent {
    fn begin(&self, _: &str, _: u64) {}

    fn advance(&self) {}
}

/// The user, or a limit that they set, asked the work to stop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stopped;

impl fmt::Display for Stopped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("stopped before the end")
    }
}

impl std::error::Error for Stopped {}

/// Ends the work where the flag is up.
///
/// # Errors
/// [`Stopped`] if it is.
pub fn go_on(stop: &AtomicBool) -> Result<(), Stopped> {
    if stop.load(Ordering::Relaxed) { Err(Stopped) } else { Ok(()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_ends_only_once_the_flag_is_up() {
        let stop = AtomicBool::new(false);
        assert_eq!(go_on(&stop), Ok(()));
        stop.store(true, Ordering::Relaxed);
        assert_eq!(go_on(&stop), Err(Stopped));
    }
}
