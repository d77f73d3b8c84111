//! The shop, its persons, its calendar and its tokens.

use super::Reading;
use super::names::only;
use crate::App;
use crate::access::Principal;
use crate::error::AppError;
use crate::words::Words;
use crate::writer::NameOf;
use leadhand_domain::look;
use leadhand_domain::names;
use leadhand_domain::need::Need;
use leadhand_domain::plan::hours::own_hours;
use leadhand_domain::state::State;
use leadhand_facts::calendar::CalendarChange;
use leadhand_facts::rows::{BayRow, CalendarRow, PersonRow, ProofRow, ShopRow, TokenRow};
use leadhand_facts::words::Role;
use leadhand_facts::{Instant, PersonId, ShopId, TextId, Window};
use std::collections::BTreeMap;
use uuid::Uuid;

/// The shop with its bays and persons.
#[derive(Debug, Clone)]
pub struct ShopView {
    /// Its id.
    pub id: ShopId,
    /// The shop.
    pub shop: ShopRow,
    /// Bays by key.
    pub bays: Vec<BayRow>,
    /// Persons in the order in which they were added.
    pub persons: Vec<PersonRow>,
    /// The words they refer to.
    pub words: Words,
    /// The journal number at which this is true.
    pub number: i64,
    /// The database's clock.
    pub now: Instant,
}

/// Hours or a shift.
#[derive(Debug, Clone)]
pub struct Calendar {
    /// What was said, oldest first.
    pub statements: Vec<CalendarRow>,
    /// The windows that follow, in order.
    pub windows: Vec<Window>,
    /// The words that the statements refer to.
    pub words: Words,
}

/// Tokens, oldest first.
#[derive(Debug, Clone)]
pub struct TokenPage {
    /// The tokens.
    pub tokens: Vec<TokenRow>,
    /// Names of persons and labels of devices, by token.
    pub names: Vec<Option<TextId>>,
    /// The words they refer to.
    pub words: Words,
    /// The number of the last fact of a full page: more may follow.
    pub next: Option<i64>,
    /// The database's clock, which tells what has expired.
    pub now: Instant,
}

impl App {
    /// The shop with its bays and persons.
    pub async fn shop(&self, who: &Principal) -> Result<ShopView, AppError> {
        self.shop_of(who.shop).await
    }

    async fn shop_of(&self, id: ShopId) -> Result<ShopView, AppError> {
        let mut reading = Reading::begin(self, id).await?;
        reading.load(&[Need::Shop]).await?;
        let state = &reading.state;
        let shop = look::shop(state)?.clone();
        let mut persons: Vec<PersonRow> = state.persons.iter().cloned().collect();
        persons.sort_by_key(|person| person.added_n);
        let bays = state.bays.iter().cloned().collect();
        let texts: Vec<TextId> = persons.iter().map(|person| person.name).chain(std::iter::once(shop.name)).collect();
        let (number, now) = (state.head, reading.now());
        let words = reading.words(texts).await?;
        Ok(ShopView { id, shop, bays, persons, words, number, now })
    }

