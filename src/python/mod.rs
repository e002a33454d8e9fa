//! Python bindings: they translate and do nothing else.
