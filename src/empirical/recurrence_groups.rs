//! Groups of sockets compared: the difference of two curves, and one test for all groups.

use serde::{Deserialize, Serialize};

use super::curve::Running;
use super::recurrence::{Recurrence, failures_in_order, recurrence};
use super::sockets::{Socket, Sockets, named};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::counted;
use crate::base::math::linalg::{packed, quadratic_form};
use crate::base::math::special::{ln_gamma_q, normal_quantile};
use crate::base::sound::{Checks, Sound};

/// How much higher the mean number of failures of one group of sockets is than that of another, by age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RecurrenceDifference {
    /// The group whose curve counts with a plus, and the one with a minus.
    pub groups: [String; 2],
    /// Ages at which either curve steps, up to the smaller last age, `(steps,)`.
    pub ages: Vec<f64>,
    /// First mean less second mean, `(steps,)`.
    pub difference: Vec<f64>,
    /// Its standard error, `(steps,)`.
    pub standard_error: Vec<f64>,
    /// Level of the interval, for one age at a time.
    pub level: f64,
}

impl Sound for RecurrenceDifference {
    fn check(&self, c: &mut Checks) {
        c.rising("ages", &self.ages, false);
        c.entries("difference", self.difference.len(), self.ages.len());
        c.entries("standard_error", self.standard_error.len(), self.ages.len());
        c.column("standard_error", &self.standard_error, Checks::not_negative);
        c.level("level", self.level);
    }
}

impl RecurrenceDifference {
    /// Lower and upper end of the interval at each step, `(steps,)`: difference -+ z standard errors.
    pub fn band(&self) -> Vec<(f64, f64)> {
        let z = normal_quantile(f64::midpoint(1.0, self.level));
        self.difference.iter().zip(&self.standard_error).map(|(d, e)| (d - z * e, d + z * e)).collect()
    }
}

/// The difference between the curves of two groups of sockets.
///
/// # Formula
/// ```text
/// D(t) = M_first(t) - M_second(t), standard error sqrt(variance of M_first(t) + variance of M_second(t))
/// ```
/// Where one group was watched from a later age on, both count from there: failures before it have no part in either.
///
/// # Errors
/// `empirical.group_itself` for one group named twice; `empirical.no_sockets` for a group without any; `empirical.one_socket` for a group with a single one, whose spread is
/// not known; `empirical.level`; `empirical.no_common_ages` where the two were never watched at one age.
///
/// # Examples
/// ```
/// use relamp::empirical::{Socket, Sockets, recurrence_difference};
/// let screen = |name: &str, group: &str, failures| Socket {
///     name: name.into(), group: group.into(), from: 0.0, to: 5000.0, failures,
/// };
/// let sockets = Sockets::new(vec![
///     screen("1", "North", vec![900.0, 2100.0]), screen("2", "North", vec![1500.0]),
///     screen("3", "South", vec![4000.0]), screen("4", "South", vec![]),
/// ])?;
/// let difference = recurrence_difference(&sockets, ["North", "South"], 0.95)?;
/// assert_eq!(difference.difference.last(), Some(&1.0)); // 1.5 less 0.5 by 5,000 h
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn recurrence_difference(sockets: &Sockets, groups: [&str; 2], level: f64) -> Result<RecurrenceDifference> {
    if groups[0] == groups[1] {
        let problem = Problem::new("empirical.group_itself", "a group does not differ from itself")
            .at(Place::input("groups"))
            .got(format!("{} twice", groups[0]))
            .expected("two groups");
        return Err(Error::new(Kind::Input, problem));
    }
    let both = [sockets.group(groups[0])?, sockets.group(groups[1])?];
    let start = |of: &Sockets| of.each().iter().map(|s| s.from).fold(f64::INFINITY, f64::min);
    let end = |of: &Sockets| of.each().iter().map(|s| s.to).fold(0.0, f64::max);
    let (from, to) = (start(&both[0]).max(start(&both[1])), end(&both[0]).min(end(&both[1])));
    if to <= from {
        let problem = Problem::new("empirical.no_common_ages", "the two groups were not watched at one age")
            .at(Place::input("groups"))
            .got(format!("watched to {to}, from {from}"));
        return Err(Error::new(Kind::Refused, problem));
    }
    let curve = |group: &str, of: &Sockets| -> Result<(Recurrence, Vec<f64>)> {
        let mut curve = recurrence(&since(of, from)?, level)?;
        let Some(errors) = curve.standard_error.take() else {
            let problem =
                Problem::new("empirical.one_socket", "a single socket tells nothing of how far sockets differ")
                    .at(Place::input("groups"))
                    .got(format!("one socket in {group}"))
                    .expected("two or more");
            return Err(Error::new(Kind::Refused, problem));
        };
        Ok((curve, errors))
    };
    let ((first, first_errors), (second, second_errors)) = (curve(groups[0], &both[0])?, curve(groups[1], &both[1])?);
    let mut ages: Vec<f64> = first.ages.iter().chain(&second.ages).copied().filter(|a| *a <= to).collect();
    ages.sort_by(f64::total_cmp);
    ages.dedup();
    let at = |curve: &Recurrence, errors: &[f64], age: f64| {
        let i = curve.ages.partition_point(|&a| a <= age);
        let error = i.checked_sub(1).and_then(|i| errors.get(i).copied()).unwrap_or(0.0);
        (curve.mean_at(age).unwrap_or(0.0), error)
    };
    let mut out = RecurrenceDifference {
        groups: groups.map(str::to_owned),
        ages: Vec::with_capacity(ages.len()),
        difference: Vec::with_capacity(ages.len()),
        standard_error: Vec::with_capacity(ages.len()),
        level,
    };
    for age in ages {
        let ((a, ea), (b, eb)) = (at(&first, &first_errors, age), at(&second, &second_errors, age));
        out.ages.push(age);
        out.difference.push(a - b);
        out.standard_error.push(ea.hypot(eb));
    }
    Ok(out)
}

