//! The rules of the house, checked from outside. Outside source: common practice; the direction of dependencies is the
//! map in DEVELOPERS.md.

mod changelog;
mod contract;
mod corrections;
mod dependencies;
mod documents;
mod layout;
mod migrations;
mod operation;
mod permissions;
mod tree;
mod vectors;
