//! One declarative file in, every answer for every lamp class out.

use std::collections::BTreeMap;
use std::path::PathBuf;

use arrow_array::RecordBatch;
use pyo3::prelude::*;
use pyo3::types::PyBytes;

use crate::Result;
use crate::base::saved::{self, Format};
use crate::study::{ClassResult, Study, StudyOptions, StudyOutput, StudyResults, check_target, write};

use super::claims::PyClaimList;
use super::claims_ahead::PyClaimsAhead;
use super::fixed::Fixed;
use super::frames::{self, Frame};
use super::intake::arguments as args;
use super::last_buy::PyLastBuy;
use super::policy::word;
use super::records::PyReading;
use super::records_tables::findings;
use super::result::result_class;
use super::show::{Facts, facts};
use super::study_tables::{last_buys, overdue, purchase_rows, stock_rows};
use super::work::work;

const CLASS: Format = Format::new("class_result", 1);
const OUTPUT: Format = Format::new("study_output", 1);

fn class_facts(c: &ClassResult) -> Facts {
    facts! {
        "name": c.name, "status": word(&c.status), "advised_age_hours": c.advised_age_hours,
        "limit_hours": c.limit.limit_hours, "todays_rule_hours": c.todays_rule_hours,
        "lamps": c.seen.lamps_count, "failures": c.seen.failures_count,
        "family": c.model.as_ref().map(|m| m.family.clone()), "b10_hours": c.model.as_ref().map(|m| m.b10_hours),
        "order_lamps": c.stock.as_ref().map(|s| s.order_lamps),
        "order_least_lamps": c.bounds.as_ref().map(|b| b.spares.order_least_lamps), "headline": c.headline,
    }
}

fn class_rows(classes: &[ClassResult]) -> Result<RecordBatch> {
    let each = || classes.iter();
    Frame::default()
        .texts("name", each().map(|c| &c.name))
        .texts("status", each().map(|c| word(&c.status)))
        .numbers("advised_age_hours", each().map(|c| c.advised_age_hours))
        .numbers("limit_hours", each().map(|c| c.limit.limit_hours))
        .numbers("todays_rule_hours", each().map(|c| c.todays_rule_hours))
        .counts("lamps", each().map(|c| c.seen.lamps_count))
        .counts("failures", each().map(|c| c.seen.failures_count))
        .counts("running", each().map(|c| c.seen.running_count))
        .texts("family", each().map(|c| c.model.as_ref().map_or("", |m| &m.family)))
        .numbers_or_null("b10_hours", each().map(|c| c.model.as_ref().map(|m| m.b10_hours)))
        .numbers_or_null(
            "cost_per_1000_hours",
            each().map(|c| c.policy.as_ref().map(|p| p.planned.cost_per_1000_hours)),
        )
        .counts_or_null("stock_level_lamps", each().map(|c| c.stock.as_ref().map(|s| s.level_lamps)))
        .counts_or_null("order_lamps", each().map(|c| c.stock.as_ref().map(|s| s.order_lamps)))
        .counts_or_null("stock_least_lamps", each().map(|c| c.bounds.as_ref().map(|b| b.spares.least_lamps)))
        .counts_or_null("order_least_lamps", each().map(|c| c.bounds.as_ref().map(|b| b.spares.order_least_lamps)))
        .texts("least_means", each().map(|c| c.bounds.as_ref().map_or("", |b| &b.label)))
        .finish()
}

result_class! {
    /// What a study answers for one lamp class; stands in `StudyResults.classes`. `to_dict` holds every figure.
    PyClassResult holds ClassResult as "ClassResult";
    save |c| saved::save(CLASS, c); load |t| saved::load(CLASS, t);
    table |c| class_rows(std::slice::from_ref(c)); show class_facts;
    {
        /// Name of the class.
        #[getter]
        fn name(&self) -> &str {
            &self.0.name
        }

        /// How far the records carry the advice: "supported", "weak", "rate_only" (one to four failures), "mixed" or
        /// "not_supported".
        #[getter]
        fn status(&self) -> String {
            word(&self.0.status)
        }

        /// The advice in one or two sentences.
        #[getter]
        fn headline(&self) -> &str {
            &self.0.headline
        }

        /// The age at which to change, whole hours, never above the limit.
        #[getter]
        fn advised_age_hours(&self) -> f64 {
            self.0.advised_age_hours
        }

        /// What to bear in mind, in plain words.
        #[getter]
        fn warnings(&self) -> Fixed<String> {
            Fixed(self.0.warnings.clone())
        }
    }
}

