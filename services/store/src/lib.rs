//! All SQL: journal, heads, rows, row-level security.
