//! Raising a chain's own hour limit in stages, each tried on some lamps before it holds for all.

use serde::{Deserialize, Serialize};

use super::curve::WorldCurve;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::base::figure::{counted, full_hours, short};
use crate::base::sound::{Checks, Sound};
use crate::fit::World;
use crate::records::Ending;
use crate::terms::HourLimit;

/// More stages than this are a step that was not meant.
const MOST_STAGES: f64 = 1000.0;

/// Below this share no chain has the lamps to show it.
const LEAST_SHARE: f64 = 1e-6;

/// More events than this in a trial that still passes are no stopping rule.
const MOST_ALLOWED: u64 = 1000;

/// How a limit is to be raised.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StageTerms {
    /// The ending that a trial is about, usually burst.
    pub ending: Ending,
    /// Hours by which each stage raises the limit; the last is cut at the maker's.
    pub step_hours: f64,
    /// Largest share of lamps that may end so in one stage.
    pub most_share: f64,
    /// How many may end so in a trial that passes; the next one stops it.
    pub allowed: u64,
    /// Confidence with which a passed trial shows the share to be below the largest, such as 0.95.
    pub level: f64,
    /// Age of the oldest lamp at risk in the records, hours: past it the model is an opinion.
    pub oldest_at_risk_hours: Option<f64>,
}

/// One stage: the lamps to try and when to stop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stage {
    /// The limit before it, hours: the age at which lamps enter the trial.
    pub from_hours: f64,
    /// The limit after it, hours.
    pub to_hours: f64,
    /// Lamps that must reach the new limit or end in the watched way; what ends otherwise does not count.
    pub lamps: u64,
    /// Lamps to enter so that, on average, that many are left to count.
    pub lamps_to_enter: u64,
    /// The trial stops, and the limit stays, at this many endings of the watched kind.
    pub stop_at: u64,
    /// Share of the counted lamps that end so if the world holds.
    pub expected_share: f64,
    /// Chance to pass if the world holds.
    pub pass_probability: f64,
    /// Chance to pass though the share is the largest: at most 1 less the level.
    pub pass_at_most_share: f64,
    /// Whether the stage reaches past the oldest lamp at risk, where the world is an opinion.
    pub past_records: bool,
}

/// The stages from a chain's own limit to the maker's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LimitPlan {
    /// What was asked.
    pub terms: StageTerms,
    /// The limit in force, hours.
    pub limit_hours: f64,
    /// The maker's, in whole hours: no stage passes it.
    pub maker_hours: f64,
    /// In order; none where the limit in force is the maker's already.
    pub stages: Vec<Stage>,
    /// The plan in words.
    pub sentence: String,
}

impl Sound for LimitPlan {
    fn check(&self, c: &mut Checks) {
        c.inside("terms", |c| {
            if let Err(e) = self.terms.check() {
                c.need("most_share", false, e, "terms of a trial");
            }
        });
        c.positive("limit_hours", self.limit_hours);
        c.positive("maker_hours", self.maker_hours);
        let mut from = self.limit_hours;
        for (i, stage) in self.stages.iter().enumerate() {
            let name = |field: &str| format!("stages[{i}].{field}");
            c.equal(&name("from_hours"), stage.from_hours, from);
            c.age(&name("to_hours"), stage.to_hours, self.maker_hours);
            c.need(&name("to_hours"), stage.to_hours > stage.from_hours, stage.to_hours, "an age past from_hours");
            c.follows(&name("lamps"), &stage.lamps, &self.terms.lamps());
            c.need(&name("lamps_to_enter"), stage.lamps_to_enter >= stage.lamps, stage.lamps_to_enter, "lamps or more");
            c.follows(&name("stop_at"), &stage.stop_at, &(self.terms.allowed + 1));
            c.share(&name("expected_share"), stage.expected_share);
            let at = |share: f64| at_most(self.terms.allowed, stage.lamps, share);
            c.equal(&name("pass_probability"), stage.pass_probability, at(stage.expected_share));
            c.equal(&name("pass_at_most_share"), stage.pass_at_most_share, at(self.terms.most_share));
            let past = self.terms.oldest_at_risk_hours.is_some_and(|o| stage.to_hours > o);
            c.follows(&name("past_records"), &stage.past_records, &past);
            from = stage.to_hours;
        }
        c.follows("sentence", &self.sentence, &sentence(self.limit_hours, self.maker_hours, &self.stages, &self.terms));
        let end = if self.stages.is_empty() { self.limit_hours.max(self.maker_hours) } else { self.maker_hours };
        c.equal("stages", self.stages.last().map_or(end, |s| s.to_hours), end);
    }
}