fn results_facts(r: &StudyResults) -> Facts {
    let told = |n: usize| r.overdue.not_known.is_empty().then_some(n);
    facts! {
        "name": r.study.name, "as_of": r.study.as_of.to_string(), "currency": r.study.currency,
        "at_or_past_limit": told(r.overdue.at_limit.len()), "soon_at_limit": told(r.overdue.soon.len()),
        "age_unknown": told(r.overdue.age_unknown.len()), "rows": r.ledger.rows_count, "rows_used": r.ledger.used_count,
        "rows_merged": r.ledger.merged_count, "rows_set_aside": r.ledger.set_aside_count,
        "classes": r.classes.iter().map(|c| format!("{}: {} h", c.name, super::show::number(c.advised_age_hours)))
            .collect::<Vec<_>>(),
    }
}

result_class! {
    /// The answers of one study, class by class. Read `overdue` first. `to_dict` holds every figure.
    PyStudyResults holds StudyResults as "StudyResults";
    save StudyResults::to_json; load StudyResults::from_json; table |r| class_rows(&r.classes); show results_facts;
    {
        /// One entry for each declared lamp class, in the order declared.
        #[getter]
        fn classes(&self) -> Fixed<PyClassResult> {
            self.0.classes.iter().cloned().map(PyClassResult).collect()
        }

        /// Lamps at or past their limit, those whose age is not known, and those soon there, as in `overdue.csv`.
        ///
        /// The column `list` says which: "at or past the limit", "age not known: treat as due" or "reaches the limit
        /// soon".
        ///
        /// Returns
        /// -------
        /// Table
        ///     List, lamp and place, hours at the last reading, hours past the limit, day, file and line of the row,
        ///     and why an age is not known.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml", draws=20)
        /// >>> overdue = study.run().results.overdue()
        /// >>> overdue.columns[:2]
        /// ['list', 'lamp_class']
        fn overdue(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(overdue(&self.0.overdue)?))
        }

        /// Whether any lamp is at or past its limit, or has to be treated so.
        #[getter]
        fn any_due(&self) -> bool {
            self.0.overdue.any_due()
        }

        /// Lamps for which a claim under their warranty is due, could be due or was filed, as in `claims.csv`; None where
        /// no class of the study has warranty terms.
        #[getter]
        fn claims(&self) -> Option<PyClaimList> {
            self.0.claims.as_ref().map(|c| PyClaimList(c.list.clone()))
        }

        /// Claims to expect in the next year, by lamp class; without the classes of which they are not known.
        #[getter]
        fn claims_ahead(&self) -> BTreeMap<String, PyClaimsAhead> {
            let each = self.0.claims.iter().flat_map(|c| &c.by_class);
            let each = each.filter_map(|c| Some((c.lamp_class.clone(), PyClaimsAhead(c.ahead.as_ref()?.found.clone()))));
            each.collect()
        }

        /// Last buys as declared, by lamp class; without the classes of which no quantity can be told. With costs the
        /// quantity is that of the costs, else that of the risk.
        #[getter]
        fn declared_last_buys(&self) -> BTreeMap<String, PyLastBuy> {
            let each = self.0.last_buys.iter().flat_map(|b| &b.buys);
            let each = each.filter_map(|b| {
                let first = b.scenarios.first()?;
                Some((b.lamp_class.clone(), PyLastBuy(first.found.clone())))
            });
            each.collect()
        }

        /// Last buys before a lamp type ends, as in `last_buys.csv`: a row for each programme of the screens that stop and
        /// each rule that sets a quantity.
        ///
        /// The programme is "declared", "no_stop", "late" or "earlier"; the rule "costs" or "risk".
        ///
        /// Returns
        /// -------
        /// Table
        ///     Class, programme and rule, days, lamps there, lamps needed on average, in all and to order with their price,
        ///     chance and mean of a shortage and of lamps left over, what these cost and bring back, and the mean cost in
        ///     all, in the currency of the study; empty where the study has no last buy.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml", draws=20)
        /// >>> study.run().results.last_buys().columns[:3]
        /// ['lamp_class', 'programme', 'set_by']
        fn last_buys(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(last_buys(self.0.last_buys.as_ref())?))
        }

        /// What the study file declares and is doubtful, as findings; they stand in the ledger too.
        ///
        /// Returns
        /// -------
        /// Table
        ///     With the columns of the ledger; empty where nothing is in doubt.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml", draws=20)
        /// >>> len(study.run().results.doubts())
        /// 0
        fn doubts(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(findings(&self.0.doubts)?))
        }

        /// What to order now and in each coming month, class by class, as in `purchase_plan.csv`.
        ///
        /// Of each class the row `now` comes first, then a row for each month with the order for it.
        ///
        /// Returns
        /// -------
        /// Table
        ///     Class, what it rests on, month, lamps needed, level and lamps by the end of the month, chance that they are
        ///     enough, and the order: the day to order by, lamps and price. Empty for results of before.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml", draws=20)
        /// >>> plan = study.run().results.purchase_plan().frame()
        /// >>> plan["row"].to_list()[:2]
        /// ['now', 'month']
        fn purchase_plan(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(purchase_rows(self.0.purchase_plan.as_ref())?))
        }

        /// What to hold where, what to send and what to buy, by class, depot and site, as in `stock_list.csv`.
        ///
        /// Returns
        /// -------
        /// Table
        ///     Class, what it rests on, kind of place, depot, place, and its lamps. Empty where the study file declares
        ///     neither a depot nor a stock count.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml", draws=20)
        /// >>> stock = study.run().results.stock_list().frame()
        /// >>> sorted(set(stock["kind"]))
        /// ['depot', 'own_store', 'site']
        fn stock_list(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(stock_rows(self.0.stock_list.as_ref())?))
        }

        /// What is doubtful in the stock count of the study, and what was set aside, as findings.
        ///
        /// Returns
        /// -------
        /// Table
        ///     With the columns of the ledger; empty without a stock count.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml", draws=20)
        /// >>> study.run().results.stock_findings().frame()["rule"].to_list()
        /// ['stock.place_unknown']
        fn stock_findings(&self) -> PyResult<frames::Table> {
            let found = self.0.stock_list.as_ref().and_then(|l| l.count.as_ref()).map(|c| c.findings.as_slice());
            Ok(frames::Table(findings(found.unwrap_or_default())?))
        }

        /// Hazards and limits of use that belong beside every figure.
        #[getter]
        fn cautions(&self) -> Fixed<String> {
            Fixed(self.0.cautions.clone())
        }

        /// What the figures take for granted.
        #[getter]
        fn assumptions(&self) -> Fixed<String> {
            Fixed(self.0.assumptions.clone())
        }
    }
}

