//! Who may come in, and what each role may call. What is not in the table is refused.

use crate::App;
use crate::chance::hex;
use crate::error::AppError;
use leadhand_domain::context::Actor;
use leadhand_facts::words::Role;
use leadhand_facts::{Instant, PersonId, PrincipalId, ShopId, TokenId};
use sha2::{Digest, Sha256};

/// Who a valid token stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Principal {
    /// The shop: it comes from the token and from nowhere else.
    pub shop: ShopId,
    /// The token.
    pub token: TokenId,
    /// Who it stands for.
    pub principal: PrincipalId,
    /// The person, when it is a person's.
    pub person: Option<PersonId>,
    /// What it allows.
    pub role: Role,
    /// When it ends.
    pub expires_at: Option<Instant>,
}

impl Principal {
    /// The actor of a command; only a lead records for somebody else.
    pub(crate) fn actor(&self, for_person: Option<PersonId>) -> Result<Actor, AppError> {
        if for_person.is_some() && for_person != self.person && self.role != Role::Lead {
            return Err(leadhand_domain::refusal::Refusal::LeadOnly { what: "record for somebody else" }.into());
        }
        Ok(Actor { principal: Some(self.principal), person: for_person.or(self.person), role: self.role })
    }
}

const ALL: &[Role] = &[Role::Lead, Role::Technician, Role::Parts, Role::Viewer];
const LEAD: &[Role] = &[Role::Lead];
const HANDS: &[Role] = &[Role::Lead, Role::Technician];
const STAFF: &[Role] = &[Role::Lead, Role::Technician, Role::Parts];
const STORES: &[Role] = &[Role::Lead, Role::Parts];

/// Which roles may call which RPC, by its full path. A test holds it against the contract.
pub const PERMISSIONS: &[(&str, &[Role])] = &[
    ("/leadhand.v1.ShopService/GetShop", ALL),
    ("/leadhand.v1.ShopService/WhoAmI", ALL),
    ("/leadhand.v1.ShopService/AddBay", LEAD),
    ("/leadhand.v1.ShopService/AddPerson", LEAD),
    ("/leadhand.v1.ShopService/SetSkills", LEAD),
    ("/leadhand.v1.ShopService/ForgetPerson", LEAD),
    ("/leadhand.v1.ShopService/SetHours", LEAD),
    ("/leadhand.v1.ShopService/SetDay", LEAD),
    ("/leadhand.v1.ShopService/SetShift", LEAD),
    ("/leadhand.v1.ShopService/GetCalendar", ALL),
    ("/leadhand.v1.ShopService/IssueToken", LEAD),
    ("/leadhand.v1.ShopService/RevokeToken", LEAD),
    ("/leadhand.v1.ShopService/ListTokens", LEAD),
    ("/leadhand.v1.TemplateService/CheckTemplate", STAFF),
    ("/leadhand.v1.TemplateService/PublishTemplate", LEAD),
    ("/leadhand.v1.TemplateService/ListTemplates", ALL),
    ("/leadhand.v1.TemplateService/GetTemplate", ALL),
    ("/leadhand.v1.TemplateService/DraftTemplate", HANDS),
    ("/leadhand.v1.JobService/OpenJob", LEAD),
    ("/leadhand.v1.JobService/GetJob", ALL),
    ("/leadhand.v1.JobService/ListJobs", ALL),
    ("/leadhand.v1.JobService/PromiseJob", LEAD),
    ("/leadhand.v1.JobService/AssignJob", LEAD),
    ("/leadhand.v1.JobService/RollOutJob", HANDS),
    ("/leadhand.v1.JobService/CorrectStay", LEAD),
    ("/leadhand.v1.JobService/CompleteJob", LEAD),
    ("/leadhand.v1.JobService/CancelJob", LEAD),
    ("/leadhand.v1.JobService/AddStage", HANDS),
    ("/leadhand.v1.JobService/AddStep", HANDS),
    ("/leadhand.v1.JobService/StartStage", HANDS),
    ("/leadhand.v1.JobService/FinishStage", HANDS),
    ("/leadhand.v1.JobService/SkipStage", HANDS),
    ("/leadhand.v1.JobService/TickSteps", HANDS),
    ("/leadhand.v1.JobService/SkipStep", HANDS),
    ("/leadhand.v1.JobService/ReopenStep", HANDS),
    ("/leadhand.v1.JobService/ReopenStage", HANDS),
    ("/leadhand.v1.JobService/RaiseBlocker", STAFF),
    ("/leadhand.v1.JobService/ClearBlocker", STAFF),
    ("/leadhand.v1.StockService/AddItem", STORES),
    ("/leadhand.v1.StockService/AddPlace", STORES),
    ("/leadhand.v1.StockService/ImportStock", STORES),
    ("/leadhand.v1.StockService/CheckStockImport", STORES),
    ("/leadhand.v1.StockService/ReceiveStock", STORES),
    ("/leadhand.v1.StockService/ReserveStock", STAFF),
    ("/leadhand.v1.StockService/IssueStock", STAFF),
    ("/leadhand.v1.StockService/ReturnStock", STAFF),
    ("/leadhand.v1.StockService/ReleaseStock", STAFF),
    ("/leadhand.v1.StockService/CountStock", STORES),
    ("/leadhand.v1.StockService/ScrapStock", STORES),
    ("/leadhand.v1.StockService/ListStock", ALL),
    ("/leadhand.v1.StockService/ListShortages", ALL),
    ("/leadhand.v1.StockService/GetStatement", ALL),
    ("/leadhand.v1.TimeService/ClockOn", HANDS),
    ("/leadhand.v1.TimeService/ClockOff", HANDS),
    ("/leadhand.v1.TimeService/RecordWork", HANDS),
    ("/leadhand.v1.TimeService/CorrectClocking", HANDS),
    ("/leadhand.v1.TimeService/WithdrawClocking", HANDS),
    ("/leadhand.v1.TimeService/ListClockings", HANDS),
    ("/leadhand.v1.TimeService/AuditTime", HANDS),
    ("/leadhand.v1.BoardService/GetBoard", ALL),
    ("/leadhand.v1.BoardService/WatchBoard", ALL),
    ("/leadhand.v1.JournalService/ReadJournal", LEAD),
    ("/leadhand.v1.JournalService/FollowJournal", LEAD),
];

