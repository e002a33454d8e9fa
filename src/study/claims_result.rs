//! What a study says of warranty claims: those to file, those that are late, and those to expect.

use serde::{Deserialize, Serialize};

use crate::base::figure::{counted, full_hours, short, whole};
use crate::base::sound::Checks;
use crate::records::Ending;
use crate::terms::WarrantyForm;
use crate::warranty::{ClaimList, ClaimTerms, ClaimTotals, ClaimsAhead, NothingDue, Standing};

/// Days over which claims are expected.
pub(super) const AHEAD_DAYS: f64 = 365.0;
/// Share of futures between the ends of the number of claims, as of the mean money of the room of claims.
pub(super) const AHEAD_LEVEL: f64 = 0.9;

/// Warranty claims of a study.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClaimsResult {
    /// What the list amounts to, in words.
    pub sentence: String,
    /// File of claims that were filed, as declared; blank where none is, so that what was filed is not known.
    pub file: String,
    /// Lamps for which something is due, could be due or was claimed, in the order of a claim list.
    pub list: ClaimList,
    /// The other lamps that ended, by the reason for which nothing is due.
    pub nothing: Vec<NothingCount>,
    /// What claims brought and could have brought, of the list.
    pub totals: ClaimTotals,
    /// One entry for each class with warranty terms, in the order declared.
    pub by_class: Vec<ClassClaims>,
    /// Rows of the file of claims that these logs do not bear out; counted nowhere.
    pub set_aside: Vec<ClaimSetAside>,
}

/// Lamps for which nothing is due, for one reason.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NothingCount {
    /// The reason.
    pub why: NothingDue,
    /// Lamps.
    pub lamps_count: u64,
}

/// A row of the file of claims that these logs do not bear out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClaimSetAside {
    /// Serial as the file has it.
    pub serial: String,
    /// What was paid; none while no answer came.
    pub paid: Option<f64>,
    /// File.
    pub file: String,
    /// Physical line.
    pub line: u64,
    /// Why it is set aside.
    pub why: String,
}

/// Claims of one class.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClassClaims {
    /// Lamp class.
    pub lamp_class: String,
    /// The terms as declared.
    pub terms: ClaimTerms,
    /// The terms in words.
    pub terms_sentence: String,
    /// What claims of the class brought and could have brought.
    pub totals: ClaimTotals,
    /// Claims to expect in the next year; none where no model carries them.
    pub ahead: Option<AheadResult>,
    /// Why there is none; blank where there is one.
    pub ahead_not_known: String,
}

/// Claims to expect.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AheadResult {
    /// Days looked ahead.
    pub days: u32,
    /// Mean number of claims of the lamps that burn today.
    pub claims_mean: f64,
    /// Number of these claims not passed from below with half of what the level leaves.
    pub claims_low: u64,
    /// The same from above.
    pub claims_high: u64,
    /// Share of futures between the two.
    pub level_probability: f64,
    /// Mean number of all claims: those of lamps that are fitted within the days too.
    pub all_claims_mean: f64,
    /// Mean money due for all of them, if every one is filed and granted.
    pub all_money_mean: f64,
    /// The same times the chance that a claim is granted.
    pub granted_money_mean: f64,
    /// The answer of the room of claims, with its distribution.
    pub found: ClaimsAhead,
}

impl AheadResult {
    pub(super) fn of(found: ClaimsAhead, terms: &ClaimTerms) -> Option<Self> {
        let claims = &found.claims;
        let tail = 0.5 * (1.0 - AHEAD_LEVEL);
        let all_money_mean = found.mean_money + found.later_money;
        Some(Self {
            days: AHEAD_DAYS as u32,
            claims_mean: claims.mean(),
            claims_low: claims.quantile(tail).ok()?,
            claims_high: claims.quantile(1.0 - tail).ok()?,
            level_probability: AHEAD_LEVEL,
            all_claims_mean: claims.mean() + found.later_claims,
            all_money_mean,
            granted_money_mean: terms.chance * all_money_mean,
            found,
        })
    }

