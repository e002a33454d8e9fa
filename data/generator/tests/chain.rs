//! The generator keeps its word: same seed same bytes, the key matches what was planted, the simulated lives follow
//! the stated model, and every recorded figure is one that could have happened.

use std::collections::BTreeMap;
use std::path::Path;

use relamp_demo::truth::reliability;
use relamp_demo::{CleanTruth, DEMO_SEED, Ending, Mode, Options, SECOND_SEED, Writing, folder, generate};

/// Every kind the page of the `faults` module lists.
const KINDS: [&str; 20] = [
    "meter_restarted",
    "hours_negative",
    "hours_impossible",
    "two_screens_at_once",
    "removed_before_fitted",
    "removal_missing",
    "duplicate",
    "absent_from_newest",
    "strikes_in_hours",
    "repeated_header",
    "total_row",
    "serial_mistyped",
    "minutes_for_hours",
    "restart_forgotten",
    "reason_blank",
    "reason_unmapped",
    "class_unknown",
    "date_unreadable",
    "hours_unreadable",
    "serial_blank",
];

fn text(bytes: &[u8]) -> String {
    bytes.iter().map(|&b| char::from(b)).collect()
}

#[test]
fn same_seed_gives_same_bytes_and_another_seed_others() {
    let options = Options::full().with_size(10, 60, 3);
    let (a, b, c) = (generate(5, &options), generate(5, &options), generate(6, &options));
    assert_eq!(a.files, b.files);
    assert_ne!(a.file("logs/north.csv"), c.file("logs/north.csv"));
}

#[test]
fn every_kind_is_planted_on_every_seed() {
    for seed in 0..20 {
        let chain = generate(seed, &Options::full());
        for kind in KINDS {
            let count = chain.key.count(kind);
            assert!((1..=80).contains(&count), "seed {seed}: {kind} planted {count} times");
        }
        for entry in &chain.key.entries {
            assert!(KINDS.contains(&entry.kind), "{} is not on the list", entry.kind);
        }
    }
}

#[test]
fn the_key_names_the_line_of_the_altered_row() {
    let chain = generate(3, &Options::full());
    let mut places = BTreeMap::new();
    for entry in &chain.key.entries {
        let log = text(chain.file(&entry.file).unwrap());
        let line = log.lines().nth(entry.line - 1).unwrap();
        match entry.kind {
            "serial_mistyped" => {
                let printed = entry.detail.split_whitespace().nth(1).unwrap();
                assert!(line.contains(printed) && !line.contains(&entry.serial), "{entry:?}: {line}");
            }
            "serial_blank" => assert!(!line.contains(&entry.serial), "{entry:?}: {line}"),
            "repeated_header" => assert_eq!(line, log.lines().next().unwrap()),
            "total_row" => assert!(line.starts_with("Summe")),
            "hours_negative" => assert!(line.contains(['-']) && line.contains(&entry.serial), "{entry:?}: {line}"),
            _ => assert!(line.contains(&entry.serial), "{entry:?}: {line}"),
        }
        assert_eq!(entry.row, entry.line - 1);
        assert!(places.insert((&entry.file, entry.line), entry.kind).is_none(), "two kinds on one row: {entry:?}");
    }
}

#[test]
fn a_clean_chain_has_an_empty_key_and_no_weak_batch() {
    let chain = generate(1, &Options::clean_causes());
    assert!(chain.key.entries.is_empty());
    assert!(chain.lamps.len() > 3_000);
    assert!(chain.lamps.iter().all(|l| !l.weak && !l.poor_cooling));
}

#[test]
fn decimal_commas_and_points_say_the_same() {
    let options = Options::clean_causes().with_size(10, 60, 3);
    let points = generate(9, &options.clone().with_writing(Writing::Points));
    let commas = generate(9, &options.with_writing(Writing::Commas));
    let mut seen = 0;
    for (name, bytes) in points.files.iter().filter(|f| f.0.starts_with("logs/")) {
        let translated: String = text(bytes)
            .chars()
            .map(|c| {
                if c == ',' {
                    ';'
                } else if c == '.' {
                    ','
                } else {
                    c
                }
            })
            .collect();
        // Only hours and class names hold points; the class names are no numbers and keep theirs.
        let other: String = text(commas.file(name).unwrap()).chars().map(|c| if c == '.' { ',' } else { c }).collect();
        assert_eq!(translated, other, "{name}");
        seen += 1;
    }
    assert_eq!(seen, 5);
}