result_class! {
    /// The answers of a run with the evidence they rest on; made by `Study.run`.
    PyStudyOutput holds StudyOutput as "StudyOutput";
    save |o| saved::save(OUTPUT, o); load |t| saved::load(OUTPUT, t); table |o| class_rows(&o.results.classes);
    show |o| results_facts(&o.results);
    {
        /// The answers.
        #[getter]
        fn results(&self) -> PyStudyResults {
            PyStudyResults(self.0.results.clone())
        }

        /// Every finding, in order of file and line.
        ///
        /// Returns
        /// -------
        /// Table
        ///     File, row, line, column, value, rule, what became of the row, serial, and a sentence.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml", draws=20)
        /// >>> study.run().ledger().columns[:3]
        /// ['file', 'row', 'line']
        fn ledger(&self) -> PyResult<frames::Table> {
            Ok(frames::Table(findings(&self.0.evidence.ledger.findings)?))
        }

        /// Files that went in: (file, size in bytes, SHA-256).
        #[getter]
        fn inputs(&self) -> Fixed<(String, u64, String)> {
            self.0.evidence.inputs.iter().map(|i| (i.file.clone(), i.size_bytes, i.sha256.clone())).collect()
        }

        /// Writes results, ledger, overdue lamps, lives, any extra files and a manifest to a folder, all or nothing.
        ///
        /// Parameters
        /// ----------
        /// folder : str or path
        ///     Made where it is missing, with the folders above it. One that is not empty is refused unless `replace` and an earlier run wrote
        ///     all that is in it.
        /// extra : dict of str to str or bytes, optional
        ///     Files of your own by name.
        /// replace : bool
        ///     Replace what an earlier run wrote.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For an extra file whose name is no plain name of its own.
        /// IoError
        ///     For a folder that holds other files, and if the operating system refuses to write.
        ///
        /// Examples
        /// --------
        /// >>> import os, tempfile, relamp
        /// >>> output = relamp.Study.open("data/demo/study.toml", draws=20).run()
        /// >>> with tempfile.TemporaryDirectory() as folder:
        /// ...     output.write(os.path.join(folder, "out"), extra={"note.txt": "read by us"})
        /// ...     "manifest.json" in os.listdir(os.path.join(folder, "out"))
        /// True
        #[pyo3(signature = (folder, *, extra=None, replace=false))]
        fn write(
            &self,
            py: Python<'_>,
            folder: PathBuf,
            extra: Option<BTreeMap<String, Bound<'_, PyAny>>>,
            replace: bool,
        ) -> PyResult<()> {
            let mut files = Vec::new();
            for (name, content) in extra.unwrap_or_default() {
                let bytes = match content.cast::<PyBytes>() {
                    Ok(bytes) => bytes.as_bytes().to_vec(),
                    Err(_) => content.extract::<String>()?.into_bytes(),
                };
                files.push((name, bytes));
            }
            work(py, None, |_| write(&folder, &self.0, &files, replace))
        }
    }
}

