//! Declared depots found among the sites of the logs, and the stock count read and summed up.

use std::collections::{BTreeMap, BTreeSet};

use super::decide::day_after;
use super::declare::Declaration;
use super::open::Study;
use super::places::StoresKnown;
use super::places_result::{ClassStores, CountSummary, StockList, StoreKind};
use super::places_words::{notes, sentence};
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::records::{ClassNames, Finding, Reading, Source, fold, nearest};
use crate::stock::{CountRules, StockCount, UsedLamp, read_stock_count};

impl Study {
    /// Depots and what the count holds; none where the study file declares neither.
    pub(super) fn stores(&self, reading: &Reading) -> Result<Option<StoresKnown>> {
        let declared = &self.declaration;
        if !declared.stores.declared() {
            return Ok(None);
        }
        let mut sites: BTreeSet<&str> = reading.spells.iter().map(|s| &**s.site).collect();
        sites.extend(reading.disputed.iter().map(|d| &*d.site));
        let mut known = StoresKnown { as_of: declared.as_of, ..StoresKnown::default() };
        let by_fold: BTreeMap<String, &str> = sites.iter().map(|s| (fold(s), *s)).collect();
        let mut problems = Vec::new();
        for (i, depot) in declared.stores.depots.iter().enumerate() {
            known.depots.push((depot.name.clone(), depot.days_to_site));
            for site in &depot.sites {
                if by_fold.contains_key(&fold(site)) {
                    // A site may be written in several ways; each belongs to its depot.
                    let same = sites.iter().filter(|s| fold(s) == fold(site));
                    known.depot_of.extend(same.map(|s| ((*s).to_owned(), i)));
                } else {
                    let nearest = nearest(site, sites.iter().copied());
                    let what = format!("no row in use names this site{nearest}");
                    let place = Place::input(self.file.to_string_lossy()).line(depot.line);
                    let problem = Problem::new("study.depot_site_unknown", what);
                    let problem = problem.at(place.column(format!("depot \"{}\".sites", depot.name)));
                    problems.push(problem.got(format!("\"{site}\"")).expected("a site of the logs"));
                }
            }
            if let Some(site) = by_fold.get(&fold(&depot.name)) {
                let place = Place::input(self.file.to_string_lossy()).line(depot.line);
                let problem = Problem::new("study.depot_twice", "a depot has the name of a site");
                let problem = problem.at(place.column(format!("depot \"{}\".name", depot.name)));
                problems.push(problem.got(format!("\"{site}\"")).expected("a name that no site has"));
            }
        }
        let depots = Some(problems).filter(|p| !p.is_empty()).map(|p| Error::many(Kind::Study, p));
        let count = self.count(&sites).map(|count| known.count = count);
        Error::gathered(depots.into_iter().chain(count.err())).map_or(Ok(Some(known)), Err)
    }

    /// What is doubtful in the stock count, and what of it was set aside; nothing without one.
    ///
    /// # Errors
    /// `study.depot_site_unknown` and `study.depot_twice` for depots that the logs do not bear out, those of
    /// [`read_stock_count`].
    ///
    /// # Examples
    /// ```
    /// use relamp::{Run, study::Study};
    /// let study = Study::open("data/demo/study.toml")?;
    /// let found = study.stock_findings(&study.read(&Run::new())?)?;
    /// assert_eq!(found.iter().map(|f| f.rule.as_str()).collect::<Vec<_>>(), ["stock.place_unknown"]);
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn stock_findings(&self, reading: &Reading) -> Result<Vec<Finding>> {
        let count = self.stores(reading)?.and_then(|known| known.count);
        Ok(count.map(|count| count.ledger.findings).unwrap_or_default())
    }

    /// The stock count; with no site of the logs known, any place is taken as the count words it.
    pub(super) fn count(&self, sites: &BTreeSet<&str>) -> Result<Option<StockCount>> {
        let declared = &self.declaration;
        let Some(file) = &declared.stores.stock_count else { return Ok(None) };
        let depots = declared.stores.depots.iter().map(|d| d.name.clone());
        // Without a depot every place is a part of the one store.
        let places = if declared.stores.depots.is_empty() || sites.is_empty() {
            Vec::new()
        } else {
            sites.iter().map(|s| (*s).to_owned()).chain(depots).collect()
        };
        let classes = || declared.classes.iter();
        let rules = CountRules {
            counted_on: file.counted_on.unwrap_or(declared.as_of),
            classes: ClassNames::new(classes().map(|c| (&c.name, &c.also_called)))?,
            places,
            lead_time_days: classes().map(|c| (c.name.clone(), c.lead_time_days)).collect(),
            limit_hours: classes().map(|c| (c.name.clone(), c.judged_limit_hours())).collect(),
        };
        let source = Source::File(self.folder.join(&file.file));
        read_stock_count(&file.file, source, &file.format, &file.columns, &rules).map(Some)
    }
}

/// The declaration with the lamps of a count on the shelf and on order of its classes.
pub(super) fn with_counted(declared: &Declaration, known: &StoresKnown) -> Declaration {
    let mut declared = declared.clone();
    let Some(count) = &known.count else { return declared };
    for class in &mut declared.classes {
        let by = day_after(declared.as_of, class.lead_time_days);
        class.on_hand = count.on_hand_or_none(&class.name, None);
        class.on_order = count.due_by_or_none(&class.name, None, by);
        class.on_order_later = count.lamps_due_after(&class.name, by);
        let used = count.used_lamps.iter().filter(|r| r.lamp_class == class.name);
        class.used_lamps = used.map(|r| UsedLamp { age_hours: Some(r.age_hours), ending: r.ending }).collect();
    }
    declared
}

fn summed_up(count: &StockCount, declared: &Declaration, file: &str) -> CountSummary {
    let later = declared.classes.iter().flat_map(|c| &c.on_order_later);
    CountSummary {
        file: file.to_owned(),
        counted_on: count.counted_on,
        rows_count: count.ledger.counts.rows,
        used_count: count.ledger.counts.used,
        set_aside_count: count.ledger.counts.set_aside,
        used_lamps_count: count.used_lamps.len() as u64,
        later_orders_lamps: later.map(|(_, lamps)| *lamps).fold(0, u64::saturating_add),
        warning: count.warning(),
        findings: count.ledger.findings.clone(),
    }
}

impl StockList {
    /// The list from those of the classes.
    pub(super) fn of(classes: Vec<ClassStores>, known: &StoresKnown, declared: &Declaration) -> Self {
        let file = declared.stores.stock_count.as_ref().map_or("", |f| f.file.as_str());
        let count = known.count.as_ref().map(|count| summed_up(count, declared, file));
        Self { sentence: said(&classes), notes: notes(known.depots.is_empty(), count.is_some()), classes, count }
    }
}

/// How the chain keeps its lamps, from the places of its classes.
pub(super) fn said(classes: &[ClassStores]) -> String {
    if classes.iter().all(|c| c.places.is_empty()) {
        return "what to hold where is not known".to_owned();
    }
    let of = |kind: StoreKind| {
        let all = classes.iter().flat_map(|c| &c.places).filter(|p| p.kind == kind);
        all.map(|p| p.place.as_str()).collect::<BTreeSet<_>>().len()
    };
    sentence(of(StoreKind::Depot), of(StoreKind::Site), of(StoreKind::OwnStore))
}
