//! What was not checked, what may touch, and how many findings were there?

use crate::check::Status;

use super::table::{Paint, Set, Table};
use super::{Ink, paragraph, section};
use crate::report::{CAUTIONS, Counts, Report, words};

/// Everything that was not checked, with the reason.
pub fn not_checked(report: &Report, ink: Ink, out: &mut String) {
    section("not checked", ink, out);
    let mut table =
        Table::new([("check", Set::Left), ("where", Set::Wrap), ("what", Set::Wrap), ("because", Set::Wrap)]);
    let mut none = true;
    for finding in &report.outcome.findings {
        if let Status::NotChecked(reason) = &finding.status {
            none = false;
            let place = words::place(&finding.key.place);
            table.row([finding.key.check.into(), place.into(), words::subject(finding).into(), reason.as_str().into()]);
        }
    }
    if none {
        out.push_str("nothing was left out of what was asked\n");
    }
    table.write(ink, 0, out);
}

/// Pairs that may touch, by reason.
pub fn exemptions(report: &Report, ink: Ink, out: &mut String) {
    section("may touch", ink, out);
    let mut reasons: Vec<(&str, Vec<String>)> = Vec::new();
    for exemption in &report.outcome.exemptions {
        let pair = format!("{} to {}", exemption.a, exemption.b);
        match reasons.iter_mut().find(|(reason, _)| *reason == exemption.reason) {
            Some((_, pairs)) => pairs.push(pair),
            None => reasons.push((&exemption.reason, vec![pair])),
        }
    }
    if reasons.is_empty() {
        out.push_str("nothing\n");
    }
    for (reason, pairs) in reasons {
        paragraph(&format!("{reason} ({}):", pairs.len()), 0, out);
        paragraph(&pairs.join(", "), 2, out);
    }
}

/// How many findings of each status, and the cautions.
pub fn summary(report: &Report, ink: Ink, out: &mut String) {
    section("summary", ink, out);
    let Counts { ok, tight, violations, not_checked } = Counts::of(report.outcome);
    let counts = [
        (format!("{ok} ok"), Paint::Good),
        (format!("{tight} tight"), Paint::Near),
        (format!("{violations} {}", if violations == 1 { "violation" } else { "violations" }), Paint::Bad),
        (format!("{not_checked} not checked"), Paint::Unknown),
    ];
    out.push_str(&counts.map(|(text, paint)| ink.paint(&text, paint)).join(", "));
    out.push('\n');
    paragraph(CAUTIONS, 0, out);
}
