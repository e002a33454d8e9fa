//! Integration tests, one module per room.

mod study;
