//! Every derived table as a map by key. The list of tables comes from `facts`, so a new one is
//! kept, compared and tested from the moment it exists.

use crate::compare::json_of;
use crate::fault::{At, Fault};
use crate::packed::Packed;
use leadhand_facts::rows::{self, Row};
use std::collections::BTreeMap;

/// A row type that [`Tables`] keeps.
pub trait Kept: Row<Key: 'static> + 'static {
    /// Its table.
    fn of(tables: &Tables) -> &BTreeMap<Self::Key, Self>;
    /// Its table, to be changed.
    fn of_mut(tables: &mut Tables) -> &mut BTreeMap<Self::Key, Self>;
}

macro_rules! tables {
    ($($row:ident),+) => {
        /// The rows of one shop, table by table.
        #[allow(non_snake_case, reason = "a field is named by its row type, so that the list of tables is written once")]
        #[derive(Debug, Clone, PartialEq, Default)]
        pub struct Tables {
            $($row: BTreeMap<<rows::$row as Row>::Key, rows::$row>,)+
            /// Rows of steps that are not in their table.
            pub(crate) packed: Packed,
        }

        $(impl Kept for rows::$row {
            fn of(tables: &Tables) -> &BTreeMap<Self::Key, Self> {
                &tables.$row
            }

            fn of_mut(tables: &mut Tables) -> &mut BTreeMap<Self::Key, Self> {
                &mut tables.$row
            }
        })+
    };
}
leadhand_facts::each_row!(tables);

impl Tables {
    /// The rows of a table by key.
    pub fn map<R: Kept>(&self) -> &BTreeMap<R::Key, R> {
        R::of(self)
    }

    /// The rows of a table in the order of their keys.
    pub fn rows<R: Kept>(&self) -> impl Iterator<Item = &R> {
        R::of(self).values()
    }

    /// The row with a key.
    pub fn get<R: Kept>(&self, key: &R::Key) -> Option<&R> {
        R::of(self).get(key)
    }

    /// Puts a row in, in place of one with the same key.
    pub fn put<R: Kept>(&mut self, row: R) -> Option<R> {
        R::of_mut(self).insert(row.key(), row)
    }

    /// Takes a row out.
    pub fn remove<R: Kept>(&mut self, key: &R::Key) -> Option<R> {
        R::of_mut(self).remove(key)
    }

    /// Puts in a row that must not be there yet.
    pub(crate) fn add<R: Kept>(&mut self, at: At, row: R) -> Result<(), Fault> {
        let key = row.key();
        at.demand(!R::of(self).contains_key(&key), R::TABLE, || format!("key {} is there already", json_of(&key)))?;
        R::of_mut(self).insert(key, row);
        Ok(())
    }

    /// A row that must be there.
    pub(crate) fn known<R: Kept>(&self, at: At, key: &R::Key) -> Result<&R, Fault> {
        R::of(self).get(key).ok_or_else(|| unknown::<R>(at, key))
    }

    /// A row that must be there, to be changed.
    pub(crate) fn change<R: Kept>(&mut self, at: At, key: &R::Key) -> Result<&mut R, Fault> {
        R::of_mut(self).get_mut(key).ok_or_else(|| unknown::<R>(at, key))
    }
}

fn unknown<R: Kept>(at: At, key: &R::Key) -> Fault {
    at.fault(R::TABLE, format!("key {} is unknown", json_of(key)))
}
