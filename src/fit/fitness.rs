//! Does one family fit? Failures seen against failures expected, by age and by cluster.

use serde::{Deserialize, Serialize};

use super::model::Fit;
use super::sample::{Evidence, Row, Sample};
use super::search::FitOptions;
use super::weights::Clusters;
use crate::base::error::Result;
use crate::base::figure::{counted, fitting, full_hours};
use crate::base::math::linalg::{packed, quadratic_form};
use crate::base::math::special::ln_gamma_q;
use crate::base::math::sum::pairwise;
use crate::base::random::Stream;
use crate::base::sound::{Checks, Sound};
use crate::family::{Family, Jet, Order, Term, in_words};
use crate::lives::Tally;

/// Failures seen and expected in one range of ages, or in one cluster.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SeenExpected {
    /// What the line is about, such as `1200 to 1500 h` or a cluster's name.
    pub label: String,
    /// Failures seen.
    pub seen: f64,
    /// Failures expected under the fitted life from the hours at risk there.
    pub expected: f64,
}

/// Whether the fitted family agrees with the records it was fitted to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FitCheck {
    /// Seen and expected by range of age.
    pub by_age: Vec<SeenExpected>,
    /// Seen and expected by cluster; empty where there are no clusters.
    pub by_cluster: Vec<SeenExpected>,
    /// Chance of a pattern over age at least this uneven if the family fits.
    pub p_age: Option<f64>,
    /// Chance of a pattern over clusters at least this uneven if all clusters are alike.
    pub p_cluster: Option<f64>,
    /// The smaller of the two times their number, at most 1.
    pub p_value: Option<f64>,
    /// Whether `p_value` is below [`MISFIT_LEVEL`].
    pub misfit: bool,
    /// The answer in plain words.
    pub verdict: String,
}

impl Sound for FitCheck {
    fn check(&self, c: &mut Checks) {
        for (field, lines) in [("by_age", &self.by_age), ("by_cluster", &self.by_cluster)] {
            for (i, line) in lines.iter().enumerate() {
                c.not_negative(&format!("{field}[{i}].seen"), line.seen);
                c.not_negative(&format!("{field}[{i}].expected"), line.expected);
            }
        }
        c.share("p_age", self.p_age);
        c.share("p_cluster", self.p_cluster);
        c.share("p_value", self.p_value);
        let each: Vec<f64> = self.p_age.into_iter().chain(self.p_cluster).collect();
        let least = each.iter().copied().reduce(f64::min).map(|p| (p * each.len() as f64).min(1.0));
        c.there("p_value", self.p_value.is_some(), least.is_some(), "there with a check by age or by cluster");
        if let (Some(got), Some(least)) = (self.p_value, least) {
            c.equal("p_value", got, least);
        }
        let misfit = self.p_value.is_some_and(|p| p < MISFIT_LEVEL);
        c.need("misfit", self.misfit == misfit, self.misfit, format!("{misfit}, which follows from p_value"));
    }
}

/// Chance of calling a family that fits a misfit.
///
/// Our choice, without a source: a study looks at several classes in several ways, and an alarm of one in a hundred leaves
/// most studies of sound records without a false one.
pub const MISFIT_LEVEL: f64 = 0.01;
/// Failures below which no check is made.
const FEWEST: u64 = 20;
/// Failures wanted in a range of ages, and the most ranges.
const PER_RANGE: u64 = 10;
const MOST_RANGES: u64 = 10;
/// Clusters above which, or expected failures per cluster below which, the check by cluster says nothing.
const MOST_CLUSTERS: usize = 2_000;
const LEAST_EXPECTED: f64 = 0.5;
/// Simulated patterns over clusters.
const PATTERNS: u32 = 1_999;
/// Eigenvalues below this share of the largest are directions that the fit has used up.
const USED_UP: f64 = 1e-6;

