//! What one play of a chain adds up to.

/// Figures of a place that are added up over its time.
pub(super) const WAITING: usize = 0;
pub(super) const NONE_WAITS: usize = 1;
pub(super) const READY: usize = 2;
pub(super) const ON_HAND: usize = 3;
pub(super) const ON_ORDER: usize = 4;
pub(super) const HOLDING: usize = 5;
pub(super) const TIMES: usize = 6;

/// Figures of a place that are counted.
pub(super) const ASKED: usize = 0;
pub(super) const MET: usize = 1;
pub(super) const DARK_HOURS: usize = 2;
pub(super) const ELSEWHERE: usize = 3;
pub(super) const COUNTS: usize = 4;

/// Figures of a month.
pub(super) const NEEDED: usize = 0;
pub(super) const PLANNED: usize = 1;
pub(super) const FAILED: usize = 2;
pub(super) const MONTH_DARK: usize = 3;
pub(super) const ORDERED: usize = 4;
pub(super) const MONTH_ELSEWHERE: usize = 5;
pub(super) const OF_MONTH: usize = 6;

/// Figures of the orders.
pub(super) const ORDERS: usize = 0;
pub(super) const LAMPS: usize = 1;
pub(super) const PRICE: usize = 2;
pub(super) const CYCLES: usize = 3;
pub(super) const CALM: usize = 4;
pub(super) const OF_ORDERS: usize = 5;

/// Time at one place, added up from the warm-up to the end.
#[derive(Clone, Debug)]
pub(super) struct Meter {
    from: f64,
    end: f64,
    last: f64,
    /// Screens that are dark and wait for a lamp of the place.
    pub(super) dark: u64,
    pub(super) sums: [f64; TIMES],
}

impl Meter {
    pub(super) fn new(from: f64, end: f64) -> Self {
        Self { from, end, last: 0.0, dark: 0, sums: [0.0; TIMES] }
    }

    /// The place was like this since the last look; `passed` is told from when to when.
    pub(super) fn to(
        &mut self,
        day: f64,
        on_hand: u64,
        owed: u64,
        on_order: u64,
        holding_a_year: f64,
        passed: impl FnOnce(f64, f64),
    ) {
        let now = day.min(self.end);
        if now <= self.last {
            return;
        }
        passed(self.last, now);
        let days = (now - self.last.max(self.from)).max(0.0);
        self.last = now;
        let waiting = self.dark + owed;
        let hand = on_hand as f64;
        let sure = |holds: bool| if holds { days } else { 0.0 };
        let more = [
            days * waiting as f64,
            sure(waiting == 0),
            sure(on_hand > 0),
            days * hand,
            days * on_order as f64,
            days * hand * holding_a_year,
        ];
        for (sum, more) in self.sums.iter_mut().zip(more) {
            *sum += more;
        }
    }
}

/// One play.
#[derive(Clone, Debug)]
pub(super) struct Played {
    pub(super) months: Vec<[f64; OF_MONTH]>,
    pub(super) on_hand_at_ends: Vec<f64>,
    pub(super) places: Vec<[f64; COUNTS]>,
    pub(super) meters: Vec<Meter>,
    pub(super) orders: [f64; OF_ORDERS],
    /// Whether a lamp was ever asked for in vain.
    pub(super) short: bool,
}

fn add(list: &mut [f64], at: usize, more: f64) {
    if let Some(sum) = list.get_mut(at) {
        *sum += more;
    }
}

impl Played {
    pub(super) fn new(months: usize, places: usize) -> Self {
        Self {
            months: vec![[0.0; OF_MONTH]; months],
            on_hand_at_ends: vec![0.0; months],
            places: vec![[0.0; COUNTS]; places],
            meters: Vec::new(),
            orders: [0.0; OF_ORDERS],
            short: false,
        }
    }

    fn month(&mut self, month: usize, at: usize, more: f64) {
        if let Some(row) = self.months.get_mut(month) {
            add(row, at, more);
        }
    }

    fn place(&mut self, place: usize, at: usize, more: f64) {
        if let Some(row) = self.places.get_mut(place) {
            add(row, at, more);
        }
    }

    pub(super) fn need(&mut self, month: usize, failed: bool) {
        self.month(month, NEEDED, 1.0);
        self.month(month, if failed { FAILED } else { PLANNED }, 1.0);
    }

    pub(super) fn asked(&mut self, place: usize, met: bool, measured: bool) {
        if measured {
            self.place(place, ASKED, 1.0);
            self.place(place, MET, f64::from(u8::from(met)));
        }
    }

    pub(super) fn emergency(&mut self, month: usize, place: usize, measured: bool) {
        self.month(month, MONTH_ELSEWHERE, 1.0);
        self.short = true;
        if measured {
            self.place(place, ELSEWHERE, 1.0);
        }
    }

    pub(super) fn dark(&mut self, month: usize, hours: f64) {
        self.month(month, MONTH_DARK, hours);
    }

    pub(super) fn dark_at(&mut self, place: usize, hours: f64) {
        self.place(place, DARK_HOURS, hours);
    }

    pub(super) fn order(&mut self, month: usize, lamps: u64, price: f64, measured: bool) {
        self.month(month, ORDERED, lamps as f64);
        if measured {
            add(&mut self.orders, ORDERS, 1.0);
            add(&mut self.orders, LAMPS, lamps as f64);
            add(&mut self.orders, PRICE, price);
        }
    }

    pub(super) fn cycle(&mut self, calm: bool) {
        add(&mut self.orders, CYCLES, 1.0);
        add(&mut self.orders, CALM, f64::from(u8::from(calm)));
    }
}