/// Kolmogorov's distance to the uniform stays below sqrt(ln(2 / alpha) / (2 n)) at alpha = 1e-4: the
/// Dvoretzky-Kiefer-Wolfowitz inequality with Massart's constant (Annals of Probability 18, 1990, p. 1269).
fn assert_uniform(name: &str, mut u: Vec<f64>, at_least: usize) {
    assert!(u.len() >= at_least, "{name}: only {} lamps", u.len());
    u.sort_by(f64::total_cmp);
    let n = u.len() as f64;
    let distance =
        u.iter().enumerate().map(|(i, &x)| (x - i as f64 / n).max((i + 1) as f64 / n - x)).fold(0.0, f64::max);
    let critical = ((2.0f64 / 1e-4).ln() / (2.0 * n)).sqrt();
    assert!(distance < critical, "{name}: distance {distance} at n {n}, critical {critical}");
}

#[test]
fn true_ages_follow_the_stated_weibull() {
    let (shape, over_rated) = (2.5, 1.4);
    let options = Options::clean_weibull(shape, over_rated);
    assert_eq!(options.mode, Mode::Clean(CleanTruth::OneWeibull { shape, scale_over_rated: over_rated }));
    let chain = generate(11, &options);
    // Written out here rather than taken from the generator.
    let u = chain.lamps.iter().filter(|l| l.entry() == 0).map(|l| {
        let scale = over_rated * chain.truth[l.class].class.rated;
        1.0 - (-(l.failure_age / scale).powf(shape)).exp()
    });
    assert_uniform("one Weibull", u.collect(), 3_000);
}

#[test]
fn true_ages_follow_the_stated_causes_and_factors() {
    let chain = generate(12, &Options::full());
    let watched: Vec<_> = chain.lamps.iter().filter(|l| l.entry() == 0).collect();
    let u = |weak: Option<bool>, cooling: Option<bool>| -> Vec<f64> {
        let mine = watched.iter().filter(|l| weak.is_none_or(|w| l.weak == w));
        let mine = mine.filter(|l| cooling.is_none_or(|c| l.poor_cooling == c));
        mine.map(|l| reliability(&chain.truth[l.class].class, l.failure_age, l.weak, l.poor_cooling)).collect()
    };
    assert_uniform("all", u(None, None), 3_000);
    assert_uniform("weak batch", u(Some(true), None), 80);
    assert_uniform("poor cooling", u(None, Some(true)), 80);
}

/// For each class and cause, failures by that cause less the cumulative hazard that its lamps went through has mean 0 and
/// a variance equal to that hazard (counting-process martingale); five standard errors.
#[test]
fn each_cause_ends_as_many_lamps_as_its_hazard_says() {
    let chain = generate(13, &Options::full());
    for (index, truth) in chain.truth.iter().enumerate() {
        let lamps: Vec<_> = chain.lamps.iter().filter(|l| l.class == index && l.entry() == 0).collect();
        for cause in &truth.class.causes {
            let hazard: f64 = lamps
                .iter()
                .map(|l| {
                    let weak = if l.weak { cause.weak_batch } else { 1.0 };
                    let cooling = if l.poor_cooling { cause.poor_cooling } else { 1.0 };
                    weak * cooling * cause.cumulative_hazard(l.failure_age)
                })
                .sum();
            let seen = lamps.iter().filter(|l| l.cause == cause.ending).count() as f64;
            let name = (truth.class.name, cause.ending);
            assert!((seen - hazard).abs() < 5.0 * hazard.sqrt(), "{name:?}: {seen} ended, {hazard} expected");
        }
    }
}

