//! Who may come in, and what each role may call. What is not in the table is refused.

use crate::App;
use crate::chance::hex;
use crate::error::AppError;
use crate::writer::Shown;
use leadhand_domain::context::Actor;
use leadhand_facts::words::Role;
use leadhand_facts::{Instant, PersonId, PrincipalId, ShopId, TokenId};
use leadhand_store::{Holder as StoredHolder, Who};
use sha2::{Digest, Sha256};
use std::collections::HashSet;

/// Who a valid token stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Principal {
    /// The shop: it comes from the token and from nowhere else.
    pub shop: ShopId,
    /// The token, or the session of a person at a device.
    pub token: TokenId,
    /// For a session: the token of its device.
    pub device: Option<TokenId>,
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
        let person = for_person.or(self.person);
        Ok(Actor { principal: Some(self.principal), person, proved: self.person, role: self.role })
    }

    /// What has to count when a command's turn comes.
    pub(crate) fn shown(&self) -> Shown {
        match self.device {
            Some(device) => Shown { token: device, session: Some(self.token) },
            None => Shown { token: self.token, session: None },
        }
    }
}

/// An operator: makes shops and helps a lead who lost the token, and belongs to none of them.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Operator {
    /// Who acts, as the shops' journals name it.
    pub operator: PrincipalId,
}

/// Who a valid secret stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holder {
    /// Somebody or some device of a shop.
    Shop(Principal),
    /// An operator.
    Operator(Operator),
}

impl Holder {
    /// Who it is in a shop.
    pub fn in_shop(self) -> Option<Principal> {
        match self {
            Self::Shop(who) => Some(who),
            Self::Operator(_) => None,
        }
    }
}