impl StageTerms {
    fn check(&self) -> Result<()> {
        let mut problems = Vec::new();
        let mut need = |holds: bool, column: &str, problem: Problem, got: &dyn std::fmt::Display, expected: &str| {
            if !holds {
                problems.push(problem.at(Place::input("limit stages").column(column)).got(got).expected(expected));
            }
        };
        let step = Problem::new("policy.stage_hours", "a stage must raise the limit by an hour or more");
        let steps = self.step_hours >= 1.0 && self.step_hours.is_finite();
        need(steps, "step_hours", step, &self.step_hours, "finite hours of at least 1");
        let share = Problem::new("policy.stage_share", "the largest share in a stage is out of range");
        let shares = self.most_share >= LEAST_SHARE && self.most_share < 1.0;
        need(shares, "most_share", share, &self.most_share, "0.000001 or more and below 1");
        let level = Problem::new("policy.stage_level", "the confidence of a trial is out of range");
        need(self.level > 0.0 && self.level < 1.0, "level", level, &self.level, "above 0 and below 1, such as 0.95");
        let allowed =
            Problem::new("policy.stage_allowed", "so many endings in a trial that passes are no stopping rule");
        need(self.allowed <= MOST_ALLOWED, "allowed", allowed, &self.allowed, &format!("0 to {MOST_ALLOWED}"));
        if problems.is_empty() { Ok(()) } else { Err(Error::many(Kind::Input, problems)) }
    }

