//! Reading lamp logs: planted faults found, nothing lost, nothing turned into a failure.

mod chain;
mod column_cells;
mod column_map;
mod date_order;
mod faults;
mod hard_cases;
mod hostile;
mod rules;
mod tampered;
mod written;