    /// What those may do who can sign in at a device, by PIN or badge the greater of both.
    pub async fn roles(&self, who: &Principal) -> Result<BTreeMap<PersonId, Role>, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Shop, Need::Tokens]).await?;
        let mut roles: BTreeMap<PersonId, Role> = BTreeMap::new();
        for proof in reading.state.proofs.iter().filter(|proof| proof.withdrawn_at.is_none()) {
            let role = roles.entry(proof.person).or_insert(proof.role);
            // A lead comes first in the list of roles.
            *role = (*role).min(proof.role);
        }
        reading.snapshot.end().await?;
        Ok(roles)
    }

    /// For an operator: the persons of a shop, and its tokens, oldest first.
    pub(crate) async fn leads(&self, shop: ShopId) -> Result<(ShopView, Vec<TokenRow>), AppError> {
        let view = self.shop_of(shop).await?;
        let mut reading = Reading::begin(self, shop).await?;
        reading.load(&[Need::Tokens]).await?;
        let mut tokens: Vec<TokenRow> = reading.state.tokens.iter().cloned().collect();
        tokens.sort_by_key(|token| token.issued_n);
        reading.snapshot.end().await?;
        Ok((view, tokens))
    }

    /// A sentence with names in the place of persons' ids.
    pub(crate) async fn names_in(&self, who: &Principal, sentence: &str) -> Result<String, AppError> {
        let shop = self.shop(who).await?;
        Ok(shop.persons.iter().fold(sentence.to_owned(), |said, person| {
            let name = match shop.words.get(Some(person.name)) {
                "" => "somebody who was forgotten",
                name => name,
            };
            said.replace(&person.person.to_string(), name)
        }))
    }

    /// A person by id or by name.
    pub async fn person(&self, who: &Principal, field: &str, named: &str) -> Result<PersonId, AppError> {
        if let Ok(id) = Uuid::try_parse(named) {
            return Ok(PersonId(id));
        }
        let found = self.persons_called(who, named).await?;
        Ok(PersonId(only(NameOf::Person, field, named, &found)?))
    }

    /// All who work here and have this name.
    pub(super) async fn persons_called(&self, who: &Principal, named: &str) -> Result<Vec<Uuid>, AppError> {
        let shop = self.shop(who).await?;
        let wanted = names::folded(named);
        let is_meant =
            |person: &&PersonRow| !person.forgotten && names::folded(shop.words.get(Some(person.name))) == wanted;
        Ok(shop.persons.iter().filter(is_meant).map(|person| person.person.0).collect())
    }

    /// The shop's hours, or a person's shift, between two moments.
    pub async fn calendar(
        &self,
        who: &Principal,
        person: Option<PersonId>,
        from_at: Option<Instant>,
        until_at: Option<Instant>,
    ) -> Result<Calendar, AppError> {
        const SHOWN_DAYS: i64 = 14;
        let mut reading = Reading::begin(self, who.shop).await?;
        let from = from_at.unwrap_or(reading.now());
        let asked = Window { from, until: until_at.unwrap_or(from.plus_minutes(SHOWN_DAYS * 24 * 60)) };
        let shift = person.map(|person| Need::ShiftWindows(person, from));
        reading.load(&[Need::Shop, Need::OpenWindows(from)]).await?;
        reading.load(&shift.into_iter().collect::<Vec<_>>()).await?;
        let state = &reading.state;
        let open: Vec<Window> =
            state.open_windows.iter().map(|row| Window { from: row.from_at, until: row.until_at }).collect();
        let all = match person {
            None => open,
            Some(person) => shift_of(state, person, &open),
        };
        let windows = all.into_iter().filter(|window| window.meets(asked)).collect();
        let statements: Vec<CalendarRow> = state.calendar.iter().filter(|row| row.person == person).cloned().collect();
        let texts: Vec<TextId> = statements.iter().filter_map(reason).collect();
        let words = reading.words(texts).await?;
        Ok(Calendar { statements, windows, words })
    }

    /// Tokens after this fact, oldest first.
    pub async fn tokens(&self, who: &Principal, after: i64, size: usize) -> Result<TokenPage, AppError> {
        let mut reading = Reading::begin(self, who.shop).await?;
        reading.load(&[Need::Shop, Need::Tokens]).await?;
        let mut tokens: Vec<TokenRow> =
            reading.state.tokens.iter().filter(|token| token.issued_n > after).cloned().collect();
        tokens.sort_by_key(|token| token.issued_n);
        tokens.truncate(size);
        let next = (tokens.len() == size).then(|| tokens.last().map(|token| token.issued_n)).flatten();
        let named = |token: &TokenRow| {
            let person = token.person.and_then(|person| reading.state.persons.get(&(person,)));
            person.map(|person| person.name).or(token.label)
        };
        let names: Vec<Option<TextId>> = tokens.iter().map(named).collect();
        let texts: Vec<TextId> = names.iter().copied().flatten().collect();
        let now = reading.now();
        let words = reading.words(texts).await?;
        Ok(TokenPage { tokens, names, words, next, now })
    }
}

/// A person's shift while the shop is open; as it was said in a shop that never said its hours.
fn shift_of(state: &State, person: PersonId, open: &[Window]) -> Vec<Window> {
    let said = |row: &CalendarRow| matches!(row.change, CalendarChange::Hours { .. });
    if state.calendar.iter().any(said) {
        return own_hours(state, person, open).unwrap_or_default();
    }
    let own = state.shift_windows.iter().filter(|row| row.person == person);
    own.map(|row| Window { from: row.from_at, until: row.until_at }).collect()
}

/// A proof that counts, with the slow hash of a PIN.
pub(crate) struct Standing {
    pub(crate) row: ProofRow,
    pub(crate) secret: Option<String>,
}

impl App {
    /// The first proof that counts and is the one looked for.
    pub(crate) async fn standing(
        &self,
        shop: ShopId,
        which: impl Fn(&ProofRow) -> bool,
    ) -> Result<Option<Standing>, AppError> {
        let mut reading = Reading::begin(self, shop).await?;
        reading.load(&[Need::Shop, Need::Tokens]).await?;
        let state = &reading.state;
        let counts = |row: &&ProofRow| {
            let person = state.persons.get(&(row.person,)).is_some_and(|person| !person.forgotten);
            row.withdrawn_at.is_none() && person && which(row)
        };
        let row = state.proofs.iter().find(counts).cloned();
        let words = reading.words(row.iter().filter_map(|row| row.secret)).await?;
        Ok(row.map(|row| {
            let secret = row.secret.map(|secret| words.get(Some(secret)).to_owned());
            Standing { row, secret }
        }))
    }
}

/// The reason that was given with a statement.
pub(crate) fn reason(row: &CalendarRow) -> Option<TextId> {
    match &row.change {
        CalendarChange::Day { reason, .. } => reason.as_ref().map(|text| text.id),
        _ => None,
    }
}
