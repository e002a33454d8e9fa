//! What every result class shares: one line, summary, HTML, saved form, pickle, equality, a table.

use std::fs;
use std::io;
use std::path::Path;

use crate::Result;
use crate::base::error::{Error, Kind, Place, Problem};

fn io_error(slug: &'static str, what: &str, path: &Path, source: io::Error) -> Error {
    let place = Place::input(path.display().to_string());
    Error::new(Kind::Io, Problem::new(slug, what).at(place).got(&source)).with_source(source)
}

/// Writes through a sibling that is renamed, so that a reader never meets half a file. A link is followed to its file;
/// what is no plain file, such as a device or a pipe, is left alone.
pub(super) fn write(path: &Path, text: &str) -> Result<()> {
    let target = fs::canonicalize(path).ok();
    let path = target.as_deref().unwrap_or(path);
    if target.is_some() && !path.is_file() {
        let place = Place::input(path.display().to_string());
        let problem = Problem::new("python.not_a_file", "there is something else than a plain file").at(place);
        return Err(Error::new(Kind::Io, problem.expected("a new name, or a file to replace")));
    }
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!(".{}.part", std::process::id()));
    let sibling = path.with_file_name(name);
    let outcome = fs::write(&sibling, text).and_then(|()| fs::rename(&sibling, path));
    outcome.map_err(|e| {
        // The half-written sibling is of no use; that it cannot be removed adds nothing to the first error.
        let _ = fs::remove_file(&sibling);
        io_error("python.unwritable", "cannot be written", path, e)
    })
}

/// Reads a saved form.
pub(super) fn read(path: &Path) -> Result<String> {
    fs::read_to_string(path).map_err(|e| io_error("python.unreadable", "cannot be read", path, e))
}

