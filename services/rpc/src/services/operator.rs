//! For operators, who stand outside of every shop.

use super::{serve, unfit};
use crate::call::{OperatorCall, request_id};
use crate::convert::time::stamp;
use crate::convert::{fields, notice::receipt, page};
use leadhand_app::{App, AppError};
use leadhand_domain::answer::Made;
use leadhand_facts::ShopId;
use leadhand_proto::v1;
use leadhand_proto::v1::operator_service_server::OperatorService;

/// The service.
pub struct Operator {
    pub(crate) app: App,
}

serve! { OperatorService for Operator as OperatorCall {
    open_shop(OpenShopRequest) -> OpenShopResponse;
    list_shops(ListShopsRequest) -> ListShopsResponse;
    replace_lead_token(ReplaceLeadTokenRequest) -> ReplaceLeadTokenResponse;
} also {} }

async fn open_shop(call: &OperatorCall, asked: v1::OpenShopRequest) -> Result<v1::OpenShopResponse, AppError> {
    let request = request_id(asked.write)?;
    let opened = call.app.operate_open(&call.who, request, &asked.name, &asked.zone, &asked.lead).await?;
    Ok(v1::OpenShopResponse {
        shop: opened.shop.to_string(),
        lead: opened.lead.to_string(),
        secret: opened.secret.unwrap_or_default(),
    })
}

async fn list_shops(call: &OperatorCall, asked: v1::ListShopsRequest) -> Result<v1::ListShopsResponse, AppError> {
    let after = page::read("shops", &asked.page_token, page::number)?.unwrap_or_default();
    let (after, size) = (usize::try_from(after).unwrap_or(usize::MAX), page::size(asked.page_size)?);
    let all = call.app.opened_shops().await?;
    let more = all.len() > after.saturating_add(size);
    let shops = all.iter().skip(after).take(size).map(|shop| v1::OperatedShop {
        shop: shop.shop.to_string(),
        opened_at: stamp(shop.opened_at),
        number: shop.number,
    });
    let next_page_token = page::token("shops", more.then_some(after + size));
    Ok(v1::ListShopsResponse { shops: shops.collect(), next_page_token })
}

async fn replace_lead_token(
    call: &OperatorCall,
    asked: v1::ReplaceLeadTokenRequest,
) -> Result<v1::ReplaceLeadTokenResponse, AppError> {
    let request = request_id(asked.write)?;
    let shop = ShopId(fields::id("shop", &asked.shop)?);
    let person = fields::named("person", &asked.person)?;
    let replaced = call.app.replace_lead_token(&call.who, request, shop, person, asked.revoke_others).await?;
    let (outcome, person, secret) = replaced;
    let Made::Token(token) = outcome.answer.made else { return Err(unfit("a token", &outcome)) };
    Ok(v1::ReplaceLeadTokenResponse {
        receipt: receipt(&outcome),
        token: token.to_string(),
        person: person.to_string(),
        secret: secret.unwrap_or_default(),
    })
}
