//! Pages to read: words, files, problems by name, cautions, speed, and what the checks rest on.
//!
//! | page | answers |
//! |---|---|
//! | [`words`] | what a word means here |
//! | [`files`] | what goes in, what comes out, and how to trace a figure back to its rows |
//! | [`families`] | which family to fit, how to judge it, and what a file of claims tells |
//! | [`groups`] | which call answers a question about suppliers, sites, currents or screens |
//! | [`problems`] | what a name such as `records.hours_negative` says and what to do |
//! | [`cautions`] | what no computed age can decide |
//! | [`choices`] | which thresholds are our own choice, and where each stands |
//! | [`coverage`] | how often intervals hold the truth, measured |
//! | [`speed`] | how fast the common work is, beside general-purpose libraries |
//! | [`references`] | which published values and independent computations the tests compare with |

#[doc = include_str!("words.md")]
pub mod words {}

#[doc = include_str!("files.md")]
pub mod files {}

#[doc = include_str!("families.md")]
pub mod families {}

#[doc = include_str!("groups.md")]
pub mod groups {}

#[doc = include_str!("problems.md")]
pub mod problems {}

#[doc = include_str!("cautions.md")]
pub mod cautions {}

#[doc = include_str!("choices.md")]
pub mod choices {}

#[doc = include_str!("coverage.md")]
pub mod coverage {}

#[doc = include_str!("references.md")]
pub mod references {}

#[doc = include_str!("speed.md")]
pub mod speed {}
