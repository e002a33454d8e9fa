//! Adaptive integrals that know where the integrand has kinks.
