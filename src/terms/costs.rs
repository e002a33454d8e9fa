//! What a change costs, by what ended the lamp.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::records::Ending;

/// Cost of one planned change and of one change after each kind of failure, in one currency.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Costs {
    planned: f64,
    by_ending: BTreeMap<Ending, f64>,
}