    /// What follows from the distribution must follow.
    pub(super) fn check(&self, c: &mut Checks, terms: &ClaimTerms) {
        c.part("found", &self.found);
        let Some(again) = Self::of(self.found.clone(), terms) else {
            c.need("found.claims", false, "no distribution", "a distribution");
            return;
        };
        c.follows("days", &self.days, &again.days);
        c.follows("claims_low", &self.claims_low, &again.claims_low);
        c.follows("claims_high", &self.claims_high, &again.claims_high);
        for (field, got, expected) in [
            ("claims_mean", self.claims_mean, again.claims_mean),
            ("level_probability", self.level_probability, again.level_probability),
            ("all_claims_mean", self.all_claims_mean, again.all_claims_mean),
            ("all_money_mean", self.all_money_mean, again.all_money_mean),
            ("granted_money_mean", self.granted_money_mean, again.granted_money_mean),
            ("found.days", self.found.days, AHEAD_DAYS),
        ] {
            c.equal(field, got, expected);
        }
    }
}

/// The lamps of one class of a list.
pub(super) fn of_class(list: &ClaimList, name: &str) -> ClaimTotals {
    let claims = list.claims.iter().filter(|c| c.lamp.lamp_class == name).cloned().collect();
    ClaimList { as_of: list.as_of, claims }.totals()
}

/// The terms of claims in words.
pub(super) fn terms_sentence(terms: &ClaimTerms, currency: &str) -> String {
    let money = terms.cover.money();
    let price = whole(money.price());
    let hours = full_hours(money.hours());
    let mut back = vec![match money.form() {
        WarrantyForm::Full => format!("the whole price of {price} {currency} back below {hours} h"),
        WarrantyForm::ProRata => {
            format!("the price of {price} {currency} back in the share of {hours} h that the lamp did not burn")
        }
        WarrantyForm::Stepped(steps) => {
            let each = steps.iter().map(|s| format!("{} below {} h", percent(s.share), full_hours(s.below_hours)));
            format!("of the price of {price} {currency} {}", each.collect::<Vec<_>>().join(", "))
        }
    }];
    if let Some((months, from)) = terms.cover.calendar() {
        back.push(format!("within {} of {}", counted(u64::from(months), "month"), from.as_str()));
    }
    back.extend(terms.cover.most_strikes().map(|most| format!("up to {}", counted(most, "strike"))));
    let endings: Vec<String> = money.endings().iter().map(Ending::to_string).collect();
    let mut said = vec![
        back.join(", "),
        format!("covered: {}", endings.join(", ")),
        format!(
            "a complete claim is granted with chance {} and costs {} {currency}",
            percent(terms.chance),
            short(terms.handling_cost)
        ),
        terms.days_to_file.map_or_else(
            || "no deadline".to_owned(),
            |days| format!("to file within {} of the ending", counted(u64::from(days), "day")),
        ),
    ];
    if !terms.needed.is_empty() {
        said.push(format!("needed: {}", terms.needed.join(", ").replace('_', " ")));
    }
    said.join("; ")
}

pub(super) fn percent(share: f64) -> String {
    format!("{} %", short(100.0 * share))
}

/// The reasons of a list for which nothing is due, with their lamps, and the list without these lamps.
pub(super) fn split(mut list: ClaimList) -> (ClaimList, Vec<NothingCount>) {
    let mut counts = std::collections::BTreeMap::new();
    for claim in list.of(Standing::Nothing) {
        *counts.entry(claim.due.why_nothing.unwrap_or(NothingDue::NoTerms)).or_insert(0_u64) += 1;
    }
    list.claims.retain(|c| c.standing != Standing::Nothing);
    (list, counts.into_iter().map(|(why, lamps_count)| NothingCount { why, lamps_count }).collect())
}
