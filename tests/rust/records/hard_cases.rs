//! Cases on which readers of tables are known to stumble; each names its own source.
