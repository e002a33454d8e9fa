//! Adaptive integrals that know where the integrand has kinks.

use crate::base::error::{Error, Kind, Problem, Result};

/// Pieces after which an integral that still has not settled is refused.
const MOST_PIECES: usize = 4_000;

/// Nodes and weights of the eight-point Gauss rule on (0, 1), exact for polynomials to degree 15.
pub const GAUSS: [(f64, f64); 8] = [
    (0.019_855_071_751_231_856, 0.050_614_268_145_188_13),
    (0.101_666_761_293_186_64, 0.111_190_517_226_687_24),
    (0.237_233_795_041_835_5, 0.156_853_322_938_943_65),
    (0.408_282_678_752_175_1, 0.181_341_891_689_181),
    (0.591_717_321_247_825, 0.181_341_891_689_181),
    (0.762_766_204_958_164_5, 0.156_853_322_938_943_65),
    (0.898_333_238_706_813_4, 0.111_190_517_226_687_24),
    (0.980_144_928_248_768_1, 0.050_614_268_145_188_13),
];

/// Positive nodes of the 15-point Kronrod rule, outermost first; every second one is a node of the 7-point Gauss rule.
const NODES: [f64; 7] = [
    0.991_455_371_120_812_6,
    0.949_107_912_342_758_5,
    0.864_864_423_359_769_1,
    0.741_531_185_599_394_4,
    0.586_087_235_467_691_1,
    0.405_845_151_377_397_2,
    0.207_784_955_007_898_47,
];

/// Kronrod weights of [`NODES`] and, last, of the centre.
const KRONROD: [f64; 8] = [
    0.022_935_322_010_529_224,
    0.063_092_092_629_978_55,
    0.104_790_010_322_250_18,
    0.140_653_259_715_525_92,
    0.169_004_726_639_267_9,
    0.190_350_578_064_785_4,
    0.204_432_940_075_298_9,
    0.209_482_141_084_727_82,
];

/// Gauss weights of the second, fourth and sixth node and, last, of the centre.
const GAUSS_OF_KRONROD: [f64; 4] =
    [0.129_484_966_168_869_7, 0.279_705_391_489_276_7, 0.381_830_050_505_118_9, 0.417_959_183_673_469_4];

/// One piece of the range with its values, error estimates and integrals of the absolute value.
#[derive(Debug)]
struct Piece {
    from: f64,
    to: f64,
    value: Vec<f64>,
    error: Vec<f64>,
    size: Vec<f64>,
}

/// Integral of a function over (from, to); `to` may be infinite.
///
/// # Arguments
/// `kinks`: ascending points at which the range is split; those outside it are ignored.
/// `relative`: tolerance relative to the integral.
///
/// # Errors
/// `base.integral_range` unless `from` is finite and `from <= to`; `base.integral_unsettled` where 4,000 pieces do
/// not reach the tolerance or the function is not finite inside.
///
/// # Source
/// Piessens and others, QUADPACK (1983), 7-15 point Gauss-Kronrod pair and its error estimate.
///
/// # Examples
/// ```
/// let area = relamp::base::math::quadrature::integrate(|x| (-x).exp(), 0.0, f64::INFINITY, &[], 1e-12).unwrap();
/// assert!((area - 1.0).abs() < 1e-11);
/// ```
pub fn integrate(f: impl Fn(f64) -> f64, from: f64, to: f64, kinks: &[f64], relative: f64) -> Result<f64> {
    let values = integrate_many(|x, out| out.fill(f(x)), 1, from, to, kinks, relative)?;
    Ok(values.first().copied().unwrap_or(0.0))
}

