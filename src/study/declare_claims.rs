//! What the owner of a study declares about warranties: the terms of a class, and the file of claims filed.

use std::collections::BTreeMap;
use std::path::{Component, Path};

use serde::Serialize;

use super::declare_class::kept;
use super::walk::{Bound, Document, Section};
use crate::base::error::{Error, Problem, Result};
use crate::records::{DateOrder, Ending, TableFormat, usable_delimiter, usable_sign};
use crate::terms::{Costs, Warranty, WarrantyStep};
use crate::warranty::{ClaimTerms, Cover, CoverStart};

/// A file of claims that were filed and of papers at hand, one row a lamp.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ClaimFile {
    /// Path below the folder of the study.
    pub file: String,
    /// How it is written.
    #[serde(skip)]
    pub format: TableFormat,
    /// The owner's names of its columns, by ours, where they differ.
    pub columns: BTreeMap<String, String>,
}

impl ClaimFile {
    /// The owner's name of the column of amounts paid.
    pub(super) fn paid_column(&self) -> &str {
        self.columns.get("paid").map_or("paid", String::as_str)
    }
}

/// The columns of a file of claims.
const COLUMNS: [&str; 5] = ["serial", "delivered_on", "evidence", "filed_on", "paid"];

/// The table `[claims]`.
pub(super) fn read_claim_file(doc: &mut Document<'_>, top: &mut Section<'_>) -> Option<ClaimFile> {
    let mut s = top.table(doc, "claims", "[claims] with the file of claims that were filed")?;
    let file = s.needed_text(doc, "file");
    doc.files.extend(file.clone());
    let leaves = |file: &str| {
        let mut parts = Path::new(file).components();
        doc.inside_folder && !parts.all(|c| matches!(c, Component::Normal(_) | Component::CurDir))
    };
    if let Some(file) = file.as_ref().filter(|f| leaves(f)) {
        let problem = Problem::new("study.path_outside", "the path of a file leaves the folder of the study");
        let place = s.place(doc, "file");
        doc.add(problem.at(place).got(format!("\"{file}\"")).expected("a path below the folder of the study file"));
    }
    let mut format = TableFormat::default();
    let sign = s.sign(doc, "delimiter", "one ASCII character such as , ; or a tab", usable_delimiter);
    format.delimiter = sign.unwrap_or(format.delimiter);
    let sign = s.sign(doc, "decimal", "one sign such as . or ,", usable_sign);
    format.numbers.decimal = sign.unwrap_or(format.numbers.decimal);
    format.dates = s.word(doc, "dates", &DateOrder::ALL, DateOrder::as_str);
    let mut columns = BTreeMap::new();
    if let Some(mut named) = s.table(doc, "columns", "[claims.columns] with your names of the columns") {
        for key in COLUMNS {
            columns.extend(named.text(doc, key).map(|name| (key.to_owned(), name)));
        }
        named.finish(doc);
    }
    s.finish(doc);
    Some(ClaimFile { file: file?, format, columns })
}

/// What a class gives to its warranty where the warranty says nothing else.
pub(super) struct OfClass<'a> {
    pub(super) price: Option<f64>,
    pub(super) warranty_hours: Option<f64>,
    /// Whether its hours could be read; where not, that is what is told.
    pub(super) hours_read: bool,
    pub(super) failures: &'a [Ending],
    pub(super) costs: Option<&'a Costs>,
}

/// Whether ages, costs and savings count what a warranty pays back.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum MoneyInCosts {
    Counted,
    LeftOut,
}

impl MoneyInCosts {
    const ALL: [Self; 2] = [Self::Counted, Self::LeftOut];

    fn as_str(self) -> &'static str {
        match self {
            Self::Counted => "counted",
            Self::LeftOut => "left_out",
        }
    }
}

