//! Lamps: how one comes into being with its whole fate, and the spells it leaves behind.

use crate::classes::LampClass;
use crate::stream::Stream;
use crate::{Day, Ending, Options};

/// One lamp in one screen. Ages are whole tenths of a lamp hour, as a meter shows them.
#[derive(Clone, Debug)]
pub struct Spell {
    /// Index of the screen within its site.
    pub screen: usize,
    /// Day of fitting.
    pub fitted_on: Day,
    /// Age at fitting.
    pub fitted: i64,
    /// Age when the records began, for a lamp already burning then.
    pub first_seen: Option<i64>,
    /// Day of removal; none while it burns or where nobody recorded the removal.
    pub removed_on: Option<Day>,
    /// Age at removal, or at the last reading.
    pub end: i64,
    /// Last reading with the lamp good, where a failure is known only to lie after it.
    pub last_good: Option<i64>,
    /// Last weekly reading before the end, and its day.
    pub last_reading: (Day, i64),
    /// Last weekly reading before the older of two exports.
    pub older_reading: Option<(Day, i64)>,
    /// What ended it.
    pub ending: Ending,
    /// Strikes in the spell.
    pub strikes: i64,
}

/// One lamp with its true fate and its recorded spells.
#[derive(Clone, Debug)]
pub struct Lamp {
    /// Serial.
    pub serial: String,
    /// Index of its class.
    pub class: usize,
    /// Supplier.
    pub supplier: &'static str,
    /// Batch.
    pub batch: String,
    /// Of the weak batch.
    pub weak: bool,
    /// Index of its site.
    pub site: usize,
    /// At the site with poor cooling.
    pub poor_cooling: bool,
    /// True age at which it would fail if nobody took it out.
    pub failure_age: f64,
    /// True cause of that failure.
    pub cause: Ending,
    /// Spells, in order.
    pub spells: Vec<Spell>,
}

impl Lamp {
    /// Whether it failed while someone watched.
    pub fn ending(&self) -> Ending {
        self.spells.last().map_or(Ending::Running, |s| s.ending)
    }

    /// Age at which its recorded life began.
    pub fn entry(&self) -> i64 {
        self.spells.first().map_or(0, |s| s.first_seen.unwrap_or(s.fitted))
    }
}

/// Invented suppliers with the letter that begins their batches.
pub const SUPPLIERS: [(&str, char); 3] = [("Supplier A", 'A'), ("Supplier B", 'B'), ("Supplier C", 'C')];

/// Tells whether a batch is the weak one: supplier B, first half of the fourth year before the as-of year.
fn weak_batch(supplier: usize, year: i32, half: i32, options: &Options) -> bool {
    options.is_full() && supplier == 1 && half == 1 && year == options.as_of.date().0 - 3
}

/// Where and when a lamp begins.
#[derive(Clone, Copy, Debug)]
pub struct Birth {
    /// Index of the site.
    pub site: usize,
    /// Number of the lamp within the site.
    pub index: usize,
    /// Index of the class.
    pub class: usize,
    /// Day of its first fitting.
    pub day: Day,
    /// At the site with poor cooling.
    pub poor_cooling: bool,
}

/// Makes a new lamp: its supplier, batch and true fate.
pub fn make(seed: u64, birth: &Birth, class: &LampClass, options: &Options) -> Lamp {
    let mut stream = Stream::new(seed, "lamp", (birth.site * 1_000_000 + birth.index) as u64);
    // A lamp lies about two months on the shelf before it is fitted.
    let (year, month, _) = birth.day.plus(-stream.between(20.0, 90.0) as i32).date();
    let half = if month <= 6 { 1 } else { 2 };
    let supplier = match stream.uniform() {
        u if u < 0.40 => 0,
        u if u < 0.75 => 1,
        _ => 2,
    };
    let weak = weak_batch(supplier, year, half, options);
    let mut failure_age = f64::INFINITY;
    let mut first = Ending::Dim;
    for cause in &class.causes {
        let factor = factor(cause.weak_batch, weak) * factor(cause.poor_cooling, birth.poor_cooling);
        let age = cause.scale * (stream.exponential() / factor).powf(1.0 / cause.shape);
        if age < failure_age {
            failure_age = age;
            first = cause.ending;
        }
    }
    let (name, letter) = SUPPLIERS[supplier];
    Lamp {
        serial: String::new(),
        class: birth.class,
        supplier: name,
        batch: format!("{letter}{:02}-{half}", year.rem_euclid(100)),
        weak,
        site: birth.site,
        poor_cooling: birth.poor_cooling,
        failure_age,
        cause: first,
        spells: Vec::new(),
    }
}

/// A hazard factor where it applies, else 1.
pub fn factor(value: f64, applies: bool) -> f64 {
    if applies { value } else { 1.0 }
}

/// Gives every lamp a serial of its supplier's kind. The numbers of all lamps differ, and those with letters
/// that are easily misread (O, I) are common enough to be mistyped.
pub fn number(seed: u64, lamps: &mut [Lamp]) {
    let mut stream = Stream::new(seed, "serial", 0);
    let mut taken = std::collections::BTreeSet::new();
    for lamp in lamps {
        let n = loop {
            let n = 100_000 + stream.below(900_000);
            if taken.insert(n) {
                break n;
            }
        };
        lamp.serial = match lamp.supplier {
            "Supplier A" => format!("AO-{n}"),
            "Supplier B" => format!("BI{}-{}", n / 1000, n % 1000 + 1000),
            _ => format!("C{n}"),
        };
    }
}
