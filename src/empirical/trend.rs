//! Whether sockets get worse or better with age: tests for a trend in the rate of failures.

use serde::{Deserialize, Serialize};

use super::sockets::{Socket, Sockets};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::math::beta::f_upper;
use crate::base::math::special::{gamma_p, ln_gamma_q, normal_cdf};
use crate::base::sound::{Checks, Sound};

/// What ended the watches of sockets.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WatchEnd {
    /// Something else than a failure, such as the day of the export.
    #[default]
    Time,
    /// The last failure of each socket: it then tells nothing of the trend.
    Failure,
}

/// One test for a trend.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrendTest {
    /// The statistic.
    pub statistic: f64,
    /// Two-sided p value.
    pub p_value: f64,
}

/// Tests for a trend in the rate of failures, each with what it takes for granted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trend {
    /// Sockets that went in.
    pub sockets: u64,
    /// Failures that count.
    pub failures: u64,
    /// What ended the watches.
    pub ended: WatchEnd,
    /// Mean age of the failures against the middle of the watch, standard normal where failures come at a constant rate
    /// of their own in each socket and do not depend on each other; above 0: more and more failures.
    pub centroid: TrendTest,
    /// The same with the spread taken from the sockets, so that failures may come in clusters; none with one socket, and
    /// where the sockets do not differ.
    pub centroid_robust: Option<TrendTest>,
    /// The same with the spread taken from the gaps between failures, so that gaps need not be exponential: for one socket
    /// only.
    pub centroid_gaps: Option<TrendTest>,
    /// 2 sum ln(end / age), chi-square with two degrees of freedom a failure where the rate is constant; small: more and
    /// more failures. None where a watch began after age 0.
    pub logarithms: Option<TrendTest>,
    /// Pairs of gaps of which the later is the longer; many: fewer and fewer failures. For one socket only.
    pub longer_gaps: Option<TrendTest>,
    /// What to know when reading them.
    pub notes: Vec<String>,
}

impl Sound for TrendTest {
    fn check(&self, c: &mut Checks) {
        c.share("p_value", self.p_value);
        c.need("statistic", self.statistic.is_finite(), self.statistic, "finite");
    }
}

impl Sound for Trend {
    fn check(&self, c: &mut Checks) {
        c.need("sockets", self.sockets > 0, self.sockets, "1 or more");
        c.need("failures", self.failures > 0, self.failures, "1 or more");
        c.part("centroid", &self.centroid);
        c.equal("centroid.p_value", self.centroid.p_value, two_sided(self.centroid.statistic));
        for (name, test) in [
            ("centroid_robust", &self.centroid_robust),
            ("centroid_gaps", &self.centroid_gaps),
            ("logarithms", &self.logarithms),
            ("longer_gaps", &self.longer_gaps),
        ] {
            if let Some(test) = test {
                c.part(name, test);
            }
        }
        if self.sockets == 1 {
            c.there("centroid_robust", self.centroid_robust.is_some(), false, "there with several sockets only");
        }
    }
}

fn two_sided(z: f64) -> f64 {
    2.0 * normal_cdf(-z.abs())
}

/// Failures below which the normal laws are rough. Our choice, without a source.
const FEW_FAILURES: u64 = 10;
/// Sockets below which the spread between them is rough. Our choice, without a source.
const FEW_SOCKETS: u64 = 10;

/// Failures of one socket below which the spread of its gaps is rough. Our choice, from the simulation told at [`trend`].
const FEW_GAPS: u64 = 20;

/// Part of a sum of squares below which what is left of it around the mean is rounding. Our choice, without a source.
const ROUNDING: f64 = 1e-24;

/// A socket's failures that count, as the end of its watch lets them.
struct Seen<'a> {
    from: f64,
    to: f64,
    failures: &'a [f64],
}

fn seen(socket: &Socket, ended: WatchEnd) -> Option<Seen<'_>> {
    let all = socket.failures.as_slice();
    match ended {
        WatchEnd::Time => Some(Seen { from: socket.from, to: socket.to, failures: all }),
        WatchEnd::Failure => {
            let (last, before) = all.split_last()?;
            Some(Seen { from: socket.from, to: *last, failures: before })
        }
    }
}

