//! Use cases: the shop's writer, views, permission table.
