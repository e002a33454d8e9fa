//! How many spares to hold, where, when to order, what it costs, and how many to buy once and for all.
//!
//! [`level`] takes the distribution of lamps needed over the lead time (from [`crate::demand`]), the wanted chance of no
//! shortage, and what is on hand and on order. [`read_stock_count`] reads what lies where, with its own findings.
//!
//! One shelf: [`service`] judges a rule of ordering ([`StockRule`]) against lamps needed over lead time and review period
//! ([`LeadDemand`]); [`best_reorder`], [`best_order_up_to`] and [`best_emergency`] find the rule of least cost with its
//! cost curve. [`dated_stock`] gives planned changes their dates and holds a safety stock for the rest,
//! [`poisson_shortcut`] says what a Poisson number would have held instead, and [`shelf_age`] how old lamps grow on the
//! shelf.
//!
//! Several places and classes: [`place_service`] judges stock at a depot and its sites, [`pooling`] what one stock for all
//! sites would save, [`class_curve`] and [`best_mix`] share lamps over places and money over classes.
//!
//! Orders ahead: [`purchase_list`] turns lamps needed to the end of coming days into orders with their days and their money.
//!
//! The end of a lamp type: [`last_buy`] takes the screens with the days of their conversion and says how many lamps to buy
//! before it ends, [`last_buy_on_calendar`] with programme hours that follow the calendar. [`used_spares`] tells which used lamps may serve until the next delivery.

mod allocation;
mod best;
mod cost;
mod count_file;
mod counted;
mod dated;
mod dated_calendar;
mod emergency;
mod last_buy;
mod last_buy_calendar;
mod last_buy_earlier;
mod last_buy_input;
mod last_buy_play;
mod last_buy_rule;
mod lead;
mod level;
mod places;
mod places_pool;
mod purchase;
mod purchase_check;
mod review;
mod service;
mod shelf;
mod shortcut;
mod shortfall;
mod two_moments;
mod used_spares;

pub use allocation::{
    BuyStep, ClassCurve, CurvePoint, Goal, Measure, MixPart, StockMix, best_mix, buy_steps, class_curve,
    one_place_curve,
};
pub use best::{StockPlan, best_reorder};
pub use cost::{OrderTerms, PriceBreak, StockCosts, StockPoint};
pub use count_file::{CountRules, read_stock_count};
pub use counted::{OnOrder, OnShelf, StockCount, UsedOnShelf};
pub use dated::{DatedOrder, DatedStock, HoursSpread, dated_stock, dated_stock_over_draws};
pub use dated_calendar::dated_stock_on_calendar;
pub use emergency::{EmergencyPlan, EmergencyPoint, EmergencyService, best_emergency, emergency_service};
pub use last_buy::{BuyPlays, LastBuy, last_buy, last_buy_over_draws};
pub(crate) use last_buy::{FEW_SHORT, last_buys_over_draws};
pub use last_buy_calendar::last_buy_on_calendar;
pub use last_buy_earlier::{EarlierConversion, convert_earlier};
pub use last_buy_input::{ConvertingScreen, DayChance, LastBuyTerms, Reuse};
pub use last_buy_rule::{BuyCosts, BuyPoint, BuyRule, buy_quantity};
pub use lead::{LeadDemand, LeadTime, Needs};
pub use level::{StockAdvice, StockVerdict, level};
pub(crate) use level::{least_for, sentence};
pub use places::{Places, PlacesMethod, PlacesService, Site, SiteService, place_service};
pub use places_pool::{Pooling, pooling};
pub use purchase::{Arrival, NeededBy, PurchaseList, PurchaseOrder, PurchasePeriod, PurchaseTerms, purchase_list};
pub(crate) use purchase::{Until, purchase_list_until, reachable, rounded};
pub use review::best_order_up_to;
pub use service::{Programme, StockRule, StockService, service};
pub use shelf::{ShelfAge, ShelfTerms, shelf_age};
pub use shortcut::{PoissonShortcut, poisson_shortcut};
pub use used_spares::{UsedLamp, UsedSpare, UsedVerdict, used_spares, used_spares_over_draws};
