//! What to generate.

use crate::Day;

/// Everything that shapes a chain beside its seed.
///
/// # Examples
/// ```
/// use relamp_demo::{Options, generate};
/// let chain = generate(7, &Options::clean_weibull(2.5, 1.4).with_size(2, 6, 3));
/// assert!(chain.key.entries.is_empty());
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Full or clean.
    pub mode: Mode,
    /// Number of sites.
    pub sites: usize,
    /// Number of screens, at least one for each site.
    pub screens: usize,
    /// Number of lamp classes, 1 to 5, from the smallest power up.
    pub classes: usize,
    /// Years of records before the as-of date.
    pub years: usize,
    /// Day of the newest export.
    pub as_of: Day,
    /// Lamps moved between screens, and pulled lamps used again as emergency spares.
    pub moves: bool,
    /// Flicker and dimming at some sites found only at the weekly reading, so known only to an interval.
    pub intervals: bool,
    /// How numbers are written.
    pub writing: Writing,
    /// Which set of logs is written.
    pub logs: LogSet,
}

/// Full chain or clean chain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mode {
    /// Batch and site effects, and planted faults.
    Full,
    /// No batch effect, no site effect, no fault: the truth is the declared model alone.
    Clean(CleanTruth),
}

/// True life model of a clean chain.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CleanTruth {
    /// One Weibull cause, recorded as `dim`: the same shape for each class, scale as a multiple of the rated hours.
    OneWeibull {
        /// Weibull shape.
        shape: f64,
        /// Weibull scale divided by the class's rated hours.
        scale_over_rated: f64,
    },
    /// The five independent Weibull causes of each class, as `truth_model.csv` lists them.
    IndependentCauses,
}

/// How numbers are written in the logs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Writing {
    /// Each log by its own convention.
    AsDeclared,
    /// All logs with a decimal point, no thousands separator, commas between cells.
    Points,
    /// All logs with a decimal comma, no thousands separator, semicolons between cells.
    Commas,
}

/// Which set of logs is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LogSet {
    /// Five regions, six files, two languages.
    Main,
    /// One file with other column names, for a reader to swap in.
    Second,
}

impl Options {
    /// The full demo chain: 40 sites, 300 screens, 5 classes, six years to 2025-12-28.
    pub fn full() -> Self {
        Self {
            mode: Mode::Full,
            sites: 40,
            screens: 300,
            classes: 5,
            years: 6,
            as_of: Day::from_date(2025, 12, 28),
            moves: true,
            intervals: true,
            writing: Writing::AsDeclared,
            logs: LogSet::Main,
        }
    }

    /// The small second chain: 6 sites, 36 screens, 3 classes, four years.
    pub fn second() -> Self {
        Self { sites: 6, screens: 36, classes: 3, years: 4, logs: LogSet::Second, ..Self::full() }
    }

    /// A clean chain of full size with five independent causes, moves and intervals.
    pub fn clean_causes() -> Self {
        Self { mode: Mode::Clean(CleanTruth::IndependentCauses), ..Self::full() }
    }

    /// A clean chain with a single Weibull cause, exact ages and no moves: late entry, planned changes
    /// at the limit and running lamps remain.
    pub fn clean_weibull(shape: f64, scale_over_rated: f64) -> Self {
        Self {
            mode: Mode::Clean(CleanTruth::OneWeibull { shape, scale_over_rated }),
            moves: false,
            intervals: false,
            ..Self::full()
        }
    }

    /// The same with another size.
    #[must_use]
    pub fn with_size(mut self, sites: usize, screens: usize, years: usize) -> Self {
        self.sites = sites.max(1);
        self.screens = screens.max(self.sites);
        self.years = years.max(1);
        self
    }

    /// The same with another way of writing numbers.
    #[must_use]
    pub fn with_writing(mut self, writing: Writing) -> Self {
        self.writing = writing;
        self
    }

    /// Whether faults, batch and site effects are on.
    pub fn is_full(&self) -> bool {
        self.mode == Mode::Full
    }
}
