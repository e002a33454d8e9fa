//! The five lamp classes: what is printed on them, what they cost, and how they truly end.
//!
//! Hours, prices and shares are assumptions inside the ranges the trade reports in public; there is no
//! published split of lamp endings, so every cause below is invented.

use crate::{CleanTruth, Ending, Mode, Options};

/// One true cause: reliability exp(-factor x (age / scale)^shape).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cause {
    /// What it is recorded as.
    pub ending: Ending,
    /// Weibull shape.
    pub shape: f64,
    /// Weibull scale in hours.
    pub scale: f64,
    /// Factor on the hazard of lamps of the weak batch.
    pub weak_batch: f64,
    /// Factor on the hazard at the site with poor cooling.
    pub poor_cooling: f64,
}

impl Cause {
    /// Cumulative hazard at an age, before factors.
    pub fn cumulative_hazard(&self, age: f64) -> f64 {
        (age / self.scale).powf(self.shape)
    }
}

/// One lamp class.
#[derive(Clone, Debug, PartialEq)]
pub struct LampClass {
    /// Name in the study.
    pub name: &'static str,
    /// Other words for it in the logs.
    pub also_called: [&'static str; 2],
    /// Printed warranty hours, here called the rated hours.
    pub rated: f64,
    /// Printed average life, if any.
    pub average: Option<f64>,
    /// Printed limit of use, if any.
    pub maximum: Option<f64>,
    /// Price of a lamp.
    pub price: f64,
    /// Lead time in days.
    pub lead_days: u32,
    /// On hand and on order.
    pub stock: (u32, u32),
    /// True causes.
    pub causes: Vec<Cause>,
}

struct Printed {
    name: &'static str,
    also_called: [&'static str; 2],
    rated: f64,
    average: Option<f64>,
    maximum: Option<f64>,
    price: f64,
    lead_days: u32,
    stock: (u32, u32),
    /// Cumulative hazard at the rated hours: burst, seal, no strike, flicker, dim.
    at_rated: [f64; 5],
    /// Shapes in the same order: early seal failures with a falling hazard, the others wear out.
    shapes: [f64; 5],
}

const PRINTED: [Printed; 5] = [
    Printed {
        name: "1.6 kW",
        also_called: ["Type 16", "1600 W"],
        rated: 2_400.0,
        average: Some(2_700.0),
        maximum: Some(3_000.0),
        price: 620.0,
        lead_days: 14,
        stock: (9, 6),
        at_rated: [0.010, 0.005, 0.035, 0.050, 0.120],
        shapes: [3.0, 0.55, 3.0, 2.6, 4.5],
    },
    Printed {
        name: "2.0 kW",
        also_called: ["Type 20", "2000 W"],
        rated: 2_000.0,
        average: Some(2_400.0),
        maximum: Some(2_500.0),
        price: 780.0,
        lead_days: 21,
        stock: (14, 10),
        at_rated: [0.012, 0.006, 0.040, 0.060, 0.130],
        shapes: [3.2, 0.50, 3.2, 2.5, 5.0],
    },
    Printed {
        name: "3.0 kW",
        also_called: ["Type 30", "3000 W"],
        rated: 1_600.0,
        average: Some(1_900.0),
        maximum: None,
        price: 1_050.0,
        lead_days: 28,
        stock: (10, 8),
        at_rated: [0.018, 0.007, 0.050, 0.070, 0.140],
        shapes: [3.4, 0.55, 3.0, 2.8, 4.5],
    },
    Printed {
        name: "4.0 kW",
        also_called: ["Type 40", "4000 W"],
        rated: 1_200.0,
        average: None,
        maximum: Some(1_500.0),
        price: 1_420.0,
        lead_days: 35,
        stock: (8, 6),
        at_rated: [0.022, 0.008, 0.050, 0.075, 0.150],
        shapes: [3.5, 0.60, 3.4, 2.6, 4.0],
    },
    Printed {
        name: "6.5 kW",
        also_called: ["Type 65", "6500 W"],
        rated: 700.0,
        average: None,
        maximum: Some(900.0),
        price: 2_150.0,
        lead_days: 42,
        stock: (7, 6),
        at_rated: [0.030, 0.009, 0.060, 0.080, 0.160],
        shapes: [3.0, 0.60, 3.0, 2.4, 4.0],
    },
];

/// The causes in the order of the tables above.
pub const CAUSES: [Ending; 5] = [Ending::Burst, Ending::Seal, Ending::NoStrike, Ending::Flicker, Ending::Dim];

const WEAK_BATCH: [f64; 5] = [1.0, 80.0, 4.0, 1.0, 1.0];
const POOR_COOLING: [f64; 5] = [1.5, 1.0, 1.0, 2.5, 3.0];

/// The classes of a chain with these options.
pub fn classes(options: &Options) -> Vec<LampClass> {
    PRINTED
        .iter()
        .take(options.classes.max(1))
        .map(|p| LampClass {
            name: p.name,
            also_called: p.also_called,
            rated: p.rated,
            average: p.average,
            maximum: p.maximum,
            price: p.price,
            lead_days: p.lead_days,
            stock: p.stock,
            causes: causes(p, options.mode),
        })
        .collect()
}

fn causes(printed: &Printed, mode: Mode) -> Vec<Cause> {
    if let Mode::Clean(CleanTruth::OneWeibull { shape, scale_over_rated }) = mode {
        let scale = scale_over_rated * printed.rated;
        return vec![Cause { ending: Ending::Dim, shape, scale, weak_batch: 1.0, poor_cooling: 1.0 }];
    }
    let full = mode == Mode::Full;
    (0..5)
        .map(|i| Cause {
            ending: CAUSES[i],
            shape: printed.shapes[i],
            scale: printed.rated / printed.at_rated[i].powf(1.0 / printed.shapes[i]),
            weak_batch: if full { WEAK_BATCH[i] } else { 1.0 },
            poor_cooling: if full { POOR_COOLING[i] } else { 1.0 },
        })
        .collect()
}
