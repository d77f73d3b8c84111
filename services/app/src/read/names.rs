//! Whom a name leads to.

use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::writer::{NameOf, Named};
use leadhand_domain::names;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::ShopId;
use uuid::Uuid;

impl App {
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
