//! What every test binary shares.