/// What only an operator may call.
pub const OPERATOR: &[&str] = &[
    "/leadhand.v1.OperatorService/OpenShop",
    "/leadhand.v1.OperatorService/ListShops",
    "/leadhand.v1.OperatorService/ReplaceLeadToken",
];

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
    ("/leadhand.v1.ShopService/SetBay", LEAD),
    ("/leadhand.v1.ShopService/RenamePerson", LEAD),
    ("/leadhand.v1.ShopService/SetSkills", LEAD),
    ("/leadhand.v1.ShopService/SetYard", LEAD),
    ("/leadhand.v1.ShopService/ForgetPerson", LEAD),
    ("/leadhand.v1.ShopService/SetHours", LEAD),
    ("/leadhand.v1.ShopService/SetDay", LEAD),
    ("/leadhand.v1.ShopService/SetShift", LEAD),
    ("/leadhand.v1.ShopService/GetCalendar", ALL),
    ("/leadhand.v1.ShopService/IssueToken", LEAD),
    ("/leadhand.v1.ShopService/RevokeToken", LEAD),
    ("/leadhand.v1.ShopService/ListTokens", LEAD),
    ("/leadhand.v1.AccessService/RotateToken", ALL),
    ("/leadhand.v1.AccessService/SetBadge", LEAD),
    ("/leadhand.v1.AccessService/SetPin", LEAD),
    ("/leadhand.v1.AccessService/WithdrawProof", LEAD),
    ("/leadhand.v1.AccessService/SignIn", STAFF),
    ("/leadhand.v1.AccessService/SignOut", STAFF),
    ("/leadhand.v1.TemplateService/CheckTemplate", STAFF),
    ("/leadhand.v1.TemplateService/PublishTemplate", LEAD),
    ("/leadhand.v1.TemplateService/ListTemplates", ALL),
    ("/leadhand.v1.TemplateService/GetTemplate", ALL),
    ("/leadhand.v1.TemplateService/DraftTemplate", HANDS),
    ("/leadhand.v1.TemplateService/GetLessons", HANDS),
    ("/leadhand.v1.JobService/OpenJob", LEAD),
    ("/leadhand.v1.JobService/GetJob", ALL),
    ("/leadhand.v1.JobService/GetReadyList", ALL),
    ("/leadhand.v1.JobService/ListJobs", ALL),
    ("/leadhand.v1.JobService/PromiseJob", LEAD),
    ("/leadhand.v1.JobService/AssignJob", LEAD),
    ("/leadhand.v1.JobService/RollOutJob", HANDS),
    ("/leadhand.v1.JobService/CorrectStay", LEAD),
    ("/leadhand.v1.JobService/CompleteJob", LEAD),
    ("/leadhand.v1.JobService/CancelJob", LEAD),
    ("/leadhand.v1.JobService/ReopenJob", LEAD),
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
    ("/leadhand.v1.JobService/OwnBlocker", STAFF),
    ("/leadhand.v1.JobService/RecordTold", HANDS),
    ("/leadhand.v1.JobService/WithdrawTold", HANDS),
    ("/leadhand.v1.ConditionService/SetVehicleStates", HANDS),
    ("/leadhand.v1.ConditionService/RecordFluid", HANDS),
    ("/leadhand.v1.ConditionService/ReopenFluid", HANDS),
    ("/leadhand.v1.ConditionService/ProposeWay", HANDS),
    ("/leadhand.v1.ConditionService/DecideWay", LEAD),
    ("/leadhand.v1.ConditionService/CallLead", STAFF),
    ("/leadhand.v1.StripService/TakeOff", HANDS),
    ("/leadhand.v1.StripService/AddPosition", HANDS),
    ("/leadhand.v1.StripService/PutBack", HANDS),
    ("/leadhand.v1.StripService/TightenPositions", HANDS),
    ("/leadhand.v1.StripService/ConfirmPositions", HANDS),
    ("/leadhand.v1.StripService/ReopenPosition", HANDS),
    ("/leadhand.v1.StripService/SplitPosition", HANDS),
    ("/leadhand.v1.StripService/SoakPosition", HANDS),
    ("/leadhand.v1.StripService/RecordAttempt", HANDS),
    ("/leadhand.v1.StripService/GetStrip", ALL),
    ("/leadhand.v1.ReadingService/AddReading", HANDS),
    ("/leadhand.v1.ReadingService/RecordReading", HANDS),
    ("/leadhand.v1.ReadingService/DecideReading", LEAD),
    ("/leadhand.v1.ReadingService/GetReadings", ALL),
    ("/leadhand.v1.HandOverService/CheckHandOver", ALL),
    ("/leadhand.v1.HandOverService/GetHandOverSheet", ALL),
    ("/leadhand.v1.HandOverService/MakeRemark", HANDS),
    ("/leadhand.v1.HandOverService/WithdrawRemark", HANDS),
    ("/leadhand.v1.HandOverService/GetLooseEnds", ALL),
    ("/leadhand.v1.ToolService/AddTool", STORES),
    ("/leadhand.v1.ToolService/DescribeTool", STORES),
    ("/leadhand.v1.ToolService/RetireTool", STORES),
    ("/leadhand.v1.ToolService/LendTool", STAFF),
    ("/leadhand.v1.ToolService/ReturnTool", STAFF),
    ("/leadhand.v1.ToolService/ReopenLoan", STAFF),
    ("/leadhand.v1.ToolService/ListTools", ALL),
    ("/leadhand.v1.CustomerService/AddCustomer", LEAD),
    ("/leadhand.v1.CustomerService/ListCustomers", LEAD),
    ("/leadhand.v1.CustomerService/GetCustomer", LEAD),
    ("/leadhand.v1.CustomerService/EditCustomer", LEAD),
    ("/leadhand.v1.CustomerService/ForgetCustomer", LEAD),
    ("/leadhand.v1.CustomerService/EditVehicle", LEAD),
    ("/leadhand.v1.CustomerService/GetCustomerData", LEAD),
    ("/leadhand.v1.CustomerService/GetPersonData", STAFF),
    ("/leadhand.v1.StockService/AddItem", STORES),
    ("/leadhand.v1.StockService/AddPlace", STORES),
    ("/leadhand.v1.StockService/ImportStock", STORES),
    ("/leadhand.v1.StockService/CheckStockImport", STORES),
    ("/leadhand.v1.StockService/ReceiveStock", STORES),
    ("/leadhand.v1.StockService/ReserveFill", HANDS),
    ("/leadhand.v1.StockService/ReserveStock", STAFF),
    ("/leadhand.v1.StockService/IssueStock", STAFF),
    ("/leadhand.v1.StockService/ReturnStock", STAFF),
    ("/leadhand.v1.StockService/ReleaseStock", STAFF),
    ("/leadhand.v1.StockService/CountStock", STORES),
    ("/leadhand.v1.StockService/ScrapStock", STORES),
    ("/leadhand.v1.StockService/ListStock", ALL),
    ("/leadhand.v1.StockService/ListShortages", ALL),
    ("/leadhand.v1.StockService/GetStatement", ALL),
    ("/leadhand.v1.StockService/SetSupplier", STORES),
    ("/leadhand.v1.StockService/SetItemSupplier", STORES),
    ("/leadhand.v1.StockService/SetItemFluid", STORES),
    ("/leadhand.v1.StockService/ListSuppliers", ALL),
    ("/leadhand.v1.TimeService/ClockOn", HANDS),
    ("/leadhand.v1.TimeService/ClockOff", HANDS),
    ("/leadhand.v1.TimeService/RecordWork", HANDS),
    ("/leadhand.v1.TimeService/CorrectClocking", HANDS),
    ("/leadhand.v1.TimeService/WithdrawClocking", HANDS),
    ("/leadhand.v1.TimeService/AskCorrection", HANDS),
    ("/leadhand.v1.TimeService/DecideCorrection", HANDS),
    ("/leadhand.v1.TimeService/ListAskedCorrections", HANDS),
    ("/leadhand.v1.TimeService/ListClockings", HANDS),
    ("/leadhand.v1.TimeService/AuditTime", HANDS),
    ("/leadhand.v1.ReckonerService/ReckonConversion", ALL),
    ("/leadhand.v1.ReckonerService/ReckonThread", ALL),
    ("/leadhand.v1.ReckonerService/ReckonStrength", ALL),
    ("/leadhand.v1.ReckonerService/ReckonTorque", ALL),
    ("/leadhand.v1.ReckonerService/ReckonPreload", ALL),
    ("/leadhand.v1.ReckonerService/ReckonShortForm", ALL),
    ("/leadhand.v1.ReckonerService/ReckonAdapter", ALL),
    ("/leadhand.v1.ReckonerService/ReckonSpanner", ALL),
    ("/leadhand.v1.ReckonerService/ReckonTorqueThenAngle", ALL),
    ("/leadhand.v1.ReckonerService/ReckonSequence", ALL),
    ("/leadhand.v1.ReckonerService/ReckonAcrossFlats", ALL),
    ("/leadhand.v1.ReckonerService/ReckonThreadsOfHead", ALL),
    ("/leadhand.v1.ReckonerService/ReckonFreezingPoint", ALL),
    ("/leadhand.v1.ReckonerService/ReckonFill", ALL),
    ("/leadhand.v1.ReckonerService/ReckonDrainAndRefill", ALL),
    ("/leadhand.v1.ReckonerService/ReckonSwap", ALL),
    ("/leadhand.v1.ReckonerService/ReckonExpansion", ALL),
    ("/leadhand.v1.ReckonerService/ReckonPacks", ALL),
    ("/leadhand.v1.ReckonerService/ReckonCompression", ALL),
    ("/leadhand.v1.ReckonerService/ReckonLeakDown", ALL),
    ("/leadhand.v1.ReckonerService/ReckonFlatness", ALL),
    ("/leadhand.v1.ReckonerService/ReckonSkim", ALL),
    ("/leadhand.v1.ReckonerService/ReckonCompressionChange", ALL),
    ("/leadhand.v1.ReckonerService/ReckonLift", ALL),
    ("/leadhand.v1.ReckonerService/ReckonStar", ALL),
    ("/leadhand.v1.ReckonerService/ReckonRecheck", ALL),
    ("/leadhand.v1.ReckonerService/ReckonRunOut", ALL),
    ("/leadhand.v1.ReckonerService/ReckonPert", ALL),
    ("/leadhand.v1.ReckonerService/ReckonDurations", ALL),
    ("/leadhand.v1.ReckonerService/ReckonReorderPoint", ALL),
    ("/leadhand.v1.ReckonerService/ReckonOrderQuantity", ALL),
    ("/leadhand.v1.ReckonerService/ReckonEarnedValue", ALL),
    ("/leadhand.v1.ReckonerService/ReckonBladeFuse", ALL),
    ("/leadhand.v1.ReckonerService/ReckonRoundedHead", ALL),
    ("/leadhand.v1.ReckonerService/ReckonBatteryLeads", ALL),
    ("/leadhand.v1.ReckonerService/ReckonTightenings", ALL),
    ("/leadhand.v1.ReckonerService/ReckonReadings", ALL),
    ("/leadhand.v1.PlanService/ProposePlan", LEAD),
    ("/leadhand.v1.PlanService/AcceptPlan", LEAD),
    ("/leadhand.v1.PlanService/GetPlan", STAFF),
    ("/leadhand.v1.PlanService/ExplainJob", LEAD),
    ("/leadhand.v1.PlanService/ForecastJob", STAFF),
    ("/leadhand.v1.PlanService/PinStage", LEAD),
    ("/leadhand.v1.PlanService/UnpinStage", LEAD),
    ("/leadhand.v1.PlanService/OpenOvertime", LEAD),
    ("/leadhand.v1.PlanService/CloseOvertime", LEAD),
    ("/leadhand.v1.BoardService/GetBoard", ALL),
    ("/leadhand.v1.BoardService/WatchBoard", ALL),
    ("/leadhand.v1.JournalService/ReadJournal", LEAD),
    ("/leadhand.v1.JournalService/FollowJournal", LEAD),
];

