//! The rules of the house, checked from outside.
