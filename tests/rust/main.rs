//! Integration tests, one module per room.
// A test may stop at the first surprise; the lints guard the library.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod coverage;
mod curve_spread;
mod demand;
mod empirical;
mod family;
mod family_combined;
mod family_grid;
mod fit;
mod fit_combined;
mod fit_identified;
mod fit_uncertainty;
mod group_tests;
mod incidence_spread;
mod lives;
mod mistakes;
mod one_kind;
mod plots_predictions;
mod policy;
mod posteriors;
mod profile_figures;
mod profiles;
mod published;
mod records;
mod recurrence;
mod reference_index;
mod residuals;
mod self_consistent;
mod shapes;
mod small_samples;
mod stock;
mod structure;
mod study;
mod study_bounds;
mod study_chain;
mod study_columns;
mod study_doubts;
mod study_mistakes;
mod study_small;
mod study_tampered;
mod terms;
mod tests_of_fit;
mod verdicts;
mod windows;
mod worlds;
