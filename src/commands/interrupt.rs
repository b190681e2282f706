//! Has the user pressed Ctrl-C?

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use anyhow::{Context, Result};

use super::INTERRUPTED;

/// A flag that goes up at the first Ctrl-C; the work polls it and ends in order. A second one ends the program at once.
///
/// # Errors
/// If the system does not let the program hear of Ctrl-C.
pub fn stop_flag() -> Result<Arc<AtomicBool>> {
    let stop = Arc::new(AtomicBool::new(false));
    let raised = Arc::clone(&stop);
    ctrlc::set_handler(move || {
        if raised.swap(true, Ordering::Relaxed) {
            std::process::exit(INTERRUPTED.into());
        }
    })
    .context("listening for Ctrl-C")?;
    Ok(stop)
}
