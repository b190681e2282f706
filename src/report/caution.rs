//! What must a reader know before they trust a report?

/// At the head of whatever is shown.
pub const CAUTION: &str = "An aid to planning: not certified, no basis for a safety case";

/// Printed with every report and in the README.
pub const CAUTIONS: &str = "\
Trusswalk is an aid to planning. It is not certified, and no safety case may rest on it alone. \
It knows nothing but the plan's own figures: suit ranges, limits and tolerances are the user's, and defaults are \
invented or common practice, as each says. \
A value marked sampled is no bound, and \"not found\" is no proof. \
What it was asked and could not check is listed as not checked; what no check asks, such as loads, light, heat, tethers, \
or how an arm is driven, it has not looked at.";