/// The share of late entrants, planned changes and running lamps stays inside what the trade reports.
#[test]
fn every_recorded_age_could_have_happened() {
    for (seed, options) in [(2, Options::full()), (3, Options::clean_causes())] {
        let chain = generate(seed, &options);
        let (mut late, mut reused, mut interval, mut planned, mut running) = (0, 0, 0, 0, 0);
        for lamp in &chain.lamps {
            for pair in lamp.spells.windows(2) {
                assert_eq!(pair[0].end, pair[1].fitted, "{lamp:?}");
                assert!(pair[0].removed_on.is_some_and(|day| day <= pair[1].fitted_on), "{lamp:?}");
            }
            reused += usize::from(lamp.spells.len() > 1);
            for s in &lamp.spells {
                let entry = s.first_seen.unwrap_or(s.fitted);
                assert!(s.fitted <= entry && entry <= s.end, "{lamp:?}");
                let last_day = s.removed_on.unwrap_or(s.last_reading.0);
                assert!(s.end - s.fitted <= 240 * i64::from(last_day.since(s.fitted_on) + 1), "{lamp:?}");
                late += usize::from(s.first_seen.is_some());
                if s.ending.is_failure() {
                    let at = lamp.failure_age * 10.0;
                    assert_eq!(s.ending, lamp.cause);
                    assert!(at <= s.end as f64 + 1e-6 && entry < s.end, "{lamp:?}");
                    if let Some(good) = s.last_good {
                        assert!((good as f64) < at && entry <= good, "{lamp:?}");
                        interval += 1;
                    }
                }
            }
            planned += usize::from(lamp.ending() == Ending::Planned);
            running += usize::from(lamp.ending() == Ending::Running);
        }
        let share = planned as f64 / chain.lamps.len() as f64;
        assert!((0.5..0.85).contains(&share), "planned {share}");
        assert!(late > 100 && reused > 40 && interval > 100 && running > 200, "{late} {reused} {interval} {running}");
        let overdue = chain.lamps.iter().filter(|l| l.ending() == Ending::Running).filter(|l| {
            let class = &chain.truth[l.class].class;
            l.spells.last().is_some_and(|s| s.end as f64 / 10.0 >= class.maximum.unwrap_or(class.rated))
        });
        assert!(overdue.count() >= 1);
    }
}

/// The true mix at three ages against the share of true failure ages above them, within five standard errors.
#[test]
fn true_reliability_is_that_of_the_lamps() {
    let chain = generate(4, &Options::full());
    for (index, truth) in chain.truth.iter().enumerate() {
        let ages: Vec<f64> =
            chain.lamps.iter().filter(|l| l.class == index && l.entry() == 0).map(|l| l.failure_age).collect();
        for point in truth.points {
            let n = ages.len() as f64;
            let share = ages.iter().filter(|&&a| a > point.hours).count() as f64 / n;
            let error = (point.reliability * (1.0 - point.reliability) / n).sqrt();
            assert!(
                (share - point.reliability).abs() < 5.0 * error,
                "{} at {}: {share}",
                truth.class.name,
                point.hours
            );
        }
    }
}

fn files_below(folder: &Path) -> usize {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path());
    entries.map(|path| if path.is_dir() { files_below(&path) } else { 1 }).sum()
}

#[test]
fn the_committed_demo_is_what_the_program_makes_now() {
    // Tests run in the folder of their package.
    let demo = Path::new("../demo").to_path_buf();
    let main = generate(DEMO_SEED, &Options::full());
    let second = generate(SECOND_SEED, &Options::second());
    let mut size = 0;
    for (folder, chain) in [(demo.clone(), &main), (demo.join("second_log"), &second)] {
        for (name, bytes) in &chain.files {
            let committed = std::fs::read(folder.join(name)).unwrap();
            assert!(committed == *bytes, "{name} differs; data/README.md says how to make it again");
            size += bytes.len();
        }
    }
    assert_eq!(files_below(&demo), main.files.len() + second.files.len(), "a file too many under data/demo");
    assert!(size < 1_500_000, "the demo has grown to {size} bytes");
}

#[test]
fn a_folder_that_holds_anything_is_refused() {
    let chain = generate(1, &Options::full().with_size(2, 4, 1));
    let folder = std::env::temp_dir().join(format!("relamp-demo-{}", std::process::id()));
    let paths = folder::write(&chain, &folder).unwrap();
    assert_eq!(paths.len(), chain.files.len());
    let error = folder::write(&chain, &folder).unwrap_err().to_string();
    std::fs::remove_dir_all(&folder).unwrap();
    assert!(error.contains("is not empty"), "{error}");
}
