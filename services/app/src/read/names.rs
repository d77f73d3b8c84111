//! Whom a name leads to.

use super::Reading;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::writer::{NameOf, Named};
use leadhand_domain::names;
use leadhand_domain::need::Need;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::{PersonId, ShopId, TextId};
use std::collections::BTreeMap;
use uuid::Uuid;

impl App {
    /// The names of persons who were not forgotten.
    pub async fn names_of(
        &self,
        who: &Principal,
        persons: Vec<PersonId>,
    ) -> Result<BTreeMap<PersonId, String>, AppError> {
        if persons.is_empty() {
            return Ok(BTreeMap::new());
        }
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Shop]).await?;
        let known = persons.into_iter().filter_map(|id| Some((id, reading.state.persons.get(&(id,))?)));
        let named: Vec<(PersonId, TextId)> =
            known.filter(|(_, row)| !row.forgotten).map(|(id, row)| (id, row.name)).collect();
        let words = reading.words(named.iter().map(|(_, name)| *name)).await?;
        Ok(named.into_iter().map(|(id, name)| (id, words.get(Some(name)).to_owned())).collect())
    }

    /// Whom a write gives by name. That it is nobody, or not one alone, counts later, unless it is a repeat.
    pub async fn named(&self, who: &Principal, of: NameOf, field: &str, named: &str) -> Result<Named, AppError> {
        let bearers = match of {
            NameOf::Person => self.persons_called(who, named).await?,
            NameOf::Customer => self.customers_called(who, named).await?,
        };
        Ok(match only(of, field, named, &bearers) {
            Ok(id) => Named { of, id, bearers, unknown: None },
            Err(refusal) => Named { of, id: nobody(who.shop, of, named), bearers, unknown: Some(refusal) },
        })
    }
}

/// The only one of them.
pub(super) fn only(of: NameOf, field: &str, named: &str, found: &[Uuid]) -> Result<Uuid, Refusal> {
    let (what, several, todo) = match of {
        NameOf::Person => ("person", "persons", "`leadhand person list` shows them"),
        NameOf::Customer => ("customer", "customers", "`leadhand customer list` shows them"),
    };
    match found {
        [one] => Ok(*one),
        [] => Err(Refusal::Unknown { what, which: named.to_owned(), todo }),
        _ => {
            let why = format!("{} {several} are called '{named}'; give the id instead", found.len());
            Err(Refusal::invalid(field, why))
        }
    }
}

/// What stands for somebody who is not there; the same for the same name.
pub(crate) fn nobody(shop: ShopId, of: NameOf, named: &str) -> Uuid {
    let folded = names::folded(named);
    match of {
        NameOf::Person => Uuid::new_v5(&shop.0, folded.as_bytes()),
        // Not the person of the same name: one request may name both.
        NameOf::Customer => Uuid::new_v5(&Uuid::new_v5(&shop.0, b"customers"), folded.as_bytes()),
    }
}