impl Fit {
    /// Compares failures seen with failures expected: over ranges of age by a score test that allows for the estimated
    /// parameters, and over clusters (sites, where the tally has them) by simulated patterns.
    ///
    /// # Formula
    /// ```text
    /// U = seen - expected per range, V = diag(expected) - G C G'
    /// statistic = U' V^- U, chi-square with rank(V) degrees of freedom
    /// ```
    /// `G`: derivative of the expected failures over the coordinates; `C`: their covariance.
    ///
    /// # Source
    /// Hjort, Annals of Statistics 18 (1990) 1221: goodness of fit for censored lives (from memory).
    ///
    /// # Errors
    /// Those of [`super::fit`] on the options.
    pub fn check(&self, tally: &Tally, options: &FitOptions, seed: u64) -> Result<FitCheck> {
        let sample = Sample::new(tally, options.endings.as_deref(), options.weights.as_deref())?;
        let family = self.family()?;
        let mut check = FitCheck {
            by_age: Vec::new(),
            by_cluster: Vec::new(),
            p_age: None,
            p_cluster: None,
            p_value: None,
            misfit: false,
            verdict: String::new(),
        };
        let name = in_words(&self.family);
        if self.facts.failures < FEWEST || tally.windowed() {
            check.verdict = if self.facts.failures < FEWEST {
                format!(
                    "{} {} too few to check the {name} family",
                    counted(self.facts.failures, "failure"),
                    fitting(self.facts.failures, "is", "are")
                )
            } else {
                format!("the {name} family is not checked on windowed rows")
            };
            return Ok(check);
        }
        self.over_age(family, &sample, &mut check);
        self.over_clusters(family, &sample, seed, &mut check)?;
        let each: Vec<f64> = check.p_age.into_iter().chain(check.p_cluster).collect();
        check.p_value = each.iter().copied().reduce(f64::min).map(|p| (p * each.len() as f64).min(1.0));
        check.misfit = check.p_value.is_some_and(|p| p < MISFIT_LEVEL);
        check.verdict = self.verdict(&check);
        Ok(check)
    }

    fn verdict(&self, check: &FitCheck) -> String {
        let name = in_words(&self.family);
        let Some(p) = check.p_value else { return format!("the {name} family could not be checked") };
        if !check.misfit {
            return format!("no sign that the {name} family does not fit (p = {p:.3})");
        }
        let by_age = check.p_age.unwrap_or(1.0) <= check.p_cluster.unwrap_or(1.0);
        let lines = if by_age { &check.by_age } else { &check.by_cluster };
        let unlikely = |l: &SeenExpected| (l.seen - l.expected).abs() / l.expected.max(1.0).sqrt();
        let worst = lines.iter().max_by(|a, b| unlikely(a).total_cmp(&unlikely(b)));
        let example = worst.map_or_else(String::new, |l| {
            format!(": {}, {} seen where {:.1} are expected", l.label, counted(l.seen as u64, "failure"), l.expected)
        });
        let why = if by_age { "over age" } else { "from site to site" };
        format!(
            "one {name} life does not fit {why}{example} (p = {p:.2e}); lamps of different kinds, batches or sites may be mixed"
        )
    }

    fn over_age(&self, family: &dyn Family, sample: &Sample, check: &mut FitCheck) {
        let edges = edges(sample, self.facts.failures);
        let (ranges, width) = (edges.len() - 1, self.coordinates.len());
        let hazard = |age: f64| {
            let mut jet = Jet::new(width);
            family.jet(&self.coordinates, age, Term::LnReliability, Order::Gradient, &mut jet);
            let mut out = vec![-jet.value];
            out.extend(jet.gradient.iter().take(width).map(|g| -g));
            out
        };
        let at_edges: Vec<Vec<f64>> = edges.iter().map(|e| hazard(e.min(self.facts.oldest_at_risk_hours))).collect();
        let mut seen = vec![0.0; ranges];
        // Expected failures and their derivatives, range by range.
        let mut expected = vec![vec![0.0; width + 1]; ranges];
        for i in 0..sample.tally.rows() {
            let (w, Row { evidence, entry, .. }) = (sample.weights[i], sample.row(i));
            if w == 0.0 {
                continue;
            }
            let (exit, failed) = match evidence {
                Evidence::Exact(age) => (age, true),
                Evidence::Passed(age) => (age, false),
                Evidence::Between(low, high) => (0.5 * (low + high), true),
            };
            let (first, last) = (range_of(&edges, entry), range_of(&edges, exit));
            let (from, to) = (hazard(entry), hazard(exit));
            for j in first..=last {
                let low = if j == first { &from } else { &at_edges[j] };
                let high = if j == last { &to } else { &at_edges[j + 1] };
                for (slot, (a, b)) in expected[j].iter_mut().zip(low.iter().zip(high)) {
                    *slot += w * (b - a);
                }
            }
            if failed {
                seen[last] += w;
            }
        }
        let u: Vec<f64> = seen.iter().zip(&expected).map(|(d, e)| d - e[0]).collect();
        let mut v = vec![0.0; ranges * (ranges + 1) / 2];
        for a in 0..ranges {
            for b in 0..=a {
                let mut used = 0.0;
                for k in 0..width {
                    for l in 0..width {
                        used += expected[a][k + 1]
                            * self.coordinate_covariance(k, l).unwrap_or(f64::NAN)
                            * expected[b][l + 1];
                    }
                }
                v[packed(a, b)] = if a == b { expected[a][0] } else { 0.0 } - used;
            }
        }
        check.p_age = quadratic_form(&v, &u, USED_UP)
            .filter(|(_, rank)| *rank > 0)
            .map(|(x, rank)| ln_gamma_q(0.5 * rank as f64, 0.5 * x).exp());
        check.by_age = (0..ranges)
            .map(|j| SeenExpected {
                label: if j + 1 == ranges {
                    format!("from {} h", full_hours(edges[j]))
                } else {
                    format!("from {} to {} h", full_hours(edges[j]), full_hours(edges[j + 1]))
                },
                seen: seen[j],
                expected: expected[j][0],
            })
            .collect();
    }

