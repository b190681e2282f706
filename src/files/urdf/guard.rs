//! Is an XML text shallow and small enough for the parser, which calls itself for every level?
//!
//! Goes once over the text without building anything.

/// Elements in elements.
const DEEPEST: usize = 64;
/// Attributes of one element.
const MOST_ATTRIBUTES: usize = 100;
/// Namespaces that a file declares.
const MOST_NAMESPACES: usize = 100;

/// What is too much, and the byte where it begins to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct TooMuch {
    pub byte: usize,
    pub what: &'static str,
    pub expected: String,
}

/// Looks at depth, attributes and namespaces.
///
/// # Errors
/// The first excess.
pub(super) fn check(text: &str) -> Result<(), TooMuch> {
    let too_much = |byte, what, most: usize| Err(TooMuch { byte, what, expected: format!("expected at most {most}") });
    if let Some((byte, _)) = text.match_indices("xmlns").nth(MOST_NAMESPACES) {
        return too_much(byte, "too many namespaces", MOST_NAMESPACES);
    }
    let mut depth = 0_usize;
    let mut at = 0;
    while let Some(found) = text.get(at..).and_then(|rest| rest.find('<')) {
        let start = at + found;
        let rest = text.get(start..).unwrap_or_default();
        let skipped = [("<!--", "-->"), ("<![CDATA[", "]]>"), ("<?", "?>")];
        if let Some((_, end)) = skipped.iter().find(|(begin, _)| rest.starts_with(begin)) {
            let Some(length) = rest.find(end) else { return Ok(()) };
            at = start + length + end.len();
            continue;
        }
        let tag = Tag::read(rest);
        if tag.attributes > MOST_ATTRIBUTES {
            return too_much(start, "too many attributes", MOST_ATTRIBUTES);
        }
        if rest.starts_with("</") {
            depth = depth.saturating_sub(1);
        } else if !tag.closes_itself {
            depth += 1;
        }
        if depth > DEEPEST {
            return too_much(start, "nested too deeply", DEEPEST);
        }
        at = start + tag.length;
    }
    Ok(())
}

/// One tag, from `<` to `>` outside of quotes.
struct Tag {
    length: usize,
    attributes: usize,
    closes_itself: bool,
}

impl Tag {
    fn read(text: &str) -> Self {
        let mut quote = None;
        let mut attributes = 0;
        let mut before = b' ';
        for (index, byte) in text.bytes().enumerate() {
            match (quote, byte) {
                (Some(open), _) if byte == open => quote = None,
                (Some(_), _) => {}
                (None, b'"' | b'\'') => quote = Some(byte),
                (None, b'=') => attributes += 1,
                (None, b'>') => return Self { length: index + 1, attributes, closes_itself: before == b'/' },
                (None, _) => {}
            }
            before = byte;
        }
        Self { length: text.len(), attributes, closes_itself: false }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn depth_counts_only_elements_that_stay_open() {
        let flat = format!("<r>{}</r>", "<a b='>'/><!-- <x> --><c></c>".repeat(1000));
        assert_eq!(check(&flat), Ok(()));
        let deep = format!("<r>{}", "<a>".repeat(100));
        assert_eq!(check(&deep).map_err(|excess| excess.byte), Err(3 + 3 * 63));
    }

    #[test]
    fn many_attributes_and_namespaces_are_refused() {
        let many: String = (0..200).map(|k| format!(" a{k}='1'")).collect();
        assert_eq!(check(&format!("<r{many}/>")).map_err(|excess| excess.what), Err("too many attributes"));
        let many: String = (0..200).map(|k| format!("<a xmlns:n{k}='x'/>")).collect();
        assert_eq!(check(&format!("<r>{many}</r>")).map_err(|excess| excess.what), Err("too many namespaces"));
    }
}