/// Makes a frozen Python class over a core result. `save` and `load` turn the core type into its saved form and back,
/// `table` makes its main table, `show` what is worth reading of it, `html` its HTML where that is more than `show`.
macro_rules! result_class {
    (
        $(#[$meta:meta])*
        $class:ident holds $core:ty as $name:literal;
        save $save:expr; load $load:expr; table $table:expr; show $show:expr;
        { $($methods:tt)* }
    ) => {
        $crate::python::result::result_class! {
            $(#[$meta])*
            $class holds $core as $name;
            save $save; load $load; table $table; show $show;
            html |r| {
                let show: fn(&$core) -> $crate::python::show::Facts = $show;
                $crate::python::show::html($name, &show(r))
            };
            { $($methods)* }
        }
    };
    (
        $(#[$meta:meta])*
        $class:ident holds $core:ty as $name:literal;
        save $save:expr; load $load:expr; table $table:expr; show $show:expr; html $html:expr;
        { $($methods:tt)* }
    ) => {
        $(#[$meta])*
        #[pyo3::pyclass(frozen, module = "relamp", name = $name)]
        #[derive(Debug)]
        pub(in crate::python) struct $class(pub(in crate::python) $core);

        #[pyo3::pymethods]
        impl $class {
            fn __repr__(&self) -> String {
                let show: fn(&$core) -> $crate::python::show::Facts = $show;
                $crate::python::show::line($name, &show(&self.0))
            }

            fn __str__(&self) -> String {
                self.summary()
            }

            /// The result as text, one entry a line.
            ///
            /// Returns
            /// -------
            /// str
            ///
            /// Examples
            /// --------
            /// For one; every result has it:
            ///
            /// >>> import relamp
            /// >>> costs = relamp.costs(950.0, burst=5200.0)
            /// >>> print(costs.summary())
            /// Costs
            ///   planned  950
            ///   burst    5200
            fn summary(&self) -> String {
                let show: fn(&$core) -> $crate::python::show::Facts = $show;
                $crate::python::show::summary($name, &show(&self.0))
            }

            fn _repr_html_(&self) -> String {
                let html: fn(&$core) -> String = $html;
                html(&self.0)
            }

            /// The saved form: JSON with a format name and version.
            ///
            /// Returns
            /// -------
            /// str
            ///
            /// Examples
            /// --------
            /// For one; every result has it:
            ///
            /// >>> import relamp
            /// >>> costs = relamp.costs(950.0, burst=5200.0)
            /// >>> relamp.Costs.from_json(costs.to_json()) == costs
            /// True
            fn to_json(&self) -> pyo3::PyResult<String> {
                let save: fn(&$core) -> $crate::Result<String> = $save;
                Ok(save(&self.0)?)
            }

            /// What is saved, as plain dicts, lists, texts and numbers.
            ///
            /// Returns
            /// -------
            /// dict or list
            ///
            /// Examples
            /// --------
            /// For one; every result has it:
            ///
            /// >>> import relamp
            /// >>> costs = relamp.costs(950.0, burst=5200.0)
            /// >>> costs.to_dict()
            /// {'planned': 950.0, 'by_ending': {'burst': 5200.0}}
            fn to_dict<'py>(&self, py: pyo3::Python<'py>) -> pyo3::PyResult<pyo3::Bound<'py, pyo3::PyAny>> {
                use pyo3::types::PyAnyMethods as _;
                py.import("json")?.call_method1("loads", (self.to_json()?,))?.get_item("body")
            }

            /// Reads the saved form back, to equal bits, and checks it.
            ///
            /// Parameters
            /// ----------
            /// text : str
            ///     What `to_json` gave.
            ///
            /// Returns
            /// -------
            /// Self
            ///     An object of this class.
            ///
            /// Raises
            /// ------
            /// InputError
            ///     For text that is not the saved form of this class, or was made by a later version; for every field
            ///     that breaks a rule, such as an age past its limit.
            ///
            /// Examples
            /// --------
            /// For one; every result has it:
            ///
            /// >>> import relamp
            /// >>> costs = relamp.costs(950.0, burst=5200.0)
            /// >>> relamp.Costs.from_json(costs.to_json()).planned
            /// 950.0
            #[classmethod]
            fn from_json(_cls: &pyo3::Bound<'_, pyo3::types::PyType>, #[pyo3(from_py_with = $crate::python::intake::arguments::text)] text: &str) -> pyo3::PyResult<Self> {
                let load: fn(&str) -> $crate::Result<$core> = $load;
                Ok(Self(load(text)?))
            }

            /// Writes the saved form to a file, all or nothing.
            ///
            /// Parameters
            /// ----------
            /// path : str or path
            ///     The file; one that is there is replaced.
            ///
            /// Raises
            /// ------
            /// IoError
            ///     If the operating system refuses to write.
            ///
            /// Examples
            /// --------
            /// For one; every result has it:
            ///
            /// >>> import os, tempfile, relamp
            /// >>> with tempfile.TemporaryDirectory() as folder:
            /// ...     path = os.path.join(folder, "costs.json")
            /// ...     relamp.costs(950.0, burst=5200.0).save(path)
            /// ...     relamp.Costs.load(path).planned
            /// 950.0
            fn save(&self, path: std::path::PathBuf) -> pyo3::PyResult<()> {
                Ok($crate::python::result::write(&path, &self.to_json()?)?)
            }

            /// Reads a saved file back, to equal bits, and checks it.
            ///
            /// Parameters
            /// ----------
            /// path : str or path
            ///     What `save` wrote.
            ///
            /// Returns
            /// -------
            /// Self
            ///     An object of this class.
            ///
            /// Raises
            /// ------
            /// FileMissingError
            ///     If there is no such file.
            /// IoError
            ///     If the operating system refuses to read.
            /// InputError
            ///     As for `from_json`.
            ///
            /// Examples
            /// --------
            /// For one; every result has it:
            ///
            /// >>> import os, tempfile, relamp
            /// >>> with tempfile.TemporaryDirectory() as folder:
            /// ...     path = os.path.join(folder, "costs.json")
            /// ...     relamp.costs(950.0, burst=5200.0).save(path)
            /// ...     relamp.Costs.load(path).failure("burst")
            /// 5200.0
            #[classmethod]
            fn load(_cls: &pyo3::Bound<'_, pyo3::types::PyType>, path: std::path::PathBuf) -> pyo3::PyResult<Self> {
                let load: fn(&str) -> $crate::Result<$core> = $load;
                Ok(Self(load(&$crate::python::result::read(&path)?)?))
            }

            fn __reduce__<'py>(
                slf: &pyo3::Bound<'py, Self>,
            ) -> pyo3::PyResult<(pyo3::Bound<'py, pyo3::PyAny>, (String,))> {
                Ok((slf.get_type().getattr("from_json")?, (slf.get().to_json()?,)))
            }

            fn __eq__<'py>(&self, other: &pyo3::Bound<'py, pyo3::PyAny>) -> pyo3::Bound<'py, pyo3::PyAny> {
                let py = other.py();
                other.cast::<Self>().map_or_else(
                    |_| py.NotImplemented().into_bound(py),
                    |other| pyo3::types::PyBool::new(py, self.0 == other.get().0).to_owned().into_any(),
                )
            }

            /// The main table of the result.
            ///
            /// Returns
            /// -------
            /// Table
            ///     It hands itself to polars, pandas and pyarrow without a copy.
            ///
            /// Examples
            /// --------
            /// For one; every result has it:
            ///
            /// >>> import relamp
            /// >>> costs = relamp.costs(950.0, burst=5200.0)
            /// >>> costs.table().columns
            /// ['ending', 'cost']
            fn table(&self) -> pyo3::PyResult<$crate::python::frames::Table> {
                let table: fn(&$core) -> $crate::Result<arrow_array::RecordBatch> = $table;
                Ok($crate::python::frames::Table(table(&self.0)?))
            }

            /// The main table as a polars frame.
            ///
            /// Returns
            /// -------
            /// polars.DataFrame
            ///
            /// Examples
            /// --------
            /// For one; every result has it:
            ///
            /// >>> import relamp
            /// >>> costs = relamp.costs(950.0, burst=5200.0)
            /// >>> costs.frame()["cost"].to_list()
            /// [950.0, 5200.0]
            fn frame<'py>(&self, py: pyo3::Python<'py>) -> pyo3::PyResult<pyo3::Bound<'py, pyo3::PyAny>> {
                $crate::python::frames::polars(py, self.table()?.0)
            }

            #[pyo3(signature = (requested_schema=None))]
            fn __arrow_c_stream__<'py>(
                &self,
                py: pyo3::Python<'py>,
                requested_schema: Option<pyo3::Bound<'py, pyo3::types::PyCapsule>>,
            ) -> pyo3::PyResult<pyo3::Bound<'py, pyo3::types::PyCapsule>> {
                $crate::python::frames::stream(py, self.table()?.0, requested_schema)
            }

            $($methods)*
        }
    };
}

pub(super) use result_class;
