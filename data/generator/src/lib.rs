//! The invented demo chain: lamp logs as an analyst really gets them, with planted faults, a study file,
//! an answer key and the truth behind it all.
//!
//! Start with [`generate`]. Everything is a function of the seed and the [`Options`]; nothing is read from outside and
//! nothing is shared with the programs that are checked against it.
//!
//! What is simulated: each screen of each site, day by day; lamps with competing causes of failure, early seal failures
//! among them; planned changes heaped at the chain's rule and at round hundreds; weekly meter readings, so that flicker and
//! dimming are known only to an interval at some sites; records that begin while lamps burn; lamps moved or used
//! again as spares; conversions; a weak batch; a site with poor cooling. What the planted faults look like: [`faults`].

pub mod chain;
pub mod claims;
pub mod classes;
pub mod convention;
mod day;
mod ending;
mod export;
pub mod faults;
pub mod folder;
mod key;
pub mod lamps;
mod options;
mod readme;
mod rows;
mod simulate;
pub mod stock;
mod stream;
pub mod study;
pub mod truth;
pub mod words;

pub use day::Day;
pub use ending::Ending;
pub use key::{AnswerKey, KeyEntry};
pub use options::{CleanTruth, LogSet, Mode, Options, Writing};
pub use truth::{ClassTruth, TruePoint};

/// Seed of the demo chain that lies beside the generator.
pub const DEMO_SEED: u64 = 20_251_228;

/// Seed of the second demo chain.
pub const SECOND_SEED: u64 = 20_251_229;

/// A generated chain.
#[derive(Clone, Debug)]
pub struct Chain {
    /// All files with their names relative to the study's folder: logs, `study.toml`, answer key, truth tables, `README.md`.
    pub files: Vec<(String, Vec<u8>)>,
    /// The planted faults.
    pub key: AnswerKey,
    /// Every recorded lamp with its true fate and its true spells, ages in tenths of an hour.
    pub lamps: Vec<lamps::Lamp>,
    /// The true model by class.
    pub truth: Vec<ClassTruth>,
}

impl Chain {
    /// The bytes of a file.
    pub fn file(&self, name: &str) -> Option<&[u8]> {
        self.files.iter().find(|f| f.0 == name).map(|f| f.1.as_slice())
    }
}

/// Makes a chain.
///
/// # Examples
/// ```
/// use relamp_demo::{Options, generate};
/// let chain = generate(1, &Options::full().with_size(5, 20, 3));
/// assert!(chain.file("study.toml").is_some());
/// assert!(chain.key.count("hours_negative") >= 1);
/// ```
pub fn generate(seed: u64, options: &Options) -> Chain {
    let classes = classes::classes(options);
    let sites = chain::sites(seed, options);
    let logs = convention::conventions(&sites, options);
    let mut lamps = Vec::new();
    for (index, site) in sites.iter().enumerate() {
        lamps.extend(simulate::play(seed, index, site, &classes, options));
    }
    lamps::number(seed, &mut lamps);
    let mut rows = rows::rows(seed, &lamps, &sites, &logs, options);
    if options.is_full() {
        faults::plant(seed, &mut rows, &lamps, &logs);
    }
    let names = export::Names { classes: &classes, sites: &sites, lamps: &lamps };
    let mut files = Vec::new();
    let mut key = AnswerKey::default();
    for (index, log) in logs.iter().enumerate() {
        let (bytes, entries) = export::log(index, log, &rows, names);
        files.push((log.file.to_string(), bytes));
        key.entries.extend(entries);
    }
    let truth = truth::truth(&classes, &lamps);
    let study = study::toml(seed, options, &sites, &classes, &logs, &rows);
    files.push(("study.toml".to_string(), study.into_bytes()));
    if stock::counted(options) {
        files.push((stock::FILE.to_string(), stock::csv(options, &sites, &classes).into_bytes()));
    }
    if options.is_full() && options.logs == LogSet::Main {
        let claims = claims::csv(seed, options, &classes, &lamps);
        files.push(("claims.csv".to_string(), claims.into_bytes()));
    }
    files.push(("answer_key.csv".to_string(), key.to_csv().into_bytes()));
    files.push(("truth_lives.csv".to_string(), export::truth_lives(names).into_bytes()));
    files.push(("truth_model.csv".to_string(), truth::model_csv(&truth).into_bytes()));
    files.push(("truth_reliability.csv".to_string(), truth::reliability_csv(&truth).into_bytes()));
    let mut chain = Chain { files, key, lamps, truth };
    let readme = readme::text(seed, options, &chain);
    chain.files.push(("README.md".to_string(), readme.into_bytes()));
    chain
}
