//! What the owner of a study declares about places: depots, and the file of a stock count.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Component, Path};

use chrono::NaiveDate;
use serde::Serialize;

use super::declare_class::LampClass;
use super::walk::{Document, Section};
use crate::base::error::Problem;
use crate::records::{DateOrder, Encoding, NumberFormat, TableFormat, fold, usable_delimiter, usable_sign};

/// A depot that fills the shelves of some sites.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Depot {
    /// Its name.
    pub name: String,
    /// Sites that it serves, as declared.
    pub sites: Vec<String>,
    /// Days from its shelf to a site.
    pub days_to_site: u32,
    /// Line of the study file on which its sites stand.
    #[serde(skip)]
    pub(super) line: u64,
}

/// The file of a stock count and how it is written.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CountFile {
    /// Path below the folder of the study.
    pub file: String,
    /// Day of the count; none for the as-of date.
    pub counted_on: Option<NaiveDate>,
    /// How the file is written.
    #[serde(skip)]
    pub(super) format: TableFormat,
    /// The owner's names of the columns.
    pub columns: BTreeMap<String, String>,
    /// Line of the study file it stands on.
    #[serde(skip)]
    pub(super) line: u64,
}

/// Depots, and the stock count if there is one.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Stores {
    /// Depots, in the order declared.
    pub depots: Vec<Depot>,
    /// The file of a stock count.
    pub stock_count: Option<CountFile>,
}

impl Stores {
    /// Whether anything is declared that asks for a stock list.
    pub(super) fn declared(&self) -> bool {
        !self.depots.is_empty() || self.stock_count.is_some()
    }
}

/// Most days from a depot to a site. Our choice, without a source: a year is no delivery within a chain.
const MOST_DAYS_TO_SITE: u64 = 365;

/// The tables `[[depot]]` and `[stock_count]`.
pub(super) fn read_stores(doc: &mut Document<'_>, top: &mut Section<'_>, as_of: Option<NaiveDate>) -> Stores {
    let mut depots: Vec<Depot> = Vec::new();
    // Names are compared whatever else is wrong with a depot.
    let mut names: BTreeSet<String> = BTreeSet::new();
    let mut served: BTreeMap<String, String> = BTreeMap::new();
    for mut s in top.tables(doc, "depot") {
        let name = s.needed_text(doc, "name");
        if let Some(name) = &name {
            s.title = format!("depot \"{name}\"");
        }
        let sites = s.texts(doc, "sites");
        if sites.as_ref().is_none_or(Vec::is_empty) && !doc.told(&s, "sites") {
            s.missing(doc, "sites", "a list of the sites that it serves");
        }
        let days = s.needed_whole(doc, "days_to_site", 0, MOST_DAYS_TO_SITE);
        s.finish(doc);
        let Some(name) = name else { continue };
        if !names.insert(fold(&name)) {
            let place = s.place(doc, "name");
            let problem = Problem::new("study.depot_twice", "two depots have the same name").at(place);
            doc.add(problem.got(format!("\"{name}\"")).expected("a name of its own"));
        }
        for site in sites.iter().flatten() {
            if let Some(other) = served.insert(fold(site), name.clone()) {
                let problem = Problem::new("study.site_depots", "a site is served by one depot, once");
                let place = s.place(doc, "sites");
                doc.add(
                    problem.at(place).got(format!("\"{site}\"")).expected(format!("not served by \"{other}\" too")),
                );
            }
        }
        let line = s.place(doc, "sites").line.unwrap_or(0);
        if let Some(sites) = sites {
            // Without its days the file is refused, but the sites are still looked for in the logs.
            let days_to_site = days.map_or(0, |d| u32::try_from(d).unwrap_or(u32::MAX));
            depots.push(Depot { name, sites, days_to_site, line });
        }
    }
    for depot in &depots {
        if served.contains_key(&fold(&depot.name)) {
            let problem = Problem::new("study.depot_twice", "a depot has the name of a site");
            let place = doc.place_of_line(depot.line).column(format!("depot \"{}\".name", depot.name));
            doc.add(problem.at(place).got(format!("\"{}\"", depot.name)).expected("a name that no site has"));
        }
    }
    let stock_count = top.table(doc, "stock_count", "[stock_count]").and_then(|s| read_count_file(doc, s, as_of));
    Stores { depots, stock_count }
}

fn read_count_file(doc: &mut Document<'_>, mut s: Section<'_>, as_of: Option<NaiveDate>) -> Option<CountFile> {
    let file = s.needed_text(doc, "file");
    doc.files.extend(file.clone());
    let below = |c: Component<'_>| matches!(c, Component::Normal(_) | Component::CurDir);
    if let Some(file) = file.as_ref().filter(|f| doc.inside_folder && !Path::new(f).components().all(below)) {
        let problem = Problem::new("study.path_outside", "the path of the stock count leaves the folder of the study");
        let expected = "a path below the folder of the study file";
        let place = s.place(doc, "file");
        doc.add(problem.at(place).got(format!("\"{file}\"")).expected(expected));
    }
    let counted_on = s.date(doc, "counted_on");
    let line = doc.place(s.offset()).line.unwrap_or(0);
    if let Some((day, as_of)) = counted_on.zip(as_of).filter(|(day, as_of)| day > as_of) {
        let problem = Problem::new("study.count_day", "the stock was counted after the as-of date");
        let place = s.place(doc, "counted_on");
        doc.add(problem.at(place).got(day).expected(format!("{as_of} or before")));
    }
    let encoding = s.word(doc, "encoding", &Encoding::ALL, Encoding::as_str).unwrap_or_default();
    let delimiter = s.sign(doc, "delimiter", "one ASCII character such as , ; or a tab", usable_delimiter);
    let decimal = s.sign(doc, "decimal", "one sign such as . or ,", usable_sign).unwrap_or('.');
    let expected = "one sign such as . , or a space, other than the decimal sign";
    let thousands = s.sign(doc, "thousands", expected, |c| usable_sign(c) && c != decimal);
    let dates = s.word(doc, "dates", &DateOrder::ALL, DateOrder::as_str);
    let columns = s.table(doc, "columns", "[stock_count.columns]");
    let columns = columns.map_or_else(BTreeMap::new, |c| read_columns(doc, c));
    s.finish(doc);
    let format = TableFormat {
        encoding,
        delimiter: delimiter.unwrap_or(','),
        numbers: NumberFormat { decimal, thousands },
        dates,
    };
    Some(CountFile { file: file?, counted_on, format, columns, line })
}

/// The columns of a count that the owner calls otherwise.
fn read_columns(doc: &mut Document<'_>, mut s: Section<'_>) -> BTreeMap<String, String> {
    let known = ["lamp_class", "place", "on_hand", "on_order", "due_on", "serial", "age_hours", "ending"];
    let named = known.map(|key| s.text(doc, key).map(|name| (key.to_owned(), name)));
    s.finish(doc);
    named.into_iter().flatten().collect()
}

/// Lamps on the shelf are told in one place: by the count or by the class.
pub(super) fn told_once(doc: &mut Document<'_>, stores: &Stores, classes: &[LampClass]) {
    for class in classes.iter().filter(|_| stores.stock_count.is_some()) {
        if let Some(line) = class.shelf_line {
            let problem = Problem::new("study.stock_twice", "lamps are told by the class and by a stock count");
            let place = doc.place_of_line(line).column(format!("class \"{}\".on_hand", class.name));
            let expected = "no on_hand and no on_order where [stock_count] is declared";
            doc.add(problem.at(place).got(format!("{} and {}", class.on_hand, class.on_order)).expected(expected));
        }
    }
}