fn declared_classes(s: &Study) -> Result<RecordBatch> {
    let each = || s.declaration().classes.iter();
    let target = |c: &crate::study::LampClass| c.service_target.unwrap_or(s.declaration().chain.service_target);
    Frame::default()
        .texts("name", each().map(|c| &c.name))
        .numbers("limit_hours", each().map(|c| c.limit.hours()))
        .numbers("maker_limit_hours", each().map(|c| c.limit.maker_hours()))
        .numbers("todays_rule_hours", each().map(|c| c.todays_rule_hours))
        .numbers("price", each().map(|c| c.price))
        .numbers("planned_cost", each().map(|c| c.costs.planned()))
        .counts("lead_time_days", each().map(|c| u64::from(c.lead_time_days)))
        .numbers("service_target", each().map(target))
        .counts("on_hand", each().map(|c| c.on_hand))
        .counts("on_order", each().map(|c| c.on_order))
        .finish()
}

fn study_facts(s: &Study) -> Facts {
    let d = s.declaration();
    facts! {
        "name": d.name, "classes": d.classes.iter().map(|c| c.name.as_str()).collect::<Vec<_>>(),
        "file": s.file().display().to_string(), "as_of": d.as_of.to_string(), "currency": d.currency,
        "logs": d.logs.len(), "seed": d.seed, "draws": d.draws, "family": s.options().family,
        "outside_folder": s.options().outside_folder,
    }
}

