//! Samples without a maximum: the reason, and the best bound that still holds.

use super::pieces;
use super::sample::{Count, Evidence, Row, Sample};
use super::search::{FitOptions, fit_sample};
use super::shape_limit::Side;
use super::shape_walk::{Far, Law, Narrow};
use super::window_shape::WindowLimit;
use crate::base::error::{Error, Kind, Problem, Result};
use crate::base::figure::{counted, fitting, full_hours, hours, short};
use crate::base::run::Run;
use crate::family::{Family, Parts, in_words};

/// -ln 0.05: with no failures in E hours, a rate above this over E would have shown one with 95 %.
pub const ZERO_FAILURES_95: f64 = 2.995_732_273_553_991;

/// Upper 95 % bound of an even failure rate, per hour, after no failures in `exposure` hours; none without exposure.
pub fn rate_bound_95(exposure: f64) -> Option<f64> {
    (exposure > 0.0 && exposure < f64::INFINITY).then(|| ZERO_FAILURES_95 / exposure)
}

pub(super) fn refused(slug: &'static str, what: impl Into<String>, hint: impl Into<String>) -> Error {
    Error::new(Kind::Refused, Problem::new(slug, what)).with_hint(hint)
}

/// Refuses what has no maximum for a family.
pub(super) fn check(sample: &Sample, count: &Count, family: &dyn Family) -> Result<()> {
    let hours = count.exposure;
    if count.failures == 0 || failures(sample).next().is_none() {
        return Err(no_failures(count));
    }
    if !(hours > 0.0) {
        return Err(no_exposure());
    }
    if !family.cuts().is_empty() {
        // No spread can shrink where the cuts are given, but a piece may be empty.
        return pieces::check(family.cuts(), sample);
    }
    if family.width() > 1 {
        one_age_explains_all(sample, count)?;
    }
    Ok(())
}

/// No failure, no estimate; an even rate still has a bound.
pub(super) fn no_failures(count: &Count) -> Error {
    let hours = count.exposure;
    let hint = rate_bound_95(hours).map_or_else(
        || "there are no hours under observation either".to_owned(),
        |rate| {
            format!(
                "with 95 % confidence an even failure rate is at most {} per 1,000 h (2.996 in {} h)",
                short(1000.0 * rate),
                full_hours(hours)
            )
        },
    );
    refused("fit.no_failures", format!("no failures among {}", counted(count.lamps, "lamp")), hint)
}

/// Failures over hours in words.
fn even_rate(count: &Count) -> String {
    let (failures, exposure) = (count.failures, count.exposure);
    let are = fitting(failures, "is", "are");
    let rate = short(1000.0 * failures as f64 / exposure);
    format!("{} in {} h {are} {rate}", counted(failures, "failure"), full_hours(exposure))
}

/// Nothing was watched.
pub(super) fn no_exposure() -> Error {
    refused("fit.no_exposure", "no hours under observation", "give the ages at which lamps were seen")
}

/// Failures that weigh something.
pub(super) fn failures<'s>(sample: &'s Sample) -> impl Iterator<Item = (usize, Row)> + 's {
    (0..sample.tally.rows())
        .filter(|&i| sample.weights[i] > 0.0)
        .map(|i| (i, sample.row(i)))
        .filter(|(_, row)| !matches!(row.evidence, Evidence::Passed(_)))
}