/// Tests whether the rate of failures of sockets changes with their age.
///
/// # Formula
/// ```text
/// centroid        = sum_i sum_j (t_ij - (a_i + b_i) / 2) / sqrt(sum_i n_i (b_i - a_i)^2 / 12)
/// centroid_robust = sum_i c_i / sqrt(k / (k - 1) sum_i (c_i - mean)^2), c_i = sum_j (t_ij - (a_i + b_i) / 2)
/// centroid_gaps   = centroid / (standard deviation of the gaps / their mean)
/// logarithms      = 2 sum_i sum_j ln(b_i / t_ij)
/// longer_gaps     = number of pairs j < k with gap_k > gap_j
/// ```
/// `t_ij`: ages of the `n_i` failures of socket i, watched from `a_i` to `b_i`. With [`WatchEnd::Failure`] the last failure of
/// each socket is `b_i` and does not count. The robust test of k sockets is held against Student's law with k - 1 degrees of
/// freedom, the others with a centroid against the normal law. A trend is a change of the rate with the *socket's* age: lamps that wear out and are
/// renewed one after the other give none.
///
/// # Numerics
/// Under a constant rate `centroid_gaps` has p values below 0.05 in about 10 of 100 sockets of 5 failures on average, in 7 of
/// 10 failures, in 5 of 20; `longer_gaps`, whose number has few values, in 2, 4 and 5. A note says where failures are few.
///
/// # Errors
/// `empirical.no_failures` where no failure counts.
///
/// # Source
/// The tests are known by the names of Laplace, of Lewis and Robinson, of MIL-HDBK-189 (1981) and of H. B. Mann (1945,
/// Econometrica 13, 245-259); the centroid and the logarithms also stand in IEC 60605-6. The robust one: J. F. Lawless,
/// C. Cigsar and R. J. Cook (2012), Technometrics 54, 147-158; there with squares that are not taken around their mean, which
/// keeps the statistic below the root of the number of sockets however strong the trend. From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{Socket, Sockets, WatchEnd, trend};
/// let one = Socket { name: "1".into(), group: String::new(), from: 0.0, to: 1000.0, failures: vec![500.0, 800.0, 950.0] };
/// let trend = trend(&Sockets::new(vec![one])?, WatchEnd::Time)?;
/// // (0 + 300 + 450) / sqrt(3 x 1000^2 / 12)
/// assert!((trend.centroid.statistic - 1.5).abs() < 1e-12);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn trend(sockets: &Sockets, ended: WatchEnd) -> Result<Trend> {
    let seen: Vec<Seen<'_>> = sockets.each().iter().filter_map(|s| seen(s, ended)).collect();
    let failures: u64 = seen.iter().map(|s| s.failures.len() as u64).sum();
    if failures == 0 {
        let problem = Problem::new("empirical.no_failures", "no failure that counts, so no trend to test")
            .at(Place::input("sockets"))
            .expected("one failure, or two in a socket whose watch ended at a failure");
        return Err(Error::new(Kind::Refused, problem));
    }
    let (mut sum, mut variance, mut each) = (0.0, 0.0, Vec::with_capacity(seen.len()));
    let mut logarithms = Some(0.0);
    for s in &seen {
        let middle = f64::midpoint(s.from, s.to);
        let own: f64 = s.failures.iter().map(|t| t - middle).fold(0.0, |a, b| a + b);
        sum += own;
        each.push(own);
        variance += s.failures.len() as f64 * (s.to - s.from).powi(2) / 12.0;
        logarithms = logarithms
            .filter(|_| s.from == 0.0)
            .map(|l| l + s.failures.iter().map(|t| 2.0 * (s.to / t).ln()).fold(0.0, |a, b| a + b));
    }
    let normal = |z: f64| TrendTest { statistic: z, p_value: two_sided(z) };
    let centroid = normal(sum / variance.sqrt());
    let several = seen.len() > 1;
    let logarithms = logarithms.map(|statistic| {
        let below = gamma_p(failures as f64, statistic / 2.0);
        let above = ln_gamma_q(failures as f64, statistic / 2.0).exp();
        TrendTest { statistic, p_value: (2.0 * below.min(above)).min(1.0) }
    });
    let alone = seen.first().filter(|_| !several);
    let mut out = Trend {
        sockets: seen.len() as u64,
        failures,
        ended,
        centroid,
        centroid_robust: robust(&each),
        centroid_gaps: alone.and_then(|s| gap_spread(s, ended)).map(|spread| normal(centroid.statistic / spread)),
        logarithms,
        longer_gaps: alone.map(|s| longer_gaps(s, ended)),
        notes: Vec::new(),
    };
    out.notes = notes(&out, sockets);
    Ok(out)
}