/// Integrals of several functions over the same range, each to the tolerance relative to itself.
///
/// # Arguments
/// `f` fills one value for each of the `width` functions; the rest as in [`integrate`].
///
/// # Errors
/// As [`integrate`].
pub fn integrate_many(
    f: impl Fn(f64, &mut [f64]),
    width: usize,
    from: f64,
    to: f64,
    kinks: &[f64],
    relative: f64,
) -> Result<Vec<f64>> {
    if !from.is_finite() || to.is_nan() || to < from {
        let problem = Problem::new("base.integral_range", "an integral needs a finite lower end below its upper end")
            .got(format!("({from}, {to})"));
        return Err(Error::new(Kind::Domain, problem));
    }
    if from == to {
        return Ok(vec![0.0; width]);
    }
    let inside = kinks.iter().copied().filter(|k| *k > from && *k < to);
    if to.is_finite() {
        return adaptive(&f, width, from, to, inside, relative);
    }
    // x = from + scale u / (1 - u) takes (from, infinity) to (0, 1); the scale puts the middle at a natural age.
    let scale = if from > 0.0 { from } else { kinks.last().copied().filter(|k| *k > 0.0).unwrap_or(1.0) };
    let mapped = |u: f64, out: &mut [f64]| {
        let rest = 1.0 - u;
        f(from + scale * u / rest, out);
        for o in out {
            *o = if *o == 0.0 { 0.0 } else { *o * scale / (rest * rest) };
        }
    };
    adaptive(&mapped, width, 0.0, 1.0, inside.map(|k| (k - from) / (k - from + scale)), relative)
}

fn adaptive(
    f: &impl Fn(f64, &mut [f64]),
    width: usize,
    from: f64,
    to: f64,
    kinks: impl Iterator<Item = f64>,
    relative: f64,
) -> Result<Vec<f64>> {
    let mut pieces = Vec::new();
    let mut start = from;
    for end in kinks.chain([to]) {
        if end > start {
            pieces.push(piece(f, width, start, end));
            start = end;
        }
    }
    loop {
        let total = |pick: fn(&Piece) -> &Vec<f64>, k: usize| -> f64 {
            pieces.iter().map(|p| pick(p).get(k).copied().unwrap_or(f64::NAN)).sum()
        };
        let mut open = false;
        // What each function may be wrong by: the tolerance, or what rounding leaves anyway.
        let mut allowed = Vec::with_capacity(width);
        let mut values = Vec::with_capacity(width);
        for k in 0..width {
            let (value, error, size) = (total(|p| &p.value, k), total(|p| &p.error, k), total(|p| &p.size, k));
            let bound = (relative * value.abs()).max(50.0 * f64::EPSILON * size).max(f64::MIN_POSITIVE);
            open |= error.is_nan() || error > bound;
            allowed.push(bound);
            values.push(value);
        }
        if !open {
            return Ok(values);
        }
        let worst = |p: &Piece| -> f64 {
            let share = p.error.iter().zip(&allowed).map(|(e, a)| if e.is_nan() { f64::INFINITY } else { e / a });
            share.fold(0.0, f64::max)
        };
        let mut pick = 0;
        let mut most = -1.0;
        for (i, p) in pieces.iter().enumerate() {
            let w = worst(p);
            if w > most {
                (pick, most) = (i, w);
            }
        }
        let split = pieces.get(pick).map(|p| (p.from, p.from + 0.5 * (p.to - p.from), p.to));
        let Some((a, middle, b)) = split else { return Err(unsettled(from, to)) };
        if pieces.len() >= MOST_PIECES || middle <= a || middle >= b {
            return Err(unsettled(from, to));
        }
        if let Some(p) = pieces.get_mut(pick) {
            *p = piece(f, width, a, middle);
        }
        pieces.push(piece(f, width, middle, b));
    }
}

fn unsettled(from: f64, to: f64) -> Error {
    let problem = Problem::new("base.integral_unsettled", "an integral did not settle to its tolerance")
        .got(format!("range ({from}, {to})"));
    Error::new(Kind::Refused, problem)
}