/// With two parameters the likelihood has no maximum when a single age could hold every failure and no
/// lamp passed it: a spread shrinking to nothing there beats everything else.
fn one_age_explains_all(sample: &Sample, count: &Count) -> Result<()> {
    let (mut passed, mut low, mut high, mut exact, mut worked) = (0.0f64, 0.0f64, f64::INFINITY, None, false);
    for i in (0..sample.tally.rows()).filter(|&i| sample.weights[i] > 0.0) {
        let row = sample.row(i);
        match row.evidence {
            Evidence::Passed(age) => {
                worked |= age > row.entry;
                passed = passed.max(age);
            }
            Evidence::Between(l, h) => {
                worked |= l > row.entry;
                low = low.max(l);
                high = high.min(h);
            }
            Evidence::Exact(age) => match exact {
                None => exact = Some(age),
                // Two ages at failure need a spread; the rest need not be looked at.
                Some(first) if first != age => return Ok(()),
                Some(_) => {}
            },
        }
    }
    let unbounded = match exact {
        Some(age) => passed <= age && low < age && age <= high,
        None => low < high && passed < high,
    };
    if !unbounded {
        return Ok(());
    }
    // Failures over hours is the even rate of exact ages only; where every lamp had failed when it was first looked at, no
    // rate is too high, and rows that show failures only give none.
    let hint = if count.some_windowed {
        "failures at other ages are needed, or the lamps shipped (`with_shipped`)".to_owned()
    } else if exact.is_none() && !worked {
        "no lamp was seen to work at any age past its entry: ages at which lamps still worked are needed".to_owned()
    } else if count.between {
        "an exponential fit still holds; more failures at other ages are needed".to_owned()
    } else {
        format!(
            "an exponential fit still holds: {} per 1,000 h; more failures at other ages are needed",
            even_rate(count)
        )
    };
    Err(match exact {
        Some(age) if count.failures == 1 => refused(
            "fit.one_failure_oldest",
            format!(
                "the only failure, at {} h, is the largest age: the likelihood grows without bound as the spread shrinks",
                hours(age)
            ),
            hint,
        ),
        Some(age) => refused(
            "fit.one_age",
            format!(
                "all failures are at {} h and no lamp passed it: the likelihood grows without bound as the spread shrinks",
                hours(age)
            ),
            hint,
        ),
        None => refused(
            "fit.one_interval",
            format!("one age in ({}, {high}] could hold every failure: the spread is not identified", low.max(passed)),
            hint,
        ),
    })
}

/// Every search shrank a part onto one age.
pub(super) fn part_on_one_age(family: &str, count: &Count, age: f64) -> Error {
    refused(
        "fit.part_on_one_age",
        format!(
            "every search for a {family} fit shrank one part onto the age {} h, where the likelihood has no bound",
            hours(age)
        ),
        format!(
            "{} {} not show two kinds; fit one family",
            counted(count.failures, "failure"),
            fitting(count.failures, "does", "do")
        ),
    )
}

/// The call that answers for a family which has no fit on its edge: the test of two fits needs both.
const COMPARES: &str = "`likelihood_ratio_bootstrap` compares with this family here too";

/// The likelihood is highest where a share is 0 or 1.
pub(super) fn share_at_edge(family: &dyn Family, count: &Count, log_likelihood: f64, bound: Option<f64>) -> Error {
    let ends = format!("the likelihood is highest, {log_likelihood:.4}, at the edge");
    match family.parts() {
        Some(Parts::NeverFails(base)) => refused(
            "fit.all_fail",
            format!("no share that never fails shows in these records: {ends}"),
            bound.map_or_else(
                || {
                    format!(
                        "nor do they bound it: the curve has not flattened; fit {}, which {COMPARES}",
                        in_words(base.name())
                    )
                },
                |bound| {
                    let most = "with 95 % confidence, one-sided by profile likelihood, at most a share of";
                    format!(
                        "{most} {bound:.4} never fails; every lamp may fail in the end: fit {}, which {COMPARES}",
                        in_words(base.name())
                    )
                },
            ),
        ),
        _ => refused(
            "fit.one_kind",
            format!("these records show no two kinds of lamps: {ends}"),
            format!(
                "{} {} not carry a {} fit; fit one family",
                counted(count.failures, "failure"),
                fitting(count.failures, "does", "do"),
                family.name()
            ),
        ),
    }
}

/// One cause alone explains the records best.
pub(super) fn one_cause(family: &str, count: &Count, log_likelihood: f64) -> Error {
    refused(
        "fit.not_identified",
        format!(
            "these records do not show both causes of the {} family: the likelihood is highest, {log_likelihood:.4}, \
             where one of them never strikes",
            in_words(family)
        ),
        format!(
            "{} {} not carry two causes; fit one family",
            counted(count.failures, "failure"),
            fitting(count.failures, "does", "do")
        ),
    )
}

/// Difference of two log-likelihoods that is none: far above what a search leaves, far below what tells two laws apart. Also a
/// few units in the last place of them, which is more only where they are of many millions.
const NO_GAIN: f64 = 1e-4;

