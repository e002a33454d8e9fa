//! Lamps shipped beside a file of claims: those that did not claim are known to have worked.

use super::order::from_any_order;
use super::rows::Row;
use super::tally::Tally;
use crate::base::error::{Error, Kind, Place, Problem, Result};
use crate::records::Ending;

impl Tally {
    /// Adds the lamps that a file of claims does not show: of those shipped with each window, the ones that did not claim
    /// are right-censored at its end.
    ///
    /// A row of a file of claims has an `upper`, the age past which its lamp could not have claimed yet: the age of its
    /// lot on the day of the file, or the end of the warranty. Once it is known how many lamps were shipped with that
    /// `upper`, the window no longer hides anything and is dropped. Rows without `upper` stay as they are.
    ///
    /// # Arguments
    /// `upper` and `count`: hours and lamps shipped, one entry a window, `(n,)`. A window without claims may be among them.
    ///
    /// # Errors
    /// `lives.shipped_length`, `lives.shipped_upper` (not finite hours above 0, or twice), `lives.shipped_missing` for an
    /// `upper` of the tally that is not listed, `lives.shipped_fewer` where more lamps claim than were shipped, each by
    /// place; `lives.shipped_entry` for claims with late entry; `lives.shipped_groups` for a tally of more than one group,
    /// since the count does not say which group the others belong to: take a stratum at a time.
    ///
    /// # Examples
    /// ```
    /// use relamp::lives::{Rows, Tally};
    /// let (low, upper) = (vec![210.0, 640.0, 300.0], Some(vec![1000.0, 1000.0, 500.0]));
    /// let (claims, _) = Tally::from_rows(&Rows { high: low.clone(), low, upper, ..Rows::default() })?;
    /// let all = claims.with_shipped(&[1000.0, 500.0], &[40, 25])?;
    /// assert_eq!((all.lamps(), all.failures(), all.upper()), (65, 3, None));
    /// assert_eq!(claims.with_shipped(&[1000.0, 500.0], &[1, 25]).unwrap_err().slug(), "lives.shipped_fewer");
    /// # Ok::<(), relamp::Error>(())
    /// ```
    pub fn with_shipped(&self, upper: &[f64], count: &[u64]) -> Result<Tally> {
        let place = |input: &str, i: usize| Place::input(input).row(i as u64 + 1);
        if upper.len() != count.len() {
            let problem = Problem::new("lives.shipped_length", "one count of lamps shipped for each window is needed")
                .at(Place::input("count"))
                .got(count.len())
                .expected(upper.len().to_string());
            return Err(Error::new(Kind::Input, problem));
        }
        if self.groups.len() > 1 {
            let problem = Problem::new("lives.shipped_groups", "the lamps shipped belong to one group only")
                .at(Place::input("tally"))
                .got(format!("{} groups", self.groups.len()))
                .expected("one group, such as a stratum");
            return Err(Error::new(Kind::Refused, problem));
        }
        let mut problems = Vec::new();
        for (i, u) in upper.iter().enumerate() {
            let twice = upper.iter().take(i).any(|other| other == u);
            if !(*u > 0.0 && *u < f64::INFINITY) || twice {
                problems.push(
                    Problem::new(
                        "lives.shipped_upper",
                        if twice { "a window twice" } else { "not the end of a window" },
                    )
                    .at(place("upper", i))
                    .got(u)
                    .expected("finite hours above 0, each once"),
                );
            }
        }
        let mut left: Vec<u64> = count.to_vec();
        let mut claims = vec![0_u64; count.len()];
        let mut rows: Vec<Row> = Vec::with_capacity(self.rows() + upper.len());
        for (i, mut row) in self.each_row().enumerate() {
            if row.upper < f64::INFINITY {
                if row.entry > 0.0 {
                    problems.push(
                        Problem::new(
                            "lives.shipped_entry",
                            "claims seen only from a later age cannot be set against lamps shipped new",
                        )
                        .at(place("tally", i).column("entry"))
                        .got(row.entry)
                        .expected("0"),
                    );
                }
                match upper.iter().position(|u| *u == row.upper) {
                    Some(k) => {
                        if let (Some(left), Some(claims)) = (left.get_mut(k), claims.get_mut(k)) {
                            *left = left.saturating_sub(row.count);
                            *claims = claims.saturating_add(row.count);
                        }
                    }
                    None => problems.push(
                        Problem::new("lives.shipped_missing", "no lamps shipped are given for this window")
                            .at(place("tally", i).column("upper"))
                            .got(row.upper)
                            .expected("one of the windows listed"),
                    ),
                }
                row.upper = f64::INFINITY;
            }
            rows.push(row);
        }
        for (i, (claims, shipped)) in claims.iter().zip(count).enumerate() {
            if claims > shipped {
                problems.push(
                    Problem::new("lives.shipped_fewer", "more lamps claim than were shipped")
                        .at(place("count", i))
                        .got(shipped)
                        .expected(format!("{claims} or more")),
                );
            }
        }
        if !problems.is_empty() {
            return Err(Error::many(Kind::Input, problems));
        }
        let ending = Ending::Running.code();
        let rest = upper.iter().zip(left).filter(|(_, n)| *n > 0).map(|(&low, count)| Row {
            low,
            high: f64::INFINITY,
            entry: 0.0,
            upper: f64::INFINITY,
            group: 0,
            ending,
            count,
        });
        rows.extend(rest);
        let lives = rows.iter().try_fold(0_u64, |sum, row| sum.checked_add(row.count));
        if lives.is_none_or(|n| n > super::rows::MOST_LIVES) {
            return Err(Error::new(Kind::Input, super::rows::too_many_lives()));
        }
        Ok(from_any_order(rows, self.groups.clone(), &self.covariates))
    }
}
