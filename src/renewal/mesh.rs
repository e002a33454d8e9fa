//! Functions of time panel by panel, their convolution with the lives, and the renewal equation.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use super::basis::Basis;
use super::blocks::{Block, Reach, Rule};
use super::spread::Spread;
use crate::base::error::{Error, Kind, Problem, Result};

/// Values this small are left out of sums.
const NOTHING: f64 = 1e-40;

type Rules = BTreeMap<(bool, [usize; 3]), Rc<Rule>>;

/// Both kinds of panels, and the rules made for them so far: they hold for every width.
#[derive(Debug)]
pub(super) struct Bases {
    pub(super) plain: Basis,
    pub(super) start: Basis,
    /// By whether it reaches the next panel, and the kinds of kernel, source and target: 0 plain, 1 start.
    rules: RefCell<Rules>,
}

impl Bases {
    /// For lives whose failure probability starts with this power of time.
    pub(super) fn new(exponent: f64) -> Self {
        Self { plain: Basis::plain(), start: Basis::start(exponent), rules: RefCell::default() }
    }

    fn rule(&self, next: bool, kinds: [usize; 3]) -> Rc<Rule> {
        let basis = |kind: usize| if kind == 0 { &self.plain } else { &self.start };
        let [kernel, source, target] = kinds.map(basis);
        let reach = if next { Reach::Next } else { Reach::Same };
        let mut rules = self.rules.borrow_mut();
        rules.entry((next, kinds)).or_insert_with(|| Rc::new(Rule::new(kernel, source, target, reach))).clone()
    }
}

/// Panels of equal width. At the start of panel 0, and of every `period`-th where there is a planned age, lamps are new.
#[derive(Debug)]
pub(super) struct Mesh {
    pub(super) width_hours: f64,
    pub(super) period: Option<usize>,
    pub(super) bases: Rc<Bases>,
}

/// A function: values at the nodes of each panel.
pub(super) type Panels = Vec<Vec<f64>>;

impl Mesh {
    /// Whether lamps are new at the start of the panel.
    pub(super) fn starts(&self, panel: usize) -> bool {
        self.period.map_or(panel == 0, |m| panel.is_multiple_of(m))
    }

    pub(super) fn basis(&self, panel: usize) -> &Basis {
        if self.starts(panel) { &self.bases.start } else { &self.bases.plain }
    }

    /// A function by its value at a panel and a time in it, hours.
    pub(super) fn panels(&self, count: usize, f: impl Fn(usize, f64) -> f64) -> Panels {
        let one = |k: usize| {
            let places = self.basis(k).places();
            places.into_iter().map(|y| f(k, (k as f64 + y) * self.width_hours)).collect()
        };
        (0..count).map(one).collect()
    }

    /// Panel of a time and the share of it that has passed; a time within rounding of an edge stands on the edge.
    pub(super) fn place(&self, hours: f64) -> (usize, f64) {
        let x = (hours / self.width_hours).max(0.0);
        let edge = x.round();
        if (x - edge).abs() <= 1e-12 * edge { (edge as usize, 0.0) } else { (x.floor() as usize, x - x.floor()) }
    }

    /// The function at a time, hours; none past its end.
    pub(super) fn value(&self, f: &Panels, hours: f64) -> Option<f64> {
        let (panel, share) = self.place(hours);
        match f.get(panel) {
            Some(values) => Some(self.basis(panel).value(values, share)),
            // The very end belongs to the last panel.
            None if share == 0.0 && panel == f.len() => f.last().and_then(|v| v.last().copied()),
            None => None,
        }
    }
}

/// Matrices of one panel of the kernel, by the kind of the source and of the target.
#[derive(Debug, Default)]
struct Links {
    same: [[Option<Block>; 2]; 2],
    next: [[Option<Block>; 2]; 2],
}

/// The distribution of the hours from a change to the next, ready for convolution.
#[derive(Debug)]
pub(super) struct Kernel<'m> {
    mesh: &'m Mesh,
    links: Vec<Option<Links>>,
    /// Chance that a lamp reaches the planned age, a whole period after its start.
    atom: f64,
    /// Greatest miss of the panels from the failure probability between their nodes.
    pub(super) miss: f64,
}

impl<'m> Kernel<'m> {
    /// The kernel up to `count` panels, or the planned age, or where all lamps that fail have failed.
    pub(super) fn new(mesh: &'m Mesh, spread: &Spread, count: usize) -> Self {
        let atom = if mesh.period.is_some() { spread.reach_plan } else { 0.0 };
        let count = mesh.period.map_or(count, |m| m.min(count));
        let periodic = mesh.period.is_some();
        let mut miss = 0.0_f64;
        let mut links = Vec::with_capacity(count);
        for k in 0..count {
            let from = k as f64 * mesh.width_hours;
            let base = if k == 0 { 0.0 } else { from };
            let rise = |y: f64| spread.between(base, from + y * mesh.width_hours);
            if spread.left(from) < NOTHING {
                break;
            }
            if rise(1.0) < NOTHING {
                links.push(None);
                continue;
            }
            let basis = mesh.basis(k);
            let values: Vec<f64> = basis.places().into_iter().map(rise).collect();
            for y in [0.031, 0.27, 0.62, 0.94] {
                miss = miss.max((basis.value(&values, y) - rise(y)).abs());
            }
            let kernel = usize::from(mesh.starts(k));
            let mut link = Links::default();
            for source in [0, 1] {
                if source == 0 && mesh.period == Some(1) {
                    continue;
                }
                for (reach, blocks) in [(0, &mut link.same), (1, &mut link.next)] {
                    // From a start panel the target is known; from a plain one it may be either where starts come back.
                    let on_start = source == 1 && mesh.starts(k + reach);
                    let targets = match (source, on_start) {
                        (1, true) => 1..2,
                        (1, false) => 0..1,
                        _ => 0..if periodic { 2 } else { 1 },
                    };
                    for target in targets {
                        let rule = mesh.bases.rule(reach == 1, [kernel, source, target]);
                        blocks[source][target] = Some(rule.block(&values));
                    }
                }
            }
            links.push(Some(link));
        }
        Self { mesh, links, atom, miss }
    }

