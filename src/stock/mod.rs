//! How many spares to hold for a service target over a lead time.