/// What was seen of sockets after an age.
fn since(sockets: &Sockets, age: f64) -> Result<Sockets> {
    let each = sockets.each().iter().filter(|s| s.to > age).map(|s| Socket {
        from: s.from.max(age),
        failures: s.failures.iter().copied().filter(|f| *f > age).collect(),
        ..s.clone()
    });
    Sockets::new(each.collect())
}

/// One group in the test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SocketGroup {
    /// Its name.
    pub name: String,
    /// Its sockets.
    pub sockets: u64,
    /// Its failures.
    pub failures: u64,
    /// Failures it would have had with the rate of all sockets together at each age.
    pub expected: f64,
}

/// Whether groups of sockets fail at one rate, age by age.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RecurrenceTest {
    /// The groups, by name.
    pub groups: Vec<SocketGroup>,
    /// Robust chi-square of failures seen less expected.
    pub statistic: f64,
    /// Degrees of freedom.
    pub degrees: u64,
    /// Probability of such a statistic or a larger one where the groups do not differ.
    pub p_value: f64,
    /// What to know when reading it.
    pub notes: Vec<String>,
}

impl Sound for RecurrenceTest {
    fn check(&self, c: &mut Checks) {
        let mut seen = 0.0;
        let mut expected = 0.0;
        for (i, group) in self.groups.iter().enumerate() {
            c.not_negative(&format!("groups[{i}].expected"), group.expected);
            seen += group.failures as f64;
            expected += group.expected;
        }
        c.equal("groups", expected, seen);
        c.not_negative("statistic", self.statistic);
        c.need("degrees", self.degrees > 0, self.degrees, "1 or more");
        c.equal("p_value", self.p_value, upper_tail(self.statistic, self.degrees));
    }
}

/// Probability that a chi-square passes a value.
fn upper_tail(statistic: f64, degrees: u64) -> f64 {
    ln_gamma_q(degrees as f64 / 2.0, statistic / 2.0).exp()
}

/// Sockets of a group below which the normal law of the test is a hope. Our choice, without a source.
const FEW_SOCKETS: u64 = 10;

/// Groups that a note names before it only counts them. Our choice, without a source.
const NAMED: usize = 4;

