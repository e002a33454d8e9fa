//! Last buys as a file that a buyer opens.

use chrono::{Days, NaiveDate};

use super::last_buy_result::{BuyQuantity, BuyScenario, LastBuyResult, LastBuysResult};
use crate::base::spreadsheet::{Cell, Sheet, whole};

/// One line of the table: a last buy under one programme by one rule.
#[derive(Clone, Copy, Debug)]
pub(crate) struct BuyRow<'a> {
    pub(crate) buy: &'a LastBuyResult,
    pub(crate) scenario: &'a BuyScenario,
    /// What sets the quantity: `costs` or `risk`.
    pub(crate) set_by: &'static str,
    pub(crate) quantity: &'a BuyQuantity,
}

impl BuyRow<'_> {
    /// Day until which lamps are needed: where the last stop is the end, later for stops that come late.
    pub(crate) fn until(&self) -> Option<NaiveDate> {
        let declared = self.buy.scenarios.first().map_or(0.0, |s| s.found.terms.end_days);
        let more = (self.scenario.found.terms.end_days - declared).max(0.0).round() as u64;
        self.buy.needed_until.and_then(|day| day.checked_add_days(Days::new(more)))
    }
}

impl LastBuysResult {
    /// Each last buy by programme and rule, as `last_buys.csv` has them.
    pub(crate) fn rows(&self) -> Vec<BuyRow<'_>> {
        let mut rows = Vec::new();
        for buy in &self.buys {
            for scenario in &buy.scenarios {
                for (set_by, quantity) in [("costs", &scenario.by_costs), ("risk", &scenario.by_risk)] {
                    rows.extend(quantity.as_ref().map(|quantity| BuyRow { buy, scenario, set_by, quantity }));
                }
            }
        }
        rows
    }
}

/// `last_buys.csv`.
pub(super) fn last_buys_csv(page: &LastBuysResult) -> String {
    let mut table = Sheet::new(&[
        "lamp_class",
        "programme",
        "set_by",
        "last_order_on",
        "needed_until",
        "burning_lamps",
        "on_hand_lamps",
        "on_order_lamps",
        "mean_needed_lamps",
        "quantity_lamps",
        "buy_lamps",
        "buy_price",
        "shortage_chance",
        "mean_short_lamps",
        "leftover_chance",
        "mean_left_lamps",
        "left_price",
        "left_money_back",
        "mean_cost",
        "least_buy_lamps",
        "order_serves_lamps",
        "on_order_later_lamps",
        "held_lamps",
    ]);
    // Money as people write it; the exact figures stay in `results.json`.
    let money = |x: f64| Cell::Number((x * 100.0).round() / 100.0 + 0.0);
    for row in page.rows() {
        let (buy, quantity, held) = (row.buy, row.quantity, &row.quantity.held);
        let until = row.until().map(|d| d.to_string()).unwrap_or_default();
        table.row(&[
            Cell::Text(&buy.lamp_class),
            Cell::Text(row.scenario.programme.as_str()),
            Cell::Text(row.set_by),
            Cell::Text(&buy.last_order_on.to_string()),
            Cell::Text(&until),
            whole(row.scenario.found.screens as u64),
            whole(buy.on_hand_lamps),
            whole(buy.on_order_lamps),
            Cell::Number(row.scenario.mean_lamps),
            whole(quantity.quantity_lamps),
            whole(quantity.buy_lamps),
            money(quantity.buy_price),
            Cell::Number(held.shortage_chance),
            Cell::Number(held.expected_short),
            Cell::Number(held.leftover_chance),
            Cell::Number(held.expected_left),
            money(quantity.left_price),
            money(quantity.left_money_back),
            held.cost.map_or(Cell::Blank, money),
            whole(quantity.least_buy_lamps.unwrap_or(quantity.buy_lamps)),
            quantity.order_serves_lamps.map_or(Cell::Blank, whole),
            whole(buy.later_lamps()),
            whole(held.lamps),
        ]);
    }
    table.finish()
}
