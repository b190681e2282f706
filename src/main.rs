use std::process::ExitCode;

fn main() -> ExitCode {
    trusswalk::commands::run().unwrap_or_else(|error| trusswalk::commands::failed(&error))
}
