//! Tokens that are replaced, and persons who sign in at devices by badge code or PIN.
//!
//! A PIN is hashed slowly, so that whoever reads the database has to try each one; that happens off
//! the threads that serve calls, a few at a time. A badge code is 80 random bits, which nobody tries.

use crate::App;
use crate::access::{Principal, SESSION, TOKEN, new_secret, token_hash};
use crate::chance::random_id;
use crate::error::AppError;
use crate::read::{Standing, nobody};
use crate::writer::{NameOf, Outcome, Write};
use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use leadhand_domain::command::{RotateToken, SetBadge, SetPin, SignIn, SignOut};
use leadhand_domain::decide::check_pin;
use leadhand_domain::refusal::Refusal;
use leadhand_facts::rows::ProofRow;
use leadhand_facts::words::{ProofKind, Role};
use leadhand_facts::{Instant, PersonId, ShopId, TokenId};
use leadhand_store::{Tried, Trying};

/// Wrong tries of one person, and at one device, within the window.
const PERSON_TRIES: i32 = 5;
const DEVICE_TRIES: i32 = 10;
/// The window, in minutes.
const WINDOW: i32 = 15;
/// Letters and digits of a badge code: Crockford's base 32, which leaves out what is mistaken for another.
const SYMBOLS: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
/// Bytes of a badge code.
const BADGE_BYTES: usize = 10;

/// What a person shows at a device.
pub enum Shows {
    /// A name or an id, and a PIN.
    Pin {
        /// Who.
        person: String,
        /// The PIN.
        pin: String,
    },
    /// A badge code, as it was scanned or typed.
    Badge(String),
}

/// Someone whose proof was found right.
struct Proved {
    person: PersonId,
    proof: ProofKind,
    proof_n: i64,
}

impl App {
    /// Puts a new token in the place of one, of the caller when none is named. Its secret is returned
    /// this once; a repeat of the request gets none.
    pub async fn rotate_token(
        &self,
        who: &Principal,
        write: Write,
        token: Option<TokenId>,
        overlap_minutes: i64,
        expires_at: Option<Instant>,
    ) -> Result<(Outcome, Option<String>), AppError> {
        let token = token.unwrap_or(who.token);
        // Only a lead replaces what is not in the caller's hand; a session is nobody's to replace.
        if who.role != Role::Lead && (token != who.token || who.device.is_some()) {
            return Err(Refusal::LeadOnly { what: "replace another's token" }.into());
        }
        let (secret, prefix) = new_secret(&*self.entropy, TOKEN);
        let new = TokenId(random_id(&*self.entropy));
        let hash = token_hash(&secret);
        let rotate = RotateToken { token, new, prefix, hash, overlap_minutes, expires_at };
        let outcome = self.execute(who, write, rotate).await?;
        let secret = (!outcome.repeated).then_some(secret);
        Ok((outcome, secret))
    }

    /// Makes a new badge code for a person. It is returned this once; a repeat of the request gets none.
    pub async fn set_badge(
        &self,
        who: &Principal,
        write: Write,
        person: PersonId,
        role: Role,
    ) -> Result<(Outcome, Option<String>), AppError> {
        let mut bytes = [0; BADGE_BYTES];
        self.entropy.fill(&mut bytes);
        let code = badge_code(bytes);
        let hash = token_hash(&plain_code(&code).unwrap_or_default());
        let outcome = self.execute(who, write, SetBadge { person, role, hash }).await?;
        let code = (!outcome.repeated).then_some(code);
        Ok((outcome, code))
    }

    /// Sets a person's PIN, and forgets that it was tried.
    pub async fn set_pin(
        &self,
        who: &Principal,
        write: Write,
        person: PersonId,
        role: Role,
        pin: String,
    ) -> Result<Outcome, AppError> {
        check_pin(&pin)?;
        let mut salt = [0; 16];
        self.entropy.fill(&mut salt);
        let secret = self.slowly(move || slow_hash(&pin, &salt)).await??;
        let outcome = self.execute(who, write, SetPin { person, role, secret }).await?;
        self.store.forgive_tries(who.shop, None, person.0).await?;
        Ok(outcome)
    }

    /// Begins a session of a person at the device that calls. Its secret is returned this once.
    pub async fn sign_in(
        &self,
        who: &Principal,
        write: Write,
        shows: Shows,
        minutes: i64,
    ) -> Result<(Outcome, Option<String>), AppError> {
        if who.device.is_some() || who.person.is_some() {
            return Err(Refusal::NotADevice {}.into());
        }
        let Some(proved) = self.prove(who, shows).await? else { return Err(AppError::SignInRefused) };
        let Proved { person, proof, proof_n } = proved;
        let (secret, prefix) = new_secret(&*self.entropy, SESSION);
        let (session, hash) = (TokenId(random_id(&*self.entropy)), token_hash(&secret));
        let device = who.token;
        let begin = SignIn { session, device, person, proof, proof_n, prefix, hash, minutes };
        let outcome = self.execute(who, write, begin).await?;
        let secret = (!outcome.repeated).then_some(secret);
        Ok((outcome, secret))
    }

    /// Ends the session that calls.
    pub async fn sign_out(&self, who: &Principal, write: Write) -> Result<Outcome, AppError> {
        if who.device.is_none() {
            return Err(Refusal::NotSignedIn {}.into());
        }
        self.execute(who, write, SignOut { session: who.token }).await
    }