/// Whether this role may call this RPC.
pub fn permit(path: &str, role: Role) -> Result<(), AppError> {
    let allowed = PERMISSIONS.iter().find(|(known, _)| *known == path).map_or(&[][..], |(_, roles)| roles);
    if allowed.contains(&role) {
        return Ok(());
    }
    let needed: Vec<&str> = allowed.iter().map(|role| role.word()).collect();
    let needed = if needed.is_empty() { "a role that nobody has".to_owned() } else { needed.join(" or ") };
    Err(AppError::Denied { role: role.to_string(), needed })
}

/// The hash under which a token's secret is known.
pub fn token_hash(secret: &str) -> String {
    hex(&Sha256::digest(secret.as_bytes()))
}

/// A new secret: 256 random bits in hexadecimal behind a mark by which a scanner for leaked
/// secrets may know it, and the prefix under which it may be shown.
pub(crate) fn new_secret(entropy: &dyn crate::Entropy) -> (String, String) {
    let mut bytes = [0; 32];
    entropy.fill(&mut bytes);
    let secret = format!("lhd_{}", hex(&bytes));
    let prefix = secret.chars().take(PREFIX).collect();
    (secret, prefix)
}

/// Characters of a secret that may be shown and logged.
pub const PREFIX: usize = 10;

impl App {
    /// Who a secret stands for, by the database's present word: a token revoked a moment ago is
    /// refused.
    pub async fn authenticate(&self, secret: &str) -> Result<Principal, AppError> {
        let found = self.store.token(&token_hash(secret)).await?;
        let Some(token) = found.filter(|token| token.revoked_at.is_none()) else {
            let prefix: String = secret.chars().take(PREFIX).collect();
            tracing::warn!(prefix, "refused an unknown or revoked token");
            return Err(AppError::Unauthenticated);
        };
        if token.expired {
            tracing::warn!(token = %token.token, "refused an expired token");
            return Err(AppError::Unauthenticated);
        }
        Ok(Principal {
            shop: token.shop,
            token: token.token,
            principal: token.principal,
            person: token.person,
            role: token.role,
            expires_at: token.expires_at,
        })
    }
}