    fn over_clusters(&self, family: &dyn Family, sample: &Sample, seed: u64, check: &mut FitCheck) -> Result<()> {
        let clusters = Clusters::new(sample.tally);
        let n = clusters.len();
        if !(2..=MOST_CLUSTERS).contains(&n) {
            return Ok(());
        }
        let life = family.at(&self.coordinates)?;
        let (mut seen, mut expected) = (vec![0.0; n], vec![0.0; n]);
        let mut names = vec![String::new(); n];
        for group in sample.tally.groups().iter().zip(0..) {
            if let (group, Some(k)) = (group.0, clusters.of(group.1)) {
                names[k].clone_from(&group.cluster);
            }
        }
        for i in 0..sample.tally.rows() {
            let Some(k) = clusters.of(sample.tally.group[i]) else { continue };
            let (w, Row { evidence, entry, .. }) = (sample.weights[i], sample.row(i));
            let (exit, failed) = match evidence {
                Evidence::Exact(age) => (age, true),
                Evidence::Passed(age) => (age, false),
                Evidence::Between(low, high) => (0.5 * (low + high), true),
            };
            expected[k] += w * (life.cumulative_hazard(exit) - life.cumulative_hazard(entry));
            seen[k] += if failed { w } else { 0.0 };
        }
        let total = pairwise(&expected);
        if !(total > LEAST_EXPECTED * n as f64) {
            return Ok(());
        }
        // Given their total, failures fall on clusters in proportion to what is expected there.
        let failures = seen.iter().sum::<f64>().round() as usize;
        let uneven = |seen: &[f64]| -> f64 {
            let scale = failures as f64 / total;
            let parts = seen.iter().zip(&expected).filter(|(_, e)| **e > 0.0);
            parts.map(|(d, e)| (d - scale * e).powi(2) / (scale * e)).sum()
        };
        let mut cumulative = Vec::with_capacity(n);
        let mut sum = 0.0;
        for e in &expected {
            sum += e / total;
            cumulative.push(sum);
        }
        let observed = uneven(&seen);
        let mut stream = Stream::new(seed, "fit", "clusters", 0);
        let mut as_uneven = 0;
        let mut pattern = vec![0.0; n];
        for _ in 0..PATTERNS {
            pattern.fill(0.0);
            for _ in 0..failures {
                let u = stream.uniform();
                let k = cumulative.partition_point(|c| *c < u).min(n - 1);
                pattern[k] += 1.0;
            }
            as_uneven += u32::from(uneven(&pattern) >= observed);
        }
        check.p_cluster = Some(f64::from(1 + as_uneven) / f64::from(1 + PATTERNS));
        check.by_cluster = names
            .into_iter()
            .zip(seen.into_iter().zip(expected))
            .map(|(label, (seen, expected))| SeenExpected { label, seen, expected })
            .collect();
        Ok(())
    }
}

/// Edges of ranges that hold about as many failures each; the first is 0, the last infinite.
fn edges(sample: &Sample, failures: u64) -> Vec<f64> {
    let mut ages: Vec<(f64, f64)> = (0..sample.tally.rows())
        .filter_map(|i| match sample.row(i).evidence {
            Evidence::Exact(age) => Some((age, sample.weights[i])),
            Evidence::Between(low, high) => Some((0.5 * (low + high), sample.weights[i])),
            Evidence::Passed(_) => None,
        })
        .collect();
    ages.sort_by(|a, b| a.0.total_cmp(&b.0));
    let ranges = (failures / PER_RANGE).clamp(2, MOST_RANGES) as f64;
    let share = ages.iter().map(|a| a.1).sum::<f64>() / ranges;
    let mut edges = vec![0.0];
    let mut so_far = 0.0;
    for (age, weight) in ages {
        so_far += weight;
        if so_far >= share * edges.len() as f64 && (edges.len() as f64) < ranges && edges.last() != Some(&age) {
            edges.push(age);
        }
    }
    edges.push(f64::INFINITY);
    edges
}

/// The range (edge, next edge] that holds an age.
fn range_of(edges: &[f64], age: f64) -> usize {
    edges.partition_point(|e| *e < age).saturating_sub(1).min(edges.len() - 2)
}