    /// Counts the try, then looks whether what was shown is right. Somebody unknown, somebody without a
    /// PIN and a wrong PIN take the same way.
    async fn prove(&self, who: &Principal, shows: Shows) -> Result<Option<Proved>, AppError> {
        let device = Trying { who: who.token.0, most: DEVICE_TRIES };
        match shows {
            Shows::Badge(code) => {
                let at = self.count(who.shop, &[device]).await?;
                let hash = plain_code(&code).map(|code| token_hash(&code));
                let found = self.standing(who.shop, |row| row.hash.is_some() && row.hash == hash).await?;
                let Some(Standing { row, .. }) = found else { return Ok(None) };
                self.store.forgive_tries(who.shop, Some((who.token.0, at)), row.person.0).await?;
                Ok(Some(Proved { person: row.person, proof: ProofKind::Badge, proof_n: row.set_n }))
            }
            Shows::Pin { person, pin } => {
                // Tries for somebody unknown are counted all the same.
                let named = self.person_meant(who, &person).await?;
                let person = named.map_or_else(|| nobody(who.shop, NameOf::Person, &person), |person| person.0);
                let at = self.count(who.shop, &[device, Trying { who: person, most: PERSON_TRIES }]).await?;
                let is_theirs = |row: &ProofRow| row.proof == ProofKind::Pin && row.person.0 == person;
                let found = self.standing(who.shop, is_theirs).await?;
                let (row, secret) = found.map_or((None, None), |found| (Some(found.row), found.secret));
                let right = self.slowly(move || compare(&pin, secret.as_deref())).await?;
                let Some(row) = row.filter(|_| right) else { return Ok(None) };
                self.store.forgive_tries(who.shop, Some((who.token.0, at)), person).await?;
                Ok(Some(Proved { person: row.person, proof: ProofKind::Pin, proof_n: row.set_n }))
            }
        }
    }

    async fn person_meant(&self, who: &Principal, named: &str) -> Result<Option<PersonId>, AppError> {
        match self.person(who, "person", named).await {
            Ok(person) => Ok(Some(person)),
            Err(AppError::Refused { .. }) => Ok(None),
            Err(error) => Err(error),
        }
    }

    async fn count(&self, shop: ShopId, all: &[Trying]) -> Result<Instant, AppError> {
        match self.store.count_try(shop, all, WINDOW).await? {
            Tried::Counted(at) => Ok(at),
            Tried::TooMany(wait) => {
                metrics::counter!("leadhand_sign_ins_refused_total").increment(1);
                Err(AppError::TooManyTries { wait })
            }
        }
    }

    /// Does what takes long off the threads that serve calls, a few at a time.
    async fn slowly<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, AppError> {
        let _place = self.hashing.acquire().await.map_err(|_| AppError::Stopping)?;
        tokio::task::spawn_blocking(work).await.map_err(|error| AppError::Internal(error.to_string()))
    }
}

fn slow_hash(pin: &str, salt: &[u8; 16]) -> Result<String, AppError> {
    let hashed = Argon2::default().hash_password_with_salt(pin.as_bytes(), salt);
    hashed.map(|hash| hash.to_string()).map_err(|error| AppError::Internal(format!("a PIN can't be hashed: {error}")))
}

/// Whether a PIN is the one of this slow hash. Without a hash the same work is done for nothing.
fn compare(pin: &str, secret: Option<&str>) -> bool {
    if let Some(known) = secret.and_then(|secret| PasswordHash::new(secret).ok()) {
        return Argon2::default().verify_password(pin.as_bytes(), &known).is_ok();
    }
    let _ = slow_hash(pin, &[0; 16]);
    false
}

/// A code in groups of four, to be read aloud and typed.
fn badge_code(bytes: [u8; BADGE_BYTES]) -> String {
    let whole = bytes.iter().fold(0_u128, |whole, byte| whole << 8 | u128::from(*byte));
    let symbols: Vec<u8> = (0..16).rev().map(|at| SYMBOLS[usize::from((whole >> (5 * at) & 31) as u8)]).collect();
    let groups: Vec<&str> = symbols.chunks(4).filter_map(|group| std::str::from_utf8(group).ok()).collect();
    groups.join("-")
}

/// A code as it was meant: case, hyphens and blanks do not matter, O is 0, and I and L are 1.
/// Nothing when it can be none.
fn plain_code(typed: &str) -> Option<String> {
    let mut plain = String::new();
    for letter in typed.chars().filter(|letter| !letter.is_whitespace() && *letter != '-') {
        plain.push(match letter.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            known if known.is_ascii() && SYMBOLS.contains(&(known as u8)) => known,
            _ => return None,
        });
    }
    (plain.len() == 16).then_some(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    // Crockford's base 32: 0 to 9 and A to Z without I, L, O and U; on reading, O is 0, I and L are 1.
    #[test]
    fn a_badge_code_is_read_as_it_was_meant() {
        let code = badge_code([0, 0, 0, 0, 0, 0, 0, 0, 0x04, 0x3F]);
        assert_eq!(code, "0000-0000-0000-011Z");
        assert_eq!(badge_code([0xFF; 10]), "ZZZZ-ZZZZ-ZZZZ-ZZZZ");
        for typed in ["0000-0000-0000-011Z", "oooo oooo oooo oiLz", "000000000000011z"] {
            assert_eq!(plain_code(typed).as_deref(), Some("000000000000011Z"), "{typed}");
        }
        for wrong in
            ["", "0000-0000-0000-011U", "0000-0000-0000-011", "0000-0000-0000-011ZZ", "0000-0000-0000-01\u{e9}Z"]
        {
            assert_eq!(plain_code(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn only_the_pin_itself_fits_its_hash() {
        let hash = slow_hash("270591", &[7; 16]).unwrap();
        assert!(hash.starts_with("$argon2id$") && !hash.contains("270591"), "{hash}");
        assert!(compare("270591", Some(&hash)));
        assert!(!compare("270592", Some(&hash)) && !compare("270591", None) && !compare("270591", Some("nothing")));
    }
}
