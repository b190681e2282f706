//! How is a word typed so that a shell leaves it in one piece?

use std::borrow::Cow;
use std::path::Path;

/// The word, in quotes where a shell would take it apart.
pub fn word(text: &str) -> Cow<'_, str> {
    // Only a NUL has no quotes, and no argument of a program holds one.
    shlex::try_quote(text).unwrap_or(Cow::Borrowed(text))
}

/// A path as such a word.
pub fn path(path: &Path) -> String {
    word(&path.display().to_string()).into_owned()
}