    /// Fewest lamps with which `allowed` endings or fewer show the share to be below the largest.
    fn lamps(&self) -> u64 {
        let enough = |n: u64| at_most(self.allowed, n, self.most_share) <= 1.0 - self.level;
        let (mut low, mut high) = (self.allowed, self.allowed + 1);
        while !enough(high) && high < u64::MAX / 2 {
            (low, high) = (high, 2 * high);
        }
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if enough(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        high
    }
}

/// Chance of at most `count` events among `n` lamps that each have one with a chance of `share`.
fn at_most(count: u64, n: u64, share: f64) -> f64 {
    if share >= 1.0 {
        return if count >= n { 1.0 } else { 0.0 };
    }
    let n = n as f64;
    // Each term in logarithms: the first of many lamps may lie below the smallest number though later ones do not.
    let (odds, mut ln_term, mut sum) = (share.ln() - (-share).ln_1p(), n * (-share).ln_1p(), 0.0);
    for k in 0..=count {
        let k = k as f64;
        if k > n {
            break;
        }
        sum += ln_term.exp();
        ln_term += ((n - k) / (k + 1.0)).ln() + odds;
    }
    sum.min(1.0)
}

/// Stages that raise a chain's own limit to the maker's, with the lamps to try in each and when to stop.
///
/// A trial runs lamps from the limit in force to the next one. Counted are those that reach it or end in the watched way;
/// what ends otherwise, or is moved, is replaced. It passes with `allowed` such endings or fewer among all of them, and
/// stops at the next one: the limit then stays. Only a passed trial raises the limit for all lamps, and the next stage
/// starts from there. No stage passes the maker's limit; where that is the limit in force there is no plan.
///
/// # Formula
/// ```text
/// lamps n: the fewest with P(X <= allowed) <= 1 - level for X binomial of n and the largest share;
///          allowed = 0: n = ln(1 - level) / ln(1 - share), rounded up
/// share in the world: F(a, b) / [F(a, b) + S(a, b)], F and S the chances of a lamp of age a to end so before b, to reach b
/// lamps to enter = n / (F + S), rounded up;   chance to pass = P(X <= allowed) at the share in the world
/// ```
///
/// # Errors
/// `policy.stage_hours`, `policy.stage_share`, `policy.stage_level`, `policy.stage_allowed` together; `policy.stage_many`
/// for more than 1,000 stages; `policy.stage_no_cause` for an ending that no cause stands for; `policy.stage_none_left` where no lamp of the world reaches a stage; those of
/// [`WorldCurve::new`] and of the integrals.
///
/// # Source
/// Acceptance by a count of failures among n items: binomial demonstration tests, as in MIL-HDBK-338B (1998), 8.7 (from
/// memory); 59 lamps without an event show a share below 5 % with confidence 95 %.
///
/// # Examples
/// ```
/// use relamp::family::Weibull;
/// use relamp::fit::{CauseLife, World};
/// use relamp::policy::{StageTerms, limit_stages};
/// use relamp::records::Ending;
/// use relamp::terms::{Costs, PrintedHours};
/// let life = Box::new(Weibull { shape: 4.0, scale: 9000.0 });
/// let causes = vec![CauseLife { endings: vec![(Ending::Burst, 1.0)], life }];
/// let world = World { causes, costs: Costs::new(950.0, [(Ending::Burst, 5200.0)])? };
/// let printed = PrintedHours { maximum_hours: Some(2500.0), source: "invented".into(), ..PrintedHours::default() };
/// let own = printed.limit_because(2000.0, "the insurer asked for it")?;
/// let terms = StageTerms {
///     ending: Ending::Burst,
///     step_hours: 300.0,
///     most_share: 0.05,
///     allowed: 0,
///     level: 0.95,
///     oldest_at_risk_hours: None,
/// };
/// let plan = limit_stages(&world, &own, &terms)?;
/// assert_eq!(plan.stages.iter().map(|s| s.to_hours).collect::<Vec<_>>(), [2300.0, 2500.0]);
/// assert_eq!(plan.stages[0].lamps, 59);
/// assert!(limit_stages(&world, &printed.limit()?, &terms)?.sentence.starts_with("no plan"));
/// # Ok::<(), relamp::Error>(())
/// ```
pub fn limit_stages(world: &World, limit: &HourLimit, terms: &StageTerms) -> Result<LimitPlan> {
    terms.check()?;
    // Whole hours: no stage may end a part of an hour past what a meter shows.
    let (own, maker) = (limit.hours(), limit.maker_hours().floor());
    let needed = ((maker - own) / terms.step_hours).ceil();
    if needed > MOST_STAGES {
        let problem = Problem::new("policy.stage_many", "the steps to the maker's limit are too many to be trials")
            .at(Place::input("limit stages").column("step_hours"))
            .got(terms.step_hours)
            .expected(format!("at least {} h", (maker - own) / MOST_STAGES));
        return Err(Error::new(Kind::Input, problem));
    }
    if own < maker && world.causes.iter().all(|cause| cause.share_of(terms.ending) == 0.0) {
        let what = format!("no cause of the world stands for {}, which does not say that it never comes", terms.ending);
        let problem = Problem::new("policy.stage_no_cause", what).at(Place::input("limit stages").column("ending"));
        let problem = problem.got(terms.ending).expected("an ending with a life of its own");
        return Err(Error::new(Kind::Refused, problem));
    }
    let curve = WorldCurve::new(world)?;
    let lamps = terms.lamps();
    let mut stages = Vec::new();
    let mut from = own;
    while from < maker {
        let to = (own + terms.step_hours * (stages.len() + 1) as f64).min(maker).floor();
        let left = curve.ln_reliability(from).exp() >= f64::MIN_POSITIVE;
        let failed = curve.next(from, to - from)?;
        let watched: f64 = world.causes.iter().zip(&failed).map(|(cause, f)| f * cause.share_of(terms.ending)).sum();
        let counted = watched + (1.0 - failed.iter().sum::<f64>()).max(0.0);
        if !left || counted <= 0.0 {
            let what = format!("no lamp of this world reaches the end of the stage from {} h", full_hours(from));
            let problem = Problem::new("policy.stage_none_left", what).at(Place::input("limit stages").column("world"));
            return Err(Error::new(Kind::Refused, problem.got(from)));
        }
        let expected_share = (watched / counted).clamp(0.0, 1.0);
        stages.push(Stage {
            from_hours: from,
            to_hours: to,
            lamps,
            lamps_to_enter: (lamps as f64 / counted).ceil() as u64,
            stop_at: terms.allowed + 1,
            expected_share,
            pass_probability: at_most(terms.allowed, lamps, expected_share),
            pass_at_most_share: at_most(terms.allowed, lamps, terms.most_share),
            past_records: terms.oldest_at_risk_hours.is_some_and(|oldest| to > oldest),
        });
        from = to;
    }
    let sentence = sentence(own, maker, &stages, terms);
    Ok(LimitPlan { terms: terms.clone(), limit_hours: own, maker_hours: maker, stages, sentence })
}

fn sentence(own: f64, maker: f64, stages: &[Stage], terms: &StageTerms) -> String {
    let Some(first) = stages.first() else {
        let passed =
            if own > maker { format!("; its own limit of {} h lies past it", full_hours(own)) } else { String::new() };
        return format!("no plan: already at the maker's limit of {} h{passed}", full_hours(maker));
    };
    let opinion = if stages.iter().any(|s| s.past_records) {
        "; past the oldest lamp of the records the chances are the model's opinion"
    } else {
        ""
    };
    let passes: f64 = stages.iter().map(|s| s.pass_probability).product();
    format!(
        "from {} h to the maker's {} h in {}: first run {} to {} h and stop at {} by {}; a stage passes with at most {}, which \
         shows a share below {} % with confidence {} %; all pass with a chance of {:.0} % if the model holds{opinion}",
        full_hours(own),
        full_hours(maker),
        counted(stages.len() as u64, "stage"),
        counted(first.lamps, "lamp"),
        full_hours(first.to_hours),
        counted(terms.allowed + 1, "failure"),
        terms.ending,
        terms.allowed,
        short(100.0 * terms.most_share),
        short(100.0 * terms.level),
        100.0 * passes,
    )
}