/// Whether whoever this is may call this RPC.
pub fn permit(path: &str, who: &Holder) -> Result<(), AppError> {
    let denied = |role: String, needed: String| Err(AppError::Denied { role, needed });
    let for_operators = OPERATOR.contains(&path);
    let allowed = PERMISSIONS.iter().find(|(known, _)| *known == path).map_or(&[][..], |(_, roles)| roles);
    match who {
        Holder::Operator(_) if for_operators => Ok(()),
        Holder::Shop(who) if allowed.contains(&who.role) => Ok(()),
        Holder::Operator(_) => denied("operator".to_owned(), "a token of the shop".to_owned()),
        Holder::Shop(who) => {
            let needed: Vec<&str> = allowed.iter().map(|role| role.word()).collect();
            let nobody = if for_operators { "an operator's" } else { "a role that nobody has" };
            denied(who.role.to_string(), if needed.is_empty() { nobody.to_owned() } else { needed.join(" or ") })
        }
    }
}

/// The hash under which a token's secret is known.
pub fn token_hash(secret: &str) -> String {
    hex(&Sha256::digest(secret.as_bytes()))
}

/// A new secret: 256 random bits in hexadecimal behind a mark by which a scanner for leaked
/// secrets may know it, and the prefix under which it may be shown.
pub(crate) fn new_secret(entropy: &dyn crate::Entropy, mark: Mark) -> (String, String) {
    let mut bytes = [0; 32];
    entropy.fill(&mut bytes);
    let secret = format!("{}{}", mark.0, hex(&bytes));
    let prefix = secret.chars().take(PREFIX).collect();
    (secret, prefix)
}