/// Student's test of a mean of 0; none for one number, or for numbers that do not differ.
fn robust(each: &[f64]) -> Option<TrendTest> {
    let n = each.len() as f64;
    let mean = each.iter().fold(0.0, |sum, c| sum + c) / n;
    let squares = each.iter().fold(0.0, |sum, c| sum + (c - mean).powi(2));
    if squares <= ROUNDING * each.iter().fold(0.0, |sum, c| sum + c * c) {
        return None;
    }
    let statistic = mean * n / (squares * n / (n - 1.0)).sqrt();
    Some(TrendTest { statistic, p_value: f_upper(statistic * statistic, 1.0, n - 1.0) })
}

fn notes(trend: &Trend, sockets: &Sockets) -> Vec<String> {
    let mut notes = Vec::new();
    if trend.failures < FEW_FAILURES {
        notes.push(format!("{} only: the p values are rough", counted(trend.failures, "failure")));
    }
    if trend.centroid_gaps.is_some() && trend.failures < FEW_GAPS {
        let some = counted(trend.failures, "failure");
        notes.push(format!(
            "{some} only: the spread of so few gaps is rough, and centroid_gaps finds a trend too often where there is none: \
             at a level of 5 % in about 10 of 100 sockets of 5 failures, in 7 of 100 of 10"
        ));
    }
    if trend.sockets > 1 && trend.sockets < FEW_SOCKETS {
        let some = counted(trend.sockets, "socket");
        notes.push(format!("{some} only: the robust test, which rests on the spread between them, is rough"));
    }
    if trend.sockets > 1 && trend.centroid_robust.is_none() {
        notes.push("no robust test: the sockets do not differ, so that there is no spread between them".to_owned());
    }
    let at_end = sockets.each().iter().filter(|s| s.failures.last() == Some(&s.to)).count() as u64;
    if trend.ended == WatchEnd::Time && at_end > 0 {
        let some = counted(at_end, "socket");
        notes.push(format!("the watch of {some} ends at a failure: if it ended because of it, say so"));
    }
    notes
}

/// The gaps between failures, the first from the start of the watch; with a watch that ended at a failure, that one too.
fn gaps(s: &Seen<'_>, ended: WatchEnd) -> Vec<f64> {
    let last = (ended == WatchEnd::Failure).then_some(s.to);
    let mut before = s.from;
    s.failures.iter().copied().chain(last).map(|t| t - std::mem::replace(&mut before, t)).collect()
}

/// Standard deviation of the gaps over their mean; none with fewer than three gaps or without a spread.
fn gap_spread(s: &Seen<'_>, ended: WatchEnd) -> Option<f64> {
    let gaps = gaps(s, ended);
    let n = gaps.len() as f64;
    let mean = gaps.iter().fold(0.0, |a, b| a + b) / n;
    let variance = gaps.iter().map(|g| (g - mean).powi(2)).fold(0.0, |a, b| a + b) / (n - 1.0);
    (gaps.len() > 2 && variance > 0.0).then(|| variance.sqrt() / mean)
}

/// Mann's test; its law is approached by the normal one with the variance of untied gaps.
fn longer_gaps(s: &Seen<'_>, ended: WatchEnd) -> TrendTest {
    let gaps = gaps(s, ended);
    let n = gaps.len() as f64;
    let pairs = rising_pairs(&gaps);
    let tied = (n * (n - 1.0) / 2.0) - pairs as f64 - falling_pairs(&gaps) as f64;
    let variance = n * (n - 1.0) * (2.0 * n + 5.0) / 72.0;
    let off = pairs as f64 + 0.5 * tied - n * (n - 1.0) / 4.0;
    // Half a pair of continuity, towards the middle.
    let z = (off.abs() - 0.5).max(0.0) / variance.sqrt();
    let p_value = if variance > 0.0 { two_sided(z) } else { 1.0 };
    TrendTest { statistic: pairs as f64, p_value }
}

fn falling_pairs(gaps: &[f64]) -> u64 {
    let turned: Vec<f64> = gaps.iter().map(|g| -g).collect();
    rising_pairs(&turned)
}

/// Pairs of gaps of which the later is the longer, counted while merging sorted halves.
fn rising_pairs(gaps: &[f64]) -> u64 {
    fn sorted(gaps: &[f64]) -> (Vec<f64>, u64) {
        if gaps.len() < 2 {
            return (gaps.to_vec(), 0);
        }
        let (left, right) = gaps.split_at(gaps.len() / 2);
        let ((left, a), (right, b)) = (sorted(left), sorted(right));
        let across: u64 = right.iter().map(|r| left.partition_point(|l| l < r) as u64).sum();
        let mut all = [left, right].concat();
        all.sort_by(f64::total_cmp);
        (all, a + b + across)
    }
    sorted(gaps).1
}
