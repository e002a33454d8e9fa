//! Back-tests: what the chain's own history says of a rule and of predictions.
//!
//! [`replay_age`] reads the records of a lamp class as if lamps had been changed at another age: cost and endings, each with
//! an interval. Rows tell of ages that lamps were seen to reach; past those only a model can, and the answer says so.
//! [`replay_predictions`] goes through the history window by window, predicts from what was known before each, and judges
//! over all windows whether the predicted distributions held.

mod evenness;
mod few;
mod history;
mod rule;
mod windows;

pub use evenness::evenness;
pub use few::RareEnding;
pub use rule::{AgeReplay, ReplayedAge, ReplayedEnding, replay_age};
pub use windows::{PredictedWindow, PredictionReplay, WindowOptions, replay_predictions};