/// The likelihood of a generalised gamma life is highest as its shape grows without bound.
pub(super) fn shape_runs_away(family: &str, count: &Count, far: Option<Far>, narrow: Option<&Narrow>) -> Error {
    let words = in_words(family);
    let level = |far: &Far| {
        narrow.filter(|narrow| {
            let rounding = 16.0 * f64::EPSILON * far.log_likelihood.abs();
            (far.log_likelihood - narrow.log_likelihood).abs() <= NO_GAIN.max(rounding)
        })
    };
    let what = far.map_or_else(
        || format!("no search for the {words} family reached as high as a narrower family that it holds"),
        |far| {
            let (as_it, law) = match far.law {
                Law::Side(Side::Above) => (
                    "the shape grows without bound",
                    "failures that follow a power of age up to a last one".to_owned(),
                ),
                Law::Side(Side::Below) => (
                    "the shape falls below 0 without bound",
                    "a reliability that falls as a power of age from the first failure on".to_owned(),
                ),
                Law::Window(WindowLimit::PowerOfAge(power)) => (
                    "the location grows without bound",
                    format!("failures that follow a power of age within their windows, (age / upper)^{}", short(power)),
                ),
                Law::Window(WindowLimit::EverLater { power, hours }) => (
                    "the shape falls below 0 without bound",
                    format!(
                        "failures that lie within their windows as exp(-(age / c)^-{}) / age with c = {} h",
                        short(power),
                        short(hours)
                    ),
                ),
            };
            if let Some(narrow) = level(&far) {
                return format!(
                    "the likelihood of the {words} family has a level top and no highest point: it is {:.4} at the {} family, \
                     which it holds, and no lower as {as_it}, towards {law}",
                    far.log_likelihood,
                    in_words(narrow.family)
                );
            }
            format!(
                "the likelihood of the {words} family has no highest point: it rises to {:.4} as {as_it}, towards {law}",
                far.log_likelihood
            )
        },
    );
    let hint = narrow.map_or_else(
        || format!("{} do not carry three parameters", counted(count.failures, "failure")),
        |narrow| {
            let (failures, value) = (counted(count.failures, "failure"), narrow.log_likelihood);
            let do_not = fitting(count.failures, "does", "do");
            let name = in_words(narrow.family);
            format!("{failures} {do_not} not carry three parameters: fit the {name} family, log-likelihood {value:.4}")
        },
    );
    refused("fit.not_identified", what, hint)
}

/// The search ran to the edge of the family: says where.
pub(super) fn ran_away(family: &dyn Family, count: &Count, x: &[f64]) -> Error {
    let why = not_identified(family.name(), count);
    if x.len() != family.width() {
        return why;
    }
    let values = family.parameters(x);
    let law = limit_law(family.name(), &values, count).or_else(|| even_law(family, x, count).map(|(law, _)| law));
    let towards = law.map_or_else(String::new, |law| format!(", {law}"));
    let each = family.parameter_names().iter().zip(values).map(|(name, value)| format!("{name} {}", short(value)));
    let what = format!(
        "these records do not settle the parameters of the {} family: the search ran on without a maximum, to {}{towards}",
        in_words(family.name()),
        each.collect::<Vec<_>>().join(", ")
    );
    let hint = why.hint().unwrap_or_default().to_owned();
    refused("fit.not_identified", what, hint)
}

/// Shape of an inverse Gaussian life below which, and over one of the others above which, its limit is all that is left.
const LIMIT_SHAPE: f64 = 0.01;

/// The law to which a family leads where its search ran to, with the one figure that is left of it.
fn limit_law(family: &str, parameters: &[f64], count: &Count) -> Option<String> {
    let &[shape, size] = parameters else { return None };
    let wide = shape > 1.0 / LIMIT_SHAPE;
    let square = short(size * shape * shape);
    match family {
        "inverse_gaussian" if shape < LIMIT_SHAPE => Some(format!(
            "as its mean grows without bound, towards F(t) = 2 Phi(-sqrt(c / t)) with c = {} h, wear without a drift",
            short(size * shape)
        )),
        "birnbaum_saunders" if wide && size > count.oldest => Some(format!(
            "as its scale grows without bound, towards F(t) = Phi(-sqrt(c / t)) with c = {} h, where half of the lamps never \
             fail",
            short(size / (shape * shape))
        )),
        "birnbaum_saunders" if wide => Some(format!(
            "as its scale falls to 0, towards F(t) = Phi(sqrt(t / c)) with c = {square} h, where half of the lamps fail at \
             age 0"
        )),
        "gompertz" if wide => Some(format!(
            "as its hazard ceases to rise, towards the exponential family with a mean of {} h, which {COMPARES}",
            short(size / shape)
        )),
        _ => None,
    }
}