    /// The same without lamps that reach the planned age: a screen that has had one is out of the count.
    pub(super) fn without_plan(self) -> Self {
        Self { atom: 0.0, ..self }
    }

    /// Adds what a source panel gives to a target panel through all kernel panels.
    fn pull(&self, f: &Panels, target: usize, out: &mut [f64], with_itself: bool) {
        let to = usize::from(self.mesh.starts(target));
        for (k, link) in self.links.iter().enumerate() {
            let Some(link) = link else { continue };
            for (reach, blocks) in [(0, &link.same), (1, &link.next)] {
                let Some(source) = target.checked_sub(k + reach) else { continue };
                if source == target && !with_itself {
                    continue;
                }
                let Some(values) = f.get(source) else { continue };
                let kind = usize::from(self.mesh.starts(source));
                if let Some(block) = &blocks[kind][to] {
                    block.add(values, out);
                }
            }
        }
    }

    fn pull_atom(&self, f: &Panels, target: usize, out: &mut [f64]) {
        let source = self.mesh.period.and_then(|m| target.checked_sub(m)).and_then(|s| f.get(s));
        if let Some(values) = source {
            out.iter_mut().zip(values).for_each(|(o, v)| *o += self.atom * v);
        }
    }

    /// The function after one more life that ends by failure, over its first `count` panels.
    pub(super) fn after_failure(&self, f: &Panels, count: usize) -> Panels {
        // Sources next to nothing are empty, which costs nothing.
        let live = |values: &Vec<f64>| if values.iter().any(|v| *v > NOTHING) { values.clone() } else { Vec::new() };
        let sources: Panels = f.iter().map(live).collect();
        let one = |panel: usize| {
            let mut out = vec![0.0; self.mesh.basis(panel).len()];
            self.pull(&sources, panel, &mut out, true);
            // Rounding of what is next to nothing may fall below 0.
            for x in &mut out {
                *x = x.max(0.0);
            }
            out
        };
        (0..count.min(f.len())).map(one).collect()
    }

    /// Panels that a convolution of a function meets, for a bound on the work.
    pub(super) fn pairs(&self, f: &Panels) -> usize {
        let live = f.iter().filter(|values| values.iter().any(|v| *v > NOTHING)).count();
        live * self.links.iter().filter(|l| l.is_some()).count().min(f.len())
    }

    /// The function after one more life, from what it is after one that ends by failure.
    pub(super) fn add_planned(&self, f: &Panels, after_failure: &mut Panels) {
        for (panel, out) in after_failure.iter_mut().enumerate() {
            self.pull_atom(f, panel, out);
        }
    }

    /// Solves `x = given + x after one more life`, several at once, panel after panel, until `stop` says so.
    ///
    /// `given(panel, node, found)` gives one value for each function; `found` holds those solved before it at the node.
    pub(super) fn solve<const N: usize>(
        &self,
        count: usize,
        given: impl Fn(usize, usize, f64, &[f64]) -> f64,
        mut stop: impl FnMut(usize, &[Panels; N]) -> bool,
    ) -> Result<[Panels; N]> {
        let own = self.links.first().and_then(Option::as_ref);
        let resolvent = |kind: usize| match own.and_then(|l| l.same[kind][kind].as_ref()) {
            Some(block) => block.resolvent().map(Some).ok_or_else(unsolved),
            None => Ok(None),
        };
        let resolvents = [resolvent(0)?, resolvent(1)?];
        let mut all: [Panels; N] = std::array::from_fn(|_| Vec::with_capacity(count));
        for panel in 0..count {
            let basis = self.mesh.basis(panel);
            let places = basis.places();
            let mut found: Vec<Vec<f64>> = vec![Vec::with_capacity(N); places.len()];
            for (which, f) in all.iter_mut().enumerate() {
                let mut out: Vec<f64> = places
                    .iter()
                    .zip(&found)
                    .map(|(y, before)| given(which, panel, (panel as f64 + y) * self.mesh.width_hours, before))
                    .collect();
                self.pull(f, panel, &mut out, false);
                self.pull_atom(f, panel, &mut out);
                if let Some(block) = &resolvents[usize::from(self.mesh.starts(panel))] {
                    let mut solved = vec![0.0; out.len()];
                    block.add(&out, &mut solved);
                    out = solved;
                }
                found.iter_mut().zip(&out).for_each(|(row, x)| row.push(*x));
                f.push(out);
            }
            if stop(panel, &all) {
                break;
            }
        }
        Ok(all)
    }
}

fn unsolved() -> Error {
    let problem = Problem::new("renewal.unsolved", "the renewal equation has no solution on this grid");
    Error::new(Kind::Refused, problem)
}
