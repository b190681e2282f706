//! How does a user read what serde says of a value that does not fit its type?

use super::problem::nearest;

/// A library's message in our words.
pub(super) struct Words {
    pub what: String,
    /// Empty where `what` says it all.
    pub expected: String,
    /// Of the words that were expected, the one most like the word found.
    pub nearest: Option<String>,
}

/// Says a message of serde, as from [`serde::de::Error`], in our words.
pub(super) fn in_our_words(message: &str) -> Words {
    let (found, expected) = message.trim().split_once(", expected ").unwrap_or((message.trim(), ""));
    let found = found.strip_prefix("invalid type: ").or(found.strip_prefix("invalid value: ")).unwrap_or(found);
    let names = between_ticks(expected);
    let nearest = between_ticks(found).first().and_then(|word| nearest(word, names.iter().copied()));
    let found = match found.strip_prefix("invalid length ") {
        Some(length) => &format!("this list has {length} values"),
        None => found,
    };
    let (kind, rest) = found.split_once(' ').unwrap_or((found, ""));
    let what = match (found.strip_prefix("missing field "), kind) {
        (Some(key), _) => format!("the key {key} is missing"),
        (None, "unknown") => format!("there is no {}", rest.replace("field", "key").replace("variant", "choice")),
        (None, "string" | "integer" | "float" | "floating" | "boolean" | "map" | "sequence") => {
            let article = if kind == "integer" { "an" } else { "a" };
            let words = [("floating point", "number"), ("map", "table"), ("sequence", "list")];
            let found = words.iter().fold(found.to_owned(), |text, (theirs, ours)| text.replacen(theirs, ours, 1));
            format!("this is {article} {found}")
        }
        _ => found.to_owned(),
    };
    let expected =
        if expected.is_empty() { String::new() } else { format!("expected {}", type_in_our_words(expected)) };
    Words { what, expected, nearest }
}

/// A type, as a user would say it.
fn type_in_our_words(expected: &str) -> String {
    if let Some(length) = expected.strip_prefix("an array of length ") {
        return format!("a list of {length} numbers");
    }
    match expected {
        "f32" | "f64" => "a number".to_owned(),
        "u32" | "u64" | "usize" | "index into child of root" => "a whole number, 0 or more".to_owned(),
        "a string" => "a text in quotes".to_owned(),
        "a boolean" => "`true` or `false`".to_owned(),
        "a sequence" => "a list".to_owned(),
        "a map" => "a table".to_owned(),
        struct_ if struct_.starts_with("struct ") => "a table".to_owned(),
        other => other.to_owned(),
    }
}

/// The words that stand between backticks.
fn between_ticks(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}