/// Families on an even scale of age: with late entry alone their location may fall for ever, far below the first age at risk,
/// where their hazard hardly rises any more.
const SHIFTED: [&str; 3] = ["normal", "logistic", "smallest_extreme_value"];
/// Rise of the hazard from age 0 to the oldest lamp at risk, as a share, below which a search that did not settle was on its
/// way to an even rate.
const HARDLY_RISES: f64 = 0.1;
/// The same for one that came to rest because nothing moves the likelihood there any more.
const RISES_NO_MORE: f64 = 1e-9;

/// The even rate to which such a family leads where its search ran to, and how much its hazard still rises there.
fn even_law(family: &dyn Family, x: &[f64], count: &Count) -> Option<(String, f64)> {
    let life = SHIFTED.contains(&family.name()).then(|| family.at(x).ok()).flatten()?;
    let rise = (life.ln_hazard(count.oldest) - life.ln_hazard(0.0)).exp_m1();
    let mean = short((-life.ln_hazard(count.oldest)).exp());
    let law = format!("as its location falls without bound, towards the exponential family with a mean of {mean} h");
    (rise.abs() < HARDLY_RISES).then_some((law, rise.abs()))
}

/// Whether a search ran on towards an even rate, which the family reaches nowhere.
pub(super) fn runs_to_even_rate(family: &dyn Family, x: &[f64], converged: bool, count: &Count) -> bool {
    let most = if converged { RISES_NO_MORE } else { HARDLY_RISES };
    even_law(family, x, count).is_some_and(|(_, rise)| rise < most)
}

/// Plain families that are tried where another one has no maximum.
const OTHERS: [&str; 5] = ["exponential", "weibull", "lognormal", "log_logistic", "gamma"];

/// The same refusal with the plain families that do have a maximum, the highest by AIC first.
pub(super) fn with_families(
    why: Error,
    family: &dyn Family,
    sample: &Sample,
    options: &FitOptions,
    run: &Run,
) -> Result<Error> {
    let mut found: Vec<(f64, String)> = Vec::new();
    for name in OTHERS.iter().filter(|name| **name != family.name()) {
        let other = crate::family::family(name)?;
        match fit_sample(other, sample, options, run) {
            Ok(fit) if fit.converged() => {
                found.push((fit.aic(), format!("{} {:.2}", in_words(name), fit.log_likelihood())));
            }
            Err(error) if error.kind() != Kind::Refused => return Err(error),
            _ => {}
        }
    }
    if found.is_empty() {
        return Ok(why);
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let each: Vec<String> = found.into_iter().map(|(_, said)| said).collect();
    Ok(why
        .with_hint(format!("families that do fit, best first by AIC, with their log-likelihood: {}", each.join(", "))))
}

/// No maximum was found.
pub(super) fn not_identified(family: &str, count: &Count) -> Error {
    let made_of_others = crate::family::family(family).is_ok_and(|f| f.parts().is_some());
    let hint = if count.windowed {
        let or =
            if made_of_others { ", or fit one family such as weibull for the course within the window" } else { "" };
        format!(
            "every row shows a failure within its window only, and how they lie there says too little of how many lamps \
             fail; give the lamps shipped as well (`with_shipped`){or}"
        )
    } else if count.some_windowed {
        "some rows show a lamp only because it failed within its window, so no rate follows from failures and hours; give \
         the lamps shipped as well (`with_shipped`)"
            .to_owned()
    } else if count.between {
        format!("about {} per 1,000 h, intervals taken at their middle", even_rate(count))
    } else {
        format!("{} per 1,000 h", even_rate(count))
    };
    refused(
        "fit.not_identified",
        format!("these records do not settle the parameters of the {} family", in_words(family)),
        hint,
    )
}
