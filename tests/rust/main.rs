//! Integration tests, one module per room.