/// A note on the groups with few sockets.
fn few_sockets(groups: &[SocketGroup]) -> Option<String> {
    let few: Vec<&SocketGroup> = groups.iter().filter(|g| g.sockets < FEW_SOCKETS).collect();
    if let [one] = few.as_slice() {
        let some = counted(one.sockets, "socket");
        return Some(format!("{} has {some}: with fewer than {FEW_SOCKETS} in a group the p value is rough", one.name));
    }
    let mut each: Vec<String> = few.iter().take(NAMED).map(|g| format!("{} {}", g.name, g.sockets)).collect();
    if few.len() > NAMED {
        each.push(format!("{} more", few.len() - NAMED));
    }
    let (groups, enough) = (counted(few.len() as u64, "group"), counted(FEW_SOCKETS, "socket"));
    let said = format!("{groups} have fewer than {enough}, so that the p value is rough: {}", each.join(", "));
    (!few.is_empty()).then_some(said)
}

/// Tests whether groups of sockets have one mean number of failures at every age.
///
/// # Formula
/// ```text
/// u_g  = sum over failure ages a of (d_g(a) - n_g(a) d(a) / n(a))
/// V_gh = sum over sockets i of u_ig u_ih
/// u_ig = sum over a of y_i(a) ((1 where i is in g, else 0) - n_g(a) / n(a)) (d_i(a) - d(a) / n(a))
/// statistic = u' V^-1 u over all groups but the last
/// ```
/// `n_g` and `d_g`: sockets of group g under observation at age a, and their failures; the others as for
/// [`recurrence`]. The variance is taken from the sockets themselves, so that failures that come in clusters do not pass
/// for a difference.
///
/// # Errors
/// `empirical.one_group` with fewer than two groups; `empirical.no_failures` without a failure; `empirical.no_spread`
/// where the sockets do not differ in a way that a variance could be taken from, as with one socket a group.
///
/// # Source
/// J. F. Lawless and C. Nadeau (1995), Technometrics 37, 158-168; R. J. Cook and J. F. Lawless (2007), The Statistical
/// Analysis of Recurrent Events, section 3.7. From memory.
///
/// # Examples
/// ```
/// use relamp::empirical::{Socket, Sockets, recurrence_test};
/// let sockets = Sockets::new((0..40).map(|i| Socket {
///     name: i.to_string(), group: if i < 20 { "North" } else { "South" }.into(), from: 0.0, to: 5000.0,
///     failures: if i % 4 == 0 { vec![1000.0 + 50.0 * f64::from(i)] } else { vec![] },
/// }).collect())?;
/// let test = recurrence_test(&sockets)?;
/// assert!(test.degrees == 1 && test.p_value > 0.9);
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn recurrence_test(sockets: &Sockets) -> Result<RecurrenceTest> {
    let (each, names) = (sockets.each(), sockets.groups());
    let k = names.len();
    if k < 2 {
        let problem = Problem::new("empirical.one_group", "a test between groups needs two or more")
            .at(Place::input("sockets").column("group"))
            .got(format!("one group, {}", named(&names)))
            .expected("sockets of two or more groups");
        return Err(Error::new(Kind::Refused, problem));
    }
    if sockets.failures() == 0 {
        let problem = Problem::new("empirical.no_failures", "no failure was seen, so nothing to compare");
        return Err(Error::new(Kind::Refused, problem.at(Place::input("sockets"))));
    }
    let of: Vec<usize> = each.iter().map(|s| names.partition_point(|name| *name < s.group.as_str())).collect();
    let steps = steps(sockets, &of, k);
    // Sums over all steps up to each: of d / n, and of n_g d / n^2.
    let mut rate = vec![0.0];
    let mut shares: Vec<Vec<f64>> = vec![vec![0.0; k]];
    let mut expected = vec![Running::default(); k];
    let mut totals = vec![0.0; k];
    for step in &steps {
        let n: f64 = step.at_risk.iter().sum::<u64>() as f64;
        let hazard = step.failures as f64 / n;
        rate.push(rate.last().copied().unwrap_or(0.0) + hazard);
        let mut row = shares.last().cloned().unwrap_or_default();
        for (((sum, &at_risk), expected), total) in
            row.iter_mut().zip(&step.at_risk).zip(&mut expected).zip(&mut totals)
        {
            *sum += at_risk as f64 / n * hazard;
            *total = expected.add(at_risk as f64 * hazard);
        }
        shares.push(row);
    }
    let place = |age: f64| steps.partition_point(|s| s.age <= age);
    let mut variance = vec![0.0; k * (k + 1) / 2];
    let mut score = vec![0.0; k];
    for (socket, &g) in each.iter().zip(&of) {
        let (from, to) = (place(socket.from), place(socket.to));
        let span = |column: &dyn Fn(usize) -> f64| column(to) - column(from);
        let total = span(&|i| rate.get(i).copied().unwrap_or(0.0));
        let mut own: Vec<f64> = (0..k)
            .map(|h| {
                let shared = span(&|i| shares.get(i).and_then(|row| row.get(h)).copied().unwrap_or(0.0));
                shared - if h == g { total } else { 0.0 }
            })
            .collect();
        for &age in &socket.failures {
            let Some(step) = place(age).checked_sub(1).and_then(|i| steps.get(i)) else { continue };
            let n: f64 = step.at_risk.iter().sum::<u64>() as f64;
            for (h, (own, &at_risk)) in own.iter_mut().zip(&step.at_risk).enumerate() {
                *own += if h == g { 1.0 } else { 0.0 } - at_risk as f64 / n;
            }
        }
        for (i, a) in own.iter().enumerate() {
            if let Some(sum) = score.get_mut(i) {
                *sum += a;
            }
            for (j, b) in own.iter().enumerate().take(i + 1) {
                if let Some(sum) = variance.get_mut(packed(i, j)) {
                    *sum += a * b;
                }
            }
        }
    }
    // The scores of all groups add up to 0: the last one tells nothing new.
    score.truncate(k - 1);
    variance.truncate((k - 1) * k / 2);
    let (statistic, degrees) =
        quadratic_form(&variance, &score, 1e-10).filter(|(_, rank)| *rank > 0).ok_or_else(|| {
            let problem = Problem::new("empirical.no_spread", "the sockets give no variance to judge the groups by");
            Error::new(Kind::Refused, problem.at(Place::input("sockets")).expected("several sockets in each group"))
        })?;
    let groups: Vec<SocketGroup> = names
        .iter()
        .zip(&totals)
        .enumerate()
        .map(|(g, (name, &expected))| {
            let of_group = || each.iter().zip(&of).filter(move |&(_, &h)| h == g).map(|(s, _)| s);
            SocketGroup {
                name: (*name).to_owned(),
                sockets: of_group().count() as u64,
                failures: of_group().map(|s| s.failures.len() as u64).sum(),
                expected,
            }
        })
        .collect();
    let notes = few_sockets(&groups).into_iter().collect();
    let degrees = degrees as u64;
    Ok(RecurrenceTest { groups, statistic, degrees, p_value: upper_tail(statistic, degrees), notes })
}

/// An age at which lamps failed, with the sockets of each group under observation there.
struct Step {
    age: f64,
    failures: u64,
    at_risk: Vec<u64>,
}

fn steps(sockets: &Sockets, of: &[usize], groups: usize) -> Vec<Step> {
    let each = sockets.each();
    // (age, comes under observation, group); a watch counts from just after `from` to `to` itself.
    let mut moves: Vec<(f64, bool, usize)> =
        each.iter().zip(of).flat_map(|(s, &g)| [(s.from, true, g), (s.to, false, g)]).collect();
    moves.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut moves = moves.into_iter().peekable();
    let mut at_risk = vec![0_u64; groups];
    let mut out = Vec::new();
    for step in failures_in_order(each).chunk_by(|a, b| a.0 == b.0) {
        let Some(&(age, _)) = step.first() else { continue };
        while let Some((_, enters, g)) = moves.next_if(|m| m.0 < age) {
            if let Some(n) = at_risk.get_mut(g) {
                *n = if enters { *n + 1 } else { *n - 1 };
            }
        }
        out.push(Step { age, failures: step.len() as u64, at_risk: at_risk.clone() });
    }
    out
}