result_class! {
    /// A study ready to run: one file that declares logs, lamp classes, costs and limits.
    ///
    /// Its table holds the declared lamp classes. Saved and pickled, it keeps the text of the study file as opened, the
    /// path as given, and the options; never the logs, which are read beside that path when it runs.
    PyStudy holds Study as "Study";
    save Study::to_json; load Study::from_json; table declared_classes; show study_facts;
    {
        /// Opens a study file; everything that is wrong with it is reported at once, by line and key.
        ///
        /// Parameters
        /// ----------
        /// path : str or path
        ///     The study file, TOML.
        /// outside_folder : bool
        ///     Lets the paths of logs leave the folder of the file.
        /// draws : int, optional
        ///     Number of draws in place of the declared one, 20 to 100,000.
        /// family : str, optional
        ///     Family for every class in place of the one the records favour; a name that `life` knows.
        ///
        /// Returns
        /// -------
        /// Study
        ///
        /// Raises
        /// ------
        /// FileMissingError
        ///     If there is no such file.
        /// StudyError
        ///     For every key that is missing, unknown or out of range, with its line; beside them what is wrong in the
        ///     files that the study names, as far as it declares them.
        /// InputError
        ///     For an unknown family, and for `draws` that is no whole number.
        ///
        /// Examples
        /// --------
        /// With the demo chain that comes with the source:
        ///
        /// >>> import relamp
        /// >>> relamp.Study.open("data/demo/study.toml").classes[0]
        /// '1.6 kW'
        /// >>> relamp.Study.open("data/demo/study.toml", draws=20, family="weibull").name
        /// 'Demo chain (invented)'
        #[staticmethod]
        #[pyo3(signature = (path, *, outside_folder=false, draws=None, family=None))]
        fn open(
            py: Python<'_>,
            path: PathBuf,
            outside_folder: bool,
            #[pyo3(from_py_with = args::draws)] draws: Option<usize>,
            #[pyo3(from_py_with = args::family_or_none)] family: Option<String>,
        ) -> PyResult<Self> {
            let options = StudyOptions { outside_folder, draws, family };
            Ok(Self(work(py, None, |run| Study::open_or_stop(&path, options, run))?))
        }

        /// Name of the study.
        #[getter]
        fn name(&self) -> &str {
            &self.0.declaration().name
        }

        /// Names of its lamp classes, in the order declared.
        #[getter]
        fn classes(&self) -> Fixed<String> {
            self.0.declaration().classes.iter().map(|c| c.name.clone()).collect()
        }

        /// The study file.
        #[getter]
        fn file(&self) -> PathBuf {
            self.0.file().to_path_buf()
        }

        /// Reads the logs: spells, lives and the ledger that accounts for every row.
        ///
        /// Parameters
        /// ----------
        /// progress : callable, optional
        ///     Told `(done, total)` now and then, and at the end. An exception in it stops the work.
        ///
        /// Returns
        /// -------
        /// Reading
        ///
        /// Raises
        /// ------
        /// RelampError
        ///     For logs that cannot be read as declared: each problem with file, line, column and value.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml", draws=20)
        /// >>> counts = study.read().counts
        /// >>> counts["rows"] == counts["used"] + counts["merged"] + counts["set_aside"]
        /// True
        #[pyo3(signature = (*, progress=None))]
        fn read(&self, py: Python<'_>, progress: Option<&Bound<'_, PyAny>>) -> PyResult<PyReading> {
            Ok(PyReading(work(py, progress, |run| self.0.read(run))?))
        }

        /// What the study file declares and is doubtful, as findings.
        ///
        /// Today these are programme hours or a stop of a site or a screen that no lamp stands in, printed warranty hours
        /// past the limit of use, a planned change that costs less than its lamp, and reasons that count as failures and
        /// look like planned changes: their rows heap at the hour limit or at today's planned age, no reason stands for a
        /// planned change, or a class has one cause alone.
        ///
        /// Parameters
        /// ----------
        /// reading : Reading
        ///     What `read` gave.
        ///
        /// Returns
        /// -------
        /// Table
        ///     With the columns of the ledger; empty where nothing is in doubt.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml")
        /// >>> len(study.doubts(study.read()))
        /// 0
        fn doubts(&self, reading: &PyReading) -> PyResult<frames::Table> {
            Ok(frames::Table(findings(&self.0.doubts(&reading.0))?))
        }

        /// What is doubtful in the stock count of the study, and what was set aside, as findings.
        ///
        /// Parameters
        /// ----------
        /// reading : Reading
        ///     What `read` gave.
        ///
        /// Returns
        /// -------
        /// Table
        ///     With the columns of the ledger; empty without a stock count.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For depots whose sites no row names, and for a count that cannot be read.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml")
        /// >>> study.stock_findings(study.read()).frame()["rule"].to_list()
        /// ['stock.place_unknown']
        fn stock_findings(&self, py: Python<'_>, reading: &PyReading) -> PyResult<frames::Table> {
            let found = work(py, None, |_| self.0.stock_findings(&reading.0))?;
            Ok(frames::Table(findings(&found)?))
        }

        /// The lamps that burn on the as-of date with their ages that day, as every forecast of the study starts from
        /// them.
        ///
        /// Parameters
        /// ----------
        /// reading : Reading
        ///     What `read` gave.
        ///
        /// Returns
        /// -------
        /// Table
        ///     Class, site, screen, serial, `age_hours` (the last reading and the programme hours since; null where not
        ///     known, which counts as due), programme hours a week, day of fitting new, and first and last day on which
        ///     the screen may stop.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml")
        /// >>> study.lamps_today(study.read()).columns[:5]
        /// ['lamp_class', 'site', 'screen', 'serial', 'age_hours']
        fn lamps_today(&self, reading: &PyReading) -> PyResult<frames::Table> {
            let lamps = self.0.lamps_today(&reading.0);
            let each = || lamps.iter();
            let frame = Frame::default()
                .texts("lamp_class", each().map(|l| l.lamp_class.as_str()))
                .texts("site", each().map(|l| l.site.as_str()))
                .texts("screen", each().map(|l| l.screen.as_str()))
                .texts("serial", each().map(|l| l.serial.as_str()))
                .numbers_or_null("age_hours", each().map(|l| l.age_hours))
                .numbers("hours_per_week", each().map(|l| l.hours_per_week))
                .dates("fitted_on", each().map(|l| l.fitted_on))
                .dates("stops_from", each().map(|l| l.stops_from))
                .dates("stops_to", each().map(|l| l.stops_to));
            Ok(frames::Table(frame.finish()?))
        }

        /// Rows of the file of claims that the logs do not bear out, and that a run counts nowhere.
        ///
        /// Parameters
        /// ----------
        /// reading : Reading
        ///     What `read` gave.
        ///
        /// Returns
        /// -------
        /// Table
        ///     File, line, serial, amount paid and why; empty without such a file.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For a file of claims that cannot be read.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml")
        /// >>> len(study.claims_set_aside(study.read()))
        /// 0
        fn claims_set_aside(&self, py: Python<'_>, reading: &PyReading) -> PyResult<frames::Table> {
            let rows = work(py, None, |_| self.0.claims_set_aside(&reading.0))?;
            let each = || rows.iter();
            let frame = Frame::default()
                .texts("file", each().map(|r| r.file.as_str()))
                .counts("line", each().map(|r| r.line))
                .texts("serial", each().map(|r| r.serial.as_str()))
                .numbers_or_null("paid", each().map(|r| r.paid))
                .texts("why", each().map(|r| r.why.as_str()));
            Ok(frames::Table(frame.finish()?))
        }

        /// Every finding that a run would write to `ledger.csv`: those of the reading, and those of the study beyond it,
        /// such as readings too old to say anything of today.
        ///
        /// Parameters
        /// ----------
        /// reading : Reading
        ///     What `read` gave.
        ///
        /// Returns
        /// -------
        /// Table
        ///     File, row, line, column, value, rule, what became of the row, serial, and a sentence.
        ///
        /// Raises
        /// ------
        /// InputError
        ///     For lives that no tally can hold.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml")
        /// >>> reading = study.read()
        /// >>> len(study.ledger(reading)) >= len(reading.ledger())
        /// True
        fn ledger(&self, py: Python<'_>, reading: &PyReading) -> PyResult<frames::Table> {
            let ledger = work(py, None, |_| self.0.ledger(&reading.0))?;
            Ok(frames::Table(findings(&ledger.findings)?))
        }

        /// Whether a run may write to a folder, asked before the work rather than after it.
        ///
        /// Nothing is made and nothing is touched; `StudyOutput.write` asks again.
        ///
        /// Parameters
        /// ----------
        /// folder : str or path
        ///     Where the output is to go.
        /// replace : bool
        ///     Whether what an earlier run wrote there may be replaced.
        ///
        /// Raises
        /// ------
        /// IoError
        ///     For a folder that is not empty, unless `replace` and an earlier run wrote all that is in it, and for a
        ///     name that can be no folder.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> relamp.Study.check_target("not/yet/there")
        /// >>> try:
        /// ...     relamp.Study.check_target("data/demo")
        /// ... except relamp.IoError as error:
        /// ...     print(error.problems[0].what)
        /// the target folder is not empty
        #[staticmethod]
        #[pyo3(signature = (folder, *, replace=false))]
        fn check_target(folder: PathBuf, replace: bool) -> PyResult<()> {
            Ok(check_target(folder, replace)?)
        }

        /// Runs the whole study: the same answers for the same files and options, for any number of threads.
        ///
        /// Parameters
        /// ----------
        /// progress : callable, optional
        ///     Told `(done, total)` now and then, and at the end. The total grows as work is found. An exception in it stops
        ///     the work.
        ///
        /// Returns
        /// -------
        /// StudyOutput
        ///
        /// Raises
        /// ------
        /// RelampError
        ///     For logs that cannot be read as declared, and for a file that went away. A class whose fit is refused is
        ///     no error.
        ///
        /// Examples
        /// --------
        /// >>> import relamp
        /// >>> study = relamp.Study.open("data/demo/study.toml", draws=20)
        /// >>> output = study.run()
        /// >>> len(output.results.classes) == len(study.classes)
        /// True
        #[pyo3(signature = (*, progress=None))]
        fn run(&self, py: Python<'_>, progress: Option<&Bound<'_, PyAny>>) -> PyResult<PyStudyOutput> {
            Ok(PyStudyOutput(work(py, progress, |run| self.0.run(run))?))
        }
    }
}
