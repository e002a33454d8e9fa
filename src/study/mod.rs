//! One declarative file in, every answer for every lamp class out, with an evidence trail.
