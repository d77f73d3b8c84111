//! Independent proofs over facts and rows.
