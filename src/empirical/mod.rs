//! Curves without a family: reliability, cumulative hazard, incidence by cause.