/// The table `[class.warranty]`.
pub(super) fn read_warranty(
    doc: &mut Document<'_>,
    mut s: Section<'_>,
    class: &OfClass<'_>,
) -> Option<(ClaimTerms, MoneyInCosts)> {
    const FORMS: [&str; 3] = ["full", "pro_rata", "stepped"];
    let before = doc.problems.len();
    let form = s.word(doc, "form", &FORMS, |f| f);
    if form.is_none() && !doc.told(&s, "form") {
        s.missing(doc, "form", "one of full, pro_rata, stepped");
    }
    let price = s.number(doc, "price", Bound::Amount).or(class.price);
    let hours = s.number(doc, "hours", Bound::AtLeastOne);
    let mut steps = Vec::new();
    for mut step in s.tables(doc, "steps") {
        let below_hours = step.needed_number(doc, "below_hours", Bound::AtLeastOne);
        let share = step.needed_number(doc, "share", Bound::Share);
        step.finish(doc);
        steps.extend(below_hours.zip(share).map(|(below_hours, share)| WarrantyStep { below_hours, share }));
    }
    let endings = s.texts(doc, "endings").map(|words| {
        let each = words.iter().filter_map(|w| super::declare::failure_ending(doc, &s, "endings", w));
        each.collect::<Vec<_>>()
    });
    let months = s.whole(doc, "months", 1, 600).and_then(|m| u32::try_from(m).ok());
    let from = s.word(doc, "months_from", &CoverStart::ALL, CoverStart::as_str);
    let most_strikes = s.whole(doc, "most_strikes", 1, u64::from(u32::MAX));
    let needed = s.texts(doc, "needed").unwrap_or_default();
    let chance = s.number(doc, "chance", Bound::Share).unwrap_or(1.0);
    let handling_cost = s.number(doc, "handling_cost", Bound::NoLess).unwrap_or(0.0);
    let money_back = s.word(doc, "money_back", &MoneyInCosts::ALL, MoneyInCosts::as_str);
    let money_back = money_back.unwrap_or(MoneyInCosts::Counted);
    let days_to_file = s.whole(doc, "days_to_file", 1, 3653).and_then(|d| u32::try_from(d).ok());
    s.finish(doc);
    let stepped = form == Some("stepped");
    let printed = hours.or(class.warranty_hours);
    match form {
        Some(_) if stepped && steps.is_empty() && !doc.told(&s, "steps") => {
            s.missing(doc, "steps", "tables with below_hours and share, such as { below_hours = 500.0, share = 1.0 }");
        }
        Some(_) if stepped && hours.is_some() => {
            let problem = Problem::new("study.key_unknown", "hours is not a key of a stepped warranty");
            let place = s.place(doc, "hours");
            doc.add(problem.at(place).expected("the ages of its steps alone"));
        }
        Some(_) if !stepped && printed.is_none() && class.hours_read && !doc.told(&s, "hours") => {
            s.missing(doc, "hours", "hours of the warranty, where the class prints no warranty_hours");
        }
        _ => {}
    }
    if months.is_none() && from.is_some() && !doc.told(&s, "months") {
        s.missing(doc, "months", "the months that months_from speaks of");
    }
    if doc.problems.len() > before {
        return None;
    }
    let endings = endings.unwrap_or_else(|| class.failures.iter().copied().filter(|e| e.is_failure()).collect());
    let money = match form? {
        "full" => Warranty::full(price?, printed?, endings),
        "pro_rata" => Warranty::pro_rata(price?, printed?, endings),
        _ => Warranty::stepped(price?, steps, endings),
    };
    let money = kept(doc, &s, if stepped { "steps" } else { "hours" }, money)?;
    let cover = limited(money, months, from, most_strikes);
    let cover = kept(doc, &s, "months", cover)?;
    let terms = ClaimTerms { cover, needed, chance, handling_cost, days_to_file };
    let terms = kept(doc, &s, "needed", terms.checked())?;
    if let (MoneyInCosts::Counted, Some(costs)) = (money_back, class.costs) {
        let counted = kept(doc, &s, "chance", terms.money_back(None))?;
        let with = counted.map(|warranty| costs.clone().with_warranty(warranty));
        let with = with.transpose().map_err(|wrong| or_left_out(&wrong));
        kept(doc, &s, "money_back", with)?;
    }
    Some((terms, money_back))
}

/// The same problems, with the key that leaves the money out.
fn or_left_out(wrong: &Error) -> Error {
    let each = wrong.problems().iter().map(|p| {
        let expected =
            format!("{}; or money_back = \"left_out\", where these costs hold the money back already", p.expected);
        Problem { expected, ..p.clone() }
    });
    Error::many(wrong.kind(), each.collect())
}

fn limited(money: Warranty, months: Option<u32>, from: Option<CoverStart>, strikes: Option<u64>) -> Result<Cover> {
    let mut cover = Cover::new(money);
    if let Some(months) = months {
        cover = cover.within_months(months, from.unwrap_or(CoverStart::Fitting))?;
    }
    strikes.map_or(Ok(cover.clone()), |most| cover.within_strikes(most))
}