/// The 7-15 point pair on one piece.
fn piece(f: &impl Fn(f64, &mut [f64]), width: usize, from: f64, to: f64) -> Piece {
    let half = 0.5 * (to - from);
    let centre = from + half;
    let mut values: Vec<(f64, Option<f64>, Vec<f64>)> = Vec::with_capacity(15);
    let mut add = |x: f64, kronrod: f64, gauss: Option<f64>| {
        let mut out = vec![0.0; width];
        f(x, &mut out);
        values.push((kronrod, gauss, out));
    };
    add(centre, KRONROD[7], Some(GAUSS_OF_KRONROD[3]));
    for (j, (node, weight)) in NODES.iter().zip(KRONROD).enumerate() {
        let gauss = if j % 2 == 1 { GAUSS_OF_KRONROD.get(j / 2).copied() } else { None };
        add(centre - half * node, weight, gauss);
        add(centre + half * node, weight, gauss);
    }
    let mut done = Piece { from, to, value: vec![0.0; width], error: vec![0.0; width], size: vec![0.0; width] };
    for k in 0..width {
        let at = |v: &Vec<f64>| v.get(k).copied().unwrap_or(f64::NAN);
        let (mut kronrod, mut gauss, mut size) = (0.0, 0.0, 0.0);
        for (wk, wg, v) in &values {
            let y = at(v);
            kronrod += wk * y;
            gauss += wg.unwrap_or(0.0) * y;
            size += wk * y.abs();
        }
        let mean = 0.5 * kronrod;
        let spread: f64 = values.iter().map(|(wk, _, v)| wk * (at(v) - mean).abs()).sum();
        let mut error = (kronrod - gauss).abs();
        if spread > 0.0 && error > 0.0 {
            error = spread * (200.0 * error / spread).powf(1.5).min(1.0);
        }
        for (column, number) in [(&mut done.value, kronrod), (&mut done.error, error), (&mut done.size, size)] {
            if let Some(c) = column.get_mut(k) {
                *c = number * half;
            }
        }
    }
    done
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_is_exact_for_polynomials_to_degree_22() {
        // A 15-point Kronrod rule integrates degree 3 * 7 + 1 = 22 exactly; so wrong digits in a node would show.
        for degree in 0..=22 {
            let p = piece(&|x: f64, out: &mut [f64]| out.fill(x.powi(degree)), 1, -1.0, 1.0);
            let exact = if degree % 2 == 0 { 2.0 / f64::from(degree + 1) } else { 0.0 };
            assert!((p.value[0] - exact).abs() < 4e-16, "degree {degree}: {} {exact}", p.value[0]);
        }
    }

    #[test]
    fn the_eight_point_rule_is_exact_to_degree_15() {
        for degree in 0..=15 {
            let sum: f64 = GAUSS.iter().map(|(x, w)| w * x.powi(degree)).sum();
            assert!((sum * f64::from(degree + 1) - 1.0).abs() < 4e-15, "degree {degree}: {sum}");
        }
    }

    #[test]
    fn known_integrals_come_out() {
        let half_pi = integrate(|x| 1.0 / (1.0 + x * x), 0.0, f64::INFINITY, &[], 1e-13).unwrap();
        assert!((half_pi - std::f64::consts::FRAC_PI_2).abs() < 1e-12);
        let root = integrate(|x| 1.0 / x.sqrt(), 0.0, 1.0, &[], 1e-11).unwrap();
        assert!((root - 2.0).abs() < 1e-9);
        let step = integrate(|x| if x < 0.3 { 1.0 } else { 0.25 }, 0.0, 1.0, &[0.3], 1e-14).unwrap();
        assert!((step - 0.475).abs() < 1e-15);
        let both = integrate_many(|x, out| (out[0], out[1]) = (x, x.exp()), 2, 0.0, 1.0, &[], 1e-13).unwrap();
        assert!((both[0] - 0.5).abs() < 1e-15 && (both[1] - (1_f64.exp() - 1.0)).abs() < 1e-14);
        assert_eq!(integrate(|_| 1.0, 2.0, 2.0, &[], 1e-9).unwrap(), 0.0);
    }

    #[test]
    fn what_diverges_or_is_not_finite_is_refused() {
        assert_eq!(integrate(|x| 1.0 / x, 0.0, 1.0, &[], 1e-9).unwrap_err().slug(), "base.integral_unsettled");
        assert_eq!(integrate(|_| f64::NAN, 0.0, 1.0, &[], 1e-9).unwrap_err().slug(), "base.integral_unsettled");
        assert_eq!(integrate(|x| x, 1.0, 0.0, &[], 1e-9).unwrap_err().slug(), "base.integral_range");
    }
}
