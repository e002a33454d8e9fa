//! Names of families as people write them.

/// A code of a family, such as `weibull`, as a sentence or a chart writes it.
///
/// Codes are what files and calls hold; names of people get their capital letter. Text that is no code of a family comes
/// back with spaces in place of underscores.
///
/// # Examples
/// ```
/// use relamp::family::in_words;
/// assert_eq!(in_words("weibull"), "Weibull");
/// assert_eq!(in_words("lognormal"), "lognormal");
/// assert_eq!(in_words("log_logistic"), "log-logistic");
/// assert_eq!(in_words("inverse_gaussian"), "inverse Gaussian");
/// assert_eq!(in_words("birnbaum_saunders"), "Birnbaum-Saunders");
/// assert_eq!(in_words("weibull_failure_free"), "Weibull with a failure-free time");
/// assert_eq!(in_words("piecewise_constant(500, 1000)"), "piecewise-constant (500, 1000)");
/// assert_eq!(in_words("above_zero(normal)"), "above zero (normal)");
/// ```
#[must_use]
pub fn in_words(code: &str) -> String {
    let mut text = code.replace('_', " ").replace('(', " (").replace("  (", " (");
    for (plain, written) in WRITTEN {
        text = text.replace(plain, written);
    }
    text.trim_start().to_owned()
}

const WRITTEN: [(&str, &str); 8] = [
    ("weibull", "Weibull"),
    (" failure free", " with a failure-free time"),
    ("piecewise constant", "piecewise-constant"),
    ("gaussian", "Gaussian"),
    ("gompertz", "Gompertz"),
    ("log logistic", "log-logistic"),
    ("birnbaum", "Birnbaum"),
    (" saunders", "-Saunders"),
];