/// How a kind of secret begins.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Mark(&'static str);

/// A token's.
pub(crate) const TOKEN: Mark = Mark("lhd_");
/// A session's.
pub(crate) const SESSION: Mark = Mark("lhs_");
/// An operator's.
pub(crate) const OPERATOR_TOKEN: Mark = Mark("lho_");

/// Characters of a secret that may be shown and logged.
pub const PREFIX: usize = 10;

impl App {
    /// Who a secret stands for, by the database's present word: a token revoked a moment ago is
    /// refused. Whoever asks says so in the log, and how often is too often.
    pub async fn authenticate(&self, secret: &str) -> Result<Holder, AppError> {
        counting(self.store.holder(&token_hash(secret)).await?)
    }

    /// Which of these hashes of secrets lead to nobody any more, as [`App::authenticate`] would say of each; one question
    /// for all of them.
    pub async fn over(&self, hashes: &[String]) -> Result<HashSet<String>, AppError> {
        let holders = self.store.holders(hashes).await?;
        Ok(hashes.iter().filter(|hash| counting(holders.get(*hash).cloned()).is_err()).cloned().collect())
    }
}

/// Who is let in by a secret of this holder.
fn counting(found: Option<StoredHolder>) -> Result<Holder, AppError> {
    let found = found.ok_or(AppError::Unauthenticated("unknown"))?;
    if found.over {
        return Err(AppError::Unauthenticated("revoked"));
    }
    if found.expired {
        return Err(AppError::Unauthenticated("expired"));
    }
    Ok(match found.who {
        Who::Operator(operator) => Holder::Operator(Operator { operator }),
        Who::Shop { shop, token, device, principal, person, role } => {
            Holder::Shop(Principal { shop, token, device, principal, person, role, expires_at: found.expires_at })
        }
    })
}
